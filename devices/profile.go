package devices

import (
	"bytes"
	"errors"
	"fmt"
	"time"

	"thoud/calc/quantity"
)

// Profile is how one kind of gauge speaks. Exactly the part of its family is set.
type Profile struct {
	Name       string         // what it sends, [a-z0-9-]: "text-signed-decimal-cr"
	Title      string         // one line for people
	Family     string         // see Families
	Role       string         // the role suggested for the gauge: see Roles
	Line       Line           // zero: 9600 8N1
	Poll       Poll           // zero: the gauge pushes by itself
	Resolution quantity.Value // one count of the gauge; not Valid where only the frames tell
	Text       *Text
	Bits       *Bits
	Modbus     *Modbus
	Bench      *Bench
}

// Line is the serial line's settings. DTR and RTS are set to these levels on opening; nil leaves them as they are.
type Line struct {
	Baud, DataBits int
	Parity         string // "none", "even", "odd", "mark", "space"
	StopBits       int
	DTR, RTS       *bool
}

// String prints the settings as the trade does: "9600 8N1".
func (l Line) String() string {
	p := "?"
	if l.Parity != "" {
		p = string(l.Parity[0] - 'a' + 'A')
	}
	return fmt.Sprintf("%d %d%s%d", l.Baud, l.DataBits, p, l.StopBits)
}

// Poll is how a gauge that does not push is asked.
type Poll struct {
	Request  []byte        // sent verbatim; a Modbus profile builds its own
	Interval time.Duration // between requests
}

// Polled reports whether the gauge must be asked.
func (p Poll) Polled() bool { return len(p.Request) > 0 }

// Roles lists the roles a profile may suggest.
func Roles() []string {
	return []string{"indicator", "caliper", "micrometer", "bore", "depth", "angle", "scale", "force", "torque", "temperature", "key"}
}

// Parities lists the parities of a line.
func Parities() []string { return []string{"none", "even", "odd", "mark", "space"} }

// FieldError is a fault in one field of a profile; Path is the field's place in the TOML file, "text.pattern".
type FieldError struct {
	Path string
	Why  string
}

func (e *FieldError) Error() string { return e.Path + ": " + e.Why }

func fieldError(path, format string, args ...any) error {
	return &FieldError{Path: path, Why: fmt.Sprintf(format, args...)}
}

// Validate names every fault of the profile, joined; each is a *FieldError.
func (p Profile) Validate() error {
	var errs []error
	bad := func(path, format string, args ...any) { errs = append(errs, fieldError(path, format, args...)) }
	if !validName(p.Name) {
		bad("name", "%q is not a profile's name: want small letters, figures and single hyphens, 1 to 64 of them", p.Name)
	}
	if p.Title == "" {
		bad("title", "missing: one line that tells a builder which gauge this is")
	}
	if p.Role != "" && !contains(Roles(), p.Role) {
		bad("role", "%q is not a role: want one of %v", p.Role, Roles())
	}
	if p.Resolution.Valid() && p.Resolution.N <= 0 {
		bad("resolution", "%s: want more than nothing", p.Resolution)
	}
	errs = append(errs, p.Line.validate()...)
	if p.Poll.Polled() && p.Poll.Interval < 10*time.Millisecond {
		bad("poll.interval", "%s: want at least 10ms", p.Poll.Interval)
	}
	if p.gap() && p.Poll.Polled() && p.Poll.Interval < 500*time.Millisecond {
		bad("poll.interval", "%s: answers that are told apart by silence need at least 500ms", p.Poll.Interval)
	}
	if !p.Poll.Polled() && p.Poll.Interval != 0 && p.Family != FamilyModbus {
		bad("poll.request", "missing: an interval without a request asks nothing")
	}
	if p.tables() > 1 {
		bad("family", "a profile has the table of its own family %q only", p.Family)
	}
	if _, err := p.compile(); err != nil {
		errs = append(errs, err)
	}
	return errors.Join(errs...)
}

// gap reports whether frames are told apart by silence.
func (p Profile) gap() bool { return p.Text != nil && p.Text.Gap || p.Bits != nil && p.Bits.Gap }

// codec is a compiled family part: it makes decoders and encodes what a gauge of this kind would send.
type codec interface {
	decoder() Decoder
	encode(s []Sample) ([]byte, error)
}

// NewDecoder makes a decoder for one port. It fails with the profile's first fault.
func (p Profile) NewDecoder() (Decoder, error) {
	c, err := p.compile()
	if err != nil {
		return nil, fmt.Errorf("profile %q: %w", p.Name, err)
	}
	return c.decoder(), nil
}

// Encode gives the bytes a gauge of this kind sends for these samples: one frame, for a gauge of several channels with
// all of them in one frame where its profile says so. It is the inverse of the decoder and fails where the frame
// cannot carry a sample exactly.
func (p Profile) Encode(s ...Sample) ([]byte, error) {
	c, err := p.compile()
	if err != nil {
		return nil, fmt.Errorf("profile %q: %w", p.Name, err)
	}
	b, err := c.encode(s)
	if err != nil {
		return nil, fmt.Errorf("profile %q: encode: %w", p.Name, err)
	}
	return b, nil
}

func (l Line) validate() []error {
	var errs []error
	switch {
	case l.Baud < 50 || l.Baud > 4_000_000:
		errs = append(errs, fieldError("line.baud", "%d: want 50 to 4000000", l.Baud))
	}
	if l.DataBits != 7 && l.DataBits != 8 {
		errs = append(errs, fieldError("line.data_bits", "%d: want 7 or 8", l.DataBits))
	}
	if !contains(Parities(), l.Parity) {
		errs = append(errs, fieldError("line.parity", "%q: want one of %v", l.Parity, Parities()))
	}
	if l.StopBits != 1 && l.StopBits != 2 {
		errs = append(errs, fieldError("line.stop_bits", "%d: want 1 or 2", l.StopBits))
	}
	return errs
}

// mask is what of a byte counts: a 7-bit line may bring the parity in the eighth bit.
func (l Line) mask() byte {
	if l.DataBits == 7 {
		return 0x7F
	}
	return 0xFF
}

func validName(s string) bool {
	if s == "" || len(s) > 64 || s[0] == '-' || s[len(s)-1] == '-' {
		return false
	}
	for i := range len(s) {
		c := s[i]
		if !(c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-' && s[i-1] != '-') {
			return false
		}
	}
	return true
}

func contains(list []string, s string) bool {
	for _, l := range list {
		if l == s {
			return true
		}
	}
	return false
}

// Asked tells a gauge of this kind how many bytes of what it received end with a request to it; 0 for none yet.
func (p Profile) Asked(received []byte) int {
	if !p.Poll.Polled() {
		return 0
	}
	if i := bytes.Index(received, p.Poll.Request); i >= 0 {
		return i + len(p.Poll.Request)
	}
	return 0
}
