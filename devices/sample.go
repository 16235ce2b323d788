// Package devices says how gauges speak: a profile describes a kind of gauge, a decoder turns its bytes into values.
// Everything here is pure: bytes in, samples out, no port, no clock. A decoder refuses what does not match its profile
// whole: it gives an error with the frame and goes on with the next one, and never makes a reading up. Four wire
// families are known: lines of text, described bit fields, Modbus RTU (MODBUS over Serial Line 1.02), and the bench
// line for home-made bridges. Profiles are strict TOML files, named by what they send.
package devices

import (
	"fmt"
	"strings"

	"thoud/calc/quantity"
)

// Status is what a gauge says about itself beside the value, as a set of bits; 0 is "nothing said".
type Status uint8

// The states a profile can name. A sample that is Overload or Fault never carries a value.
const (
	Stable     Status = 1 << iota // the value stands still
	Unstable                      // the value is still moving
	Overload                      // beyond the gauge's range
	LowBattery                    // the value holds, the battery does not much longer
	Fault                         // the gauge reports an error of its own
	Reversed                      // the sense of counting is turned round
)

var statusNames = []struct {
	bit  Status
	name string
}{
	{Stable, "stable"}, {Unstable, "unstable"}, {Overload, "overload"},
	{LowBattery, "low-battery"}, {Fault, "fault"}, {Reversed, "reversed"},
}

// String lists the states joined by "+", "" for none.
func (s Status) String() string {
	var names []string
	for _, n := range statusNames {
		if s&n.bit != 0 {
			names = append(names, n.name)
		}
	}
	return strings.Join(names, "+")
}

// ParseStatus reads what String prints: one or more state names joined by "+".
func ParseStatus(text string) (Status, error) {
	var s Status
next:
	for _, part := range strings.Split(text, "+") {
		for _, n := range statusNames {
			if n.name == part {
				s |= n.bit
				continue next
			}
		}
		return 0, fmt.Errorf("%q is not a state of a gauge: want stable, unstable, overload, low-battery, fault, reversed or several joined by +", part)
	}
	return s, nil
}

// Sample is one thing a gauge said: a value, a status without a value, a key event, or that it is gone.
type Sample struct {
	Channel string         // "" where the gauge has one channel
	Value   quantity.Value // exact as sent; not Valid for a key event, an overload or a fault
	Status  Status
	Key     string // the key or pedal that was pressed, else ""
	// Unnamed is set where the frame does not name the unit: it is the profile's, which may not be what the display shows.
	Unnamed bool
	// Unconfirmed is set for raw bits of a bridge until a second frame agrees: such frames have no check sum, so the value
	// may be shown, and must not be taken.
	Unconfirmed bool
	// Gone is set where a bridge says that the gauge on Channel is gone; without a channel, that the bridge has started and
	// knows nothing of what was attached before. There is no value then.
	Gone  bool
	Frame []byte // the bytes of the whole frame, verbatim; valid only during the callback
	Text  []byte // the part of the frame that says this value, for people; valid only during the callback
}

// Decoder turns a stream of bytes into samples. One decoder serves one port; it is not safe for concurrent use. A good
// frame costs no allocation.
type Decoder interface {
	// Feed takes the next bytes as they came, in pieces of any size, and calls emit for each sample, or with a
	// *FrameError for bytes that are no good frame.
	Feed(p []byte, emit func(Sample, error))
	// Idle tells the decoder that the line has been silent for longer than a gauge pauses within a frame (a read
	// timeout of 200 ms or more): half a frame is given up with a *FrameError, and the next byte begins a frame.
	Idle(emit func(Sample, error))
	// Reset drops half a frame after a reconnect. Where the next bytes may begin in the middle of a frame and the
	// profile's frames cannot show it, the first frame is refused with a *FrameError unless Idle was called before.
	Reset()
}

// FrameError is a frame that could not be taken for a reading. The caller puts the name of the gauge before it.
type FrameError struct {
	Frame []byte // the bytes, a copy
	Why   string // what does not fit, with the text, and what to do
	// Noise says that the frame was spoilt before it was sent, as happens now and then where clock and data are read: it is
	// to be counted rather than told each time. Channel is whose frame it was.
	Noise   bool
	Channel string
}

// maxShown is how many bytes of a refused frame an error shows.
const maxShown = 64

func (e *FrameError) Error() string {
	shown := e.Frame
	more := ""
	if len(shown) > maxShown {
		more = fmt.Sprintf(" and %d bytes more", len(shown)-maxShown)
		shown = shown[:maxShown]
	}
	return fmt.Sprintf("frame %s%s: %s", quoteBytes(shown), more, e.Why)
}

func frameError(frame []byte, format string, args ...any) *FrameError {
	return &FrameError{Frame: append([]byte(nil), frame...), Why: fmt.Sprintf(format, args...)}
}

// quoteBytes quotes bytes one by one, so that a byte over 0x7F shows as itself and not as a broken letter.
func quoteBytes(b []byte) string {
	var s strings.Builder
	s.WriteByte('"')
	for _, c := range b {
		switch {
		case c == '\r':
			s.WriteString(`\r`)
		case c == '\n':
			s.WriteString(`\n`)
		case c == '\t':
			s.WriteString(`\t`)
		case c == '"' || c == '\\':
			s.WriteByte('\\')
			s.WriteByte(c)
		case c < ' ' || c > '~':
			fmt.Fprintf(&s, `\x%02x`, c)
		default:
			s.WriteByte(c)
		}
	}
	s.WriteByte('"')
	return s.String()
}
