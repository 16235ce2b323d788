package capture

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/devices"
)

// Log keys.
const (
	keyGauge = "gauge"
	keyPort  = "port"
	keyStep  = "step"
	keyN     = "n"
	keyKind  = "kind"
)

// heard is what a line tells the bench loop.
type heard struct {
	gauge  string
	at     time.Time
	what   hearing
	sample devices.Sample // frames copied
	port   string
	device string
	err    error
}

type hearing int

const (
	lineUp hearing = iota
	lineDown
	lineSample
	lineFault // a frame that could not be read
)

// line owns one port and the gauges on it: it opens it, reads, decodes, and opens it again after a fault. One goroutine
// runs it.
type line struct {
	gauges  *members
	profile devices.Profile
	open    Opener
	resolve func(bench.Gauge) (string, error) // where the gauge is plugged in now
	now     func() time.Time
	tell    func(heard) // blocks until the loop has room
	log     zerolog.Logger
	backoff func(failures int) time.Duration
}

// Backoff waits 0.5 s after the first failure, doubling to 5 s.
func Backoff(failures int) time.Duration {
	d := 500 * time.Millisecond << min(failures, 4)
	return min(d, 5*time.Second)
}

// run keeps the line until ctx ends. A fault is told once, when it begins and when it is another one.
func (l *line) run(ctx context.Context) {
	failures, said := 0, ""
	for ctx.Err() == nil {
		wasUp, err := l.session(ctx)
		if ctx.Err() != nil {
			return
		}
		if wasUp {
			failures, said = 0, ""
		}
		if err != nil && err.Error() != said {
			said = err.Error()
			l.log.Warn().Str(keyGauge, l.gauges.first().Name).Err(err).Msg("line lost; trying again")
			l.spread(l.gauges.all(heard{at: l.now(), what: lineDown, err: err}))
		}
		select {
		case <-ctx.Done():
		case <-time.After(l.backoff(failures)):
		}
		failures++
	}
}

// session opens the port once and reads until something breaks.
func (l *line) session(ctx context.Context) (wasUp bool, err error) {
	path, err := l.resolve(l.gauges.first())
	if err != nil {
		return false, err
	}
	port, device, err := l.open(path, l.profile.Line)
	if err != nil {
		return false, err
	}
	defer port.Close()
	dec, err := l.profile.NewDecoder()
	if err != nil {
		return false, fmt.Errorf("profile %s: %w", l.profile.Name, err)
	}
	l.log.Info().Str(keyGauge, l.gauges.first().Name).Str(keyPort, path).Msg("line open")
	l.spread(l.gauges.all(heard{at: l.now(), what: lineUp, port: path, device: device}))
	return true, l.read(ctx, path, port, dec)
}

// timeouter is a port whose reads can be made to wait for less.
type timeouter interface {
	SetReadTimeout(time.Duration) error
}

var _ timeouter = (*lockedPort)(nil)

// errGone stands for a port that vanished: the serial package tells an unplugged port and our own closing alike.
var errGone = errors.New("unplugged or switched off")

func (l *line) read(ctx context.Context, path string, port Port, dec devices.Decoder) error {
	buf := make([]byte, 4096)
	nextPoll := l.now()
	if t, ok := port.(timeouter); ok && l.profile.Poll.Interval > 0 {
		// A read that waits longer than the interval would be the interval: nothing comes before it is asked for.
		if err := t.SetReadTimeout(min(readTimeout, l.profile.Poll.Interval)); err != nil {
			return l.gone(path, err)
		}
	}
	for ctx.Err() == nil {
		if l.profile.Poll.Interval > 0 && !l.now().Before(nextPoll) {
			nextPoll = l.now().Add(l.profile.Poll.Interval)
			if _, err := port.Write(l.profile.Poll.Request); err != nil {
				return l.gone(path, err)
			}
		}
		n, err := port.Read(buf)
		if err != nil {
			return l.gone(path, err)
		}
		if n == 0 {
			// A timeout; or an end of file that some drivers give for ever after an unplug.
			if _, err := os.Lstat(path); err != nil {
				return l.gone(path, errGone)
			}
			dec.Idle(l.hear)
			continue
		}
		dec.Feed(buf[:n], l.hear)
	}
	return nil
}

// hear passes on what the decoder found; the decoder reuses its buffers, so they are copied.
func (l *line) hear(s devices.Sample, err error) {
	if err != nil {
		l.spread(l.gauges.all(heard{at: l.now(), what: lineFault, err: err}))
		return
	}
	l.spread(l.gauges.addressed(heard{at: l.now(), what: lineSample, sample: copied(s)}))
}

func (l *line) spread(all []heard) {
	for _, h := range all {
		l.tell(h)
	}
}

func (l *line) gone(path string, err error) error {
	return fmt.Errorf("gauge %q: port %s: %w (%w): plug it in again, it is found by itself", l.gauges.first().Name, path, errGone, err)
}
