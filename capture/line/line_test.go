package line

import (
	"errors"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/devices"
)

// slowPort notes how long its reads may wait, and hangs up.
type slowPort struct{ waits time.Duration }

func (p *slowPort) Read([]byte) (int, error)             { return 0, errors.New("hung up") }
func (p *slowPort) Write(b []byte) (int, error)          { return len(b), nil }
func (p *slowPort) Close() error                         { return nil }
func (p *slowPort) SetReadTimeout(d time.Duration) error { p.waits = d; return nil }

func TestAPolledGaugeIsAskedAsOftenAsItsProfileSays(t *testing.T) {
	for _, c := range []struct{ interval, want time.Duration }{
		{50 * time.Millisecond, 50 * time.Millisecond}, {2 * time.Second, ReadTimeout},
	} {
		var p devices.Profile
		all, err := devices.Profiles(nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range all {
			if x.Name == "modbus-angle-int32" {
				p = x
			}
		}
		p.Poll.Interval = c.interval
		dec, err := p.NewDecoder()
		if err != nil {
			t.Fatal(err)
		}
		port := &slowPort{}
		ln := &Line{Profile: p, Now: time.Now, Log: zerolog.Nop(), OnEvent: func(Event) {}}
		ln.Add(bench.Gauge{Name: "dial-1"})
		if err := ln.read(t.Context(), "/dev/x", port, dec); err == nil {
			t.Error("a port that hung up is no error")
		}
		if port.waits != c.want {
			t.Errorf("asked every %s, a read waits %s, want %s", c.interval, port.waits, c.want)
		}
	}
}
