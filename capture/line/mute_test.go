package line

import (
	"context"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/devices"
)

// chatter is a port that says the same ten times a second.
type chatter struct{ says string }

func (c chatter) Read(b []byte) (int, error) {
	time.Sleep(100 * time.Millisecond)
	return copy(b, c.says), nil
}
func (chatter) Write(b []byte) (int, error) { return len(b), nil }
func (chatter) Close() error                { return nil }

// A profile that reads no value from what a gauge sends says so after five seconds, and not where it does read one.
func TestALineOfTheWrongProfileSaysSo(t *testing.T) {
	all, err := devices.Profiles(nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		says string
		want bool
	}{{"ST 1.234\r", true}, {"+1.234\r", false}} {
		synctest.Test(t, func(t *testing.T) {
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			var said string
			l := &Line{Now: time.Now, Log: zerolog.Nop(), Backoff: Backoff,
				Open:    func(string, devices.Line) (Port, string, error) { return chatter{c.says}, "device", nil },
				Resolve: func(bench.Gauge) (string, error) { return t.TempDir(), nil },
				OnEvent: func(ev Event) {
					if ev.Kind == Fault {
						said = ev.Err.Error()
					}
				}}
			for _, p := range all {
				if p.Name == "text-signed-decimal-cr" {
					l.Profile = p
				}
			}
			l.Add(bench.Gauge{Name: "dial-1"})
			ended := make(chan struct{})
			go func() { defer close(ended); l.Run(ctx) }()
			time.Sleep(7 * time.Second)
			cancel()
			<-ended
			const words = ` s bytes come and the profile "text-signed-decimal-cr" reads no value from them, as "ST 1.234`
			if (strings.HasPrefix(said, `gauge "dial-1": for `) && strings.Contains(said, words)) != c.want {
				t.Errorf("%q: said %q", c.says, said)
			}
		})
	}
}
