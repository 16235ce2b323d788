package line

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

// Log keys of a line.
const (
	KeyGauge = "gauge"
	KeyPort  = "port"
)

// Event is what a line tells about one of its gauges.
type Event struct {
	Gauge  string
	At     time.Time
	Kind   EventKind
	Sample devices.Sample // of a Sample event; its frame and text are copies
	Port   string         // of an Up event: where the gauge is plugged in
	Device string         // of an Up event: the same text means the same plugging-in
	Err    error          // of a Down or Fault event, in words for the builder
}

// EventKind says what an Event is about.
type EventKind int

// The kinds of events.
const (
	Up          EventKind = iota // the port was opened
	Down                         // the port is gone, or cannot be opened
	Sample                       // a value, a status without a value, or a key
	Unconfirmed                  // a value that may be shown and not taken: a second frame has not confirmed it yet
	Fault                        // a frame that could not be read, or cannot be what the gauge sent
	Noise                        // a frame that was spoilt before it was sent: to be counted
)

// Line owns one port and the gauges on it: it opens it, reads, decodes, and opens it again after a fault. Set the
// exported fields, add the gauges, then let one goroutine Run it.
type Line struct {
	Profile devices.Profile
	Open    Opener
	Resolve func(bench.Gauge) (string, error) // where the gauge is plugged in now
	Now     func() time.Time
	OnEvent func(Event) // blocks until whoever listens has room
	Log     zerolog.Logger
	Backoff func(failures int) time.Duration

	gauges members
	mute   muteness
}

// Backoff waits 0.5 s after the first failure, doubling to 5 s.
func Backoff(failures int) time.Duration {
	d := 500 * time.Millisecond << min(failures, 4)
	return min(d, 5*time.Second)
}

// Add puts a gauge on the line. Where the port is open already the gauge is told so with an Up event.
func (l *Line) Add(g bench.Gauge) { l.gauges.add(g, l.Profile, l.OnEvent) }

// Run keeps the line until ctx ends. A fault is told once, when it begins and when it is another one.
func (l *Line) Run(ctx context.Context) {
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
			l.Log.Warn().Str(KeyGauge, l.gauges.first().Name).Err(err).Msg("line lost; trying again")
			l.spread(l.gauges.down(Event{At: l.Now(), Kind: Down, Err: err}))
		}
		select {
		case <-ctx.Done():
		case <-time.After(l.Backoff(failures)):
		}
		failures++
	}
}

// session opens the port once and reads until something breaks.
func (l *Line) session(ctx context.Context) (wasUp bool, err error) {
	path, err := l.Resolve(l.gauges.first())
	if err != nil {
		return false, err
	}
	port, device, err := l.Open(path, l.Profile.Line)
	if err != nil {
		return false, err
	}
	defer port.Close()
	dec, err := l.Profile.NewDecoder()
	if err != nil {
		return false, fmt.Errorf("profile %s: %w", l.Profile.Name, err)
	}
	l.Log.Info().Str(KeyGauge, l.gauges.first().Name).Str(KeyPort, path).Msg("line open")
	l.mute.valued()
	l.spread(l.gauges.opened(Event{At: l.Now(), Kind: Up, Port: path, Device: device}))
	return true, l.read(ctx, path, port, dec)
}

// timeouter is a port whose reads can be made to wait for less.
type timeouter interface {
	SetReadTimeout(time.Duration) error
}

var _ timeouter = (*lockedPort)(nil)

// ErrGone stands for a port that vanished: the serial package tells an unplugged port and our own closing alike.
var ErrGone = errors.New("unplugged or switched off")

func (l *Line) read(ctx context.Context, path string, port Port, dec devices.Decoder) error {
	buf := make([]byte, 4096)
	nextPoll := l.Now()
	if t, ok := port.(timeouter); ok && l.Profile.Poll.Interval > 0 {
		// A read that waits longer than the interval would be the interval: nothing comes before it is asked for.
		if err := t.SetReadTimeout(min(ReadTimeout, l.Profile.Poll.Interval)); err != nil {
			return l.gone(path, err)
		}
	}
	for ctx.Err() == nil {
		if l.Profile.Poll.Interval > 0 && !l.Now().Before(nextPoll) {
			nextPoll = l.Now().Add(l.Profile.Poll.Interval)
			if _, err := port.Write(l.Profile.Poll.Request); err != nil {
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
				return l.gone(path, ErrGone)
			}
			dec.Idle(l.decoded)
			continue
		}
		l.mute.came(l.Now(), buf[:n])
		dec.Feed(buf[:n], l.decoded)
		if err := l.mute.why(l.Profile.Name, nil); err != nil {
			l.spread(l.gauges.fault(Event{At: l.Now(), Kind: Fault, Err: err}))
		}
	}
	return nil
}

// decoded passes on what the decoder found; the decoder reuses its buffers, so they are copied.
func (l *Line) decoded(s devices.Sample, err error) {
	if err != nil {
		if mute := l.mute.why(l.Profile.Name, err); mute != nil {
			err = mute
		}
		l.spread(l.gauges.fault(Event{At: l.Now(), Kind: Fault, Err: err}))
		return
	}
	l.mute.valued()
	l.spread(l.gauges.addressed(Event{At: l.Now(), Kind: Sample, Sample: copied(s)}))
}

func (l *Line) spread(all []Event) {
	for _, ev := range all {
		l.OnEvent(ev)
	}
}

func (l *Line) gone(path string, err error) error {
	return fmt.Errorf("gauge %q: port %s: %w (%w): plug it in again, it is found by itself", l.gauges.first().Name, path, ErrGone, err)
}
