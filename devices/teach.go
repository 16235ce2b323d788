package devices

import (
	"errors"
	"fmt"
	"strings"

	"thoud/calc/quantity"
)

// Press is one press of a gauge's data key, or one standstill of a gauge that streams: what its display showed and what
// came over the line.
type Press struct {
	Shown quantity.Value // in the unit and with the places of the display
	Bytes []byte         // all of it, up to the silence after it; of a gauge that streams what came while the display stood still
	// Pauses says after how many bytes a gauge that streams paused for some milliseconds, rising.
	Pauses []int
}

// Lesson is what was learnt of an unknown gauge from a few presses: every layout that explains all of them.
type Lesson struct {
	presses    []Press
	streams    bool
	candidates []candidate // the likeliest first
}

// candidate is one layout, with what the presses could not show of it.
type candidate struct {
	profile Profile
	channel string // the channel that the display was of, "" where there is one only
	notes   []string
}

// Errors of Teach and Prove that a caller branches on.
var (
	ErrTooFew   = errors.New("too few presses to learn from")
	ErrNoLayout = errors.New("no layout explains the presses")
)

// Teach works out how a gauge sends from at least three presses with at least two different values: lines of text first,
// described bit fields where that does not explain them; raw bits of a bridge want five presses. base gives the profile's
// name, title and line, and of a bridge the channels that are known already. streams says that
// the gauge sends by itself, without a press: then its frames are not told apart by silence. It fails with ErrTooFew and
// with ErrNoLayout, saying what does not fit.
func Teach(base Profile, streams bool, presses []Press) (Lesson, error) {
	if err := enough(presses); err != nil {
		return Lesson{}, err
	}
	base.Resolution = finest(presses)
	l := Lesson{presses: presses, streams: streams}
	var whys []string
	raw := bridged(presses)
	for _, f := range families() {
		if f.teach == nil || raw && f.name != FamilyBench {
			continue
		}
		found, why := f.teach(base, presses, streams)
		if len(found) > 0 {
			l.candidates = found
			return l, nil
		}
		whys = append(whys, fmt.Sprintf("as %s: %s", f.name, why))
	}
	return Lesson{}, fmt.Errorf("%w: %s", ErrNoLayout, strings.Join(whys, "; "))
}

// enough checks that the presses can teach anything.
func enough(presses []Press) error {
	values := map[int64]bool{}
	for i, p := range presses {
		if len(p.Bytes) == 0 {
			return fmt.Errorf("%w: press %d (%s) brought nothing; is the data key the right one?", ErrTooFew, i+1, p.Shown)
		}
		if !p.Shown.Valid() {
			return fmt.Errorf("%w: press %d has no value of the display", ErrTooFew, i+1)
		}
		values[p.Shown.N] = true
	}
	if len(presses) < 3 || len(values) < 2 {
		return fmt.Errorf("%w: %d presses with %d different values; want 0, something with different figures, and the same below zero", ErrTooFew, len(presses), len(values))
	}
	return nil
}

// finest gives the smallest count among the displays.
func finest(presses []Press) quantity.Value {
	var best quantity.Value
	for _, p := range presses {
		one, err := quantity.Make(1, p.Shown.Places, p.Shown.Unit)
		if err == nil && (!best.Valid() || one.Resolution() < best.Resolution()) {
			best = one
		}
	}
	return best
}

// Profile is the likeliest layout.
func (l Lesson) Profile() Profile { return l.candidates[0].profile }

// Channel is the channel of Profile that the display was of, "" where its lines carry one only.
func (l Lesson) Channel() string { return l.candidates[0].channel }

// Ambiguous says in words what the presses left open; empty where nothing is.
func (l Lesson) Ambiguous() []string {
	notes := append([]string(nil), l.candidates[0].notes...)
	if n := len(l.candidates) - 1; n > 0 {
		notes = append(notes, fmt.Sprintf("other layouts that explain the presses as well: %d; prove it with one more value, with many different figures", n))
	}
	return notes
}

// Prove checks one more press, which should show a value not seen before, and keeps the layouts that read it right. It
// fails with ErrNoLayout where none does, with what the likeliest read instead.
func (l Lesson) Prove(p Press) (Lesson, error) {
	for _, old := range l.presses {
		if old.Shown.N == p.Shown.N && old.Shown.Unit == p.Shown.Unit {
			return l, fmt.Errorf("%w: %s was shown before and proves nothing; set another value", ErrTooFew, p.Shown)
		}
	}
	kept := Lesson{presses: append(append([]Press(nil), l.presses...), p), streams: l.streams}
	for _, c := range l.candidates {
		if explains(c, p, l.streams) == nil {
			kept.candidates = append(kept.candidates, c)
		}
	}
	if len(kept.candidates) == 0 {
		return l, fmt.Errorf("%w: %s: %w", ErrNoLayout, p.Shown, explains(l.candidates[0], p, l.streams))
	}
	return kept, nil
}

// explains reports whether a layout reads a press as the display showed it, and nothing besides on its channel.
func explains(c candidate, press Press, streams bool) error {
	d, err := c.profile.NewDecoder()
	if err != nil {
		return err
	}
	read := 0
	emit := func(s Sample, e error) {
		switch {
		case e != nil:
			err = errors.Join(err, e)
		case s.Channel != c.channel && c.channel != "":
		case s.Value.N != press.Shown.N || s.Value.Unit.Code != press.Shown.Unit.Code || s.Value.Places != press.Shown.Places:
			err = errors.Join(err, fmt.Errorf("the display shows %s, the frame reads %s", press.Shown, s.Value))
		default:
			read++
		}
	}
	d.Idle(emit)
	d.Feed(whole(c, press, streams), emit)
	d.Idle(emit)
	if err == nil && read == 0 {
		err = fmt.Errorf("nothing was read from %s", quoteBytes(press.Bytes))
	}
	return err
}

// keep sorts out the profiles that are sound and explain every press; why is the first one's fault where none does.
func keep(list []candidate, presses []Press, streams bool) (kept []candidate, why string) {
	seen := map[string]bool{}
	for _, c := range list {
		err := c.profile.Validate()
		for _, p := range presses {
			if err == nil {
				err = explains(c, p, streams)
			}
		}
		if err != nil {
			if why == "" {
				why = strings.ReplaceAll(err.Error(), "\n", "; ")
			}
			continue
		}
		if text := string(c.profile.TOML()); !seen[text] {
			seen[text] = true
			kept = append(kept, c)
		}
	}
	return kept, why
}

// shownDigits is the display's figures as a whole number with its sign: -0.0120 in is -120.
func shownDigits(v quantity.Value) (int64, bool) {
	text := strings.Replace(v.Digits(), ".", "", 1)
	d, _, err := quantity.ParseDecimal(text)
	return d, err == nil
}

// unitsOf lists the unit codes of the presses, in the order of the presses.
func unitsOf(presses []Press) []string {
	var codes []string
	for _, p := range presses {
		if !contains(codes, p.Shown.Unit.Code) {
			codes = append(codes, p.Shown.Unit.Code)
		}
	}
	return codes
}

func anyNegative(presses []Press) bool {
	for _, p := range presses {
		if p.Shown.N < 0 {
			return true
		}
	}
	return false
}
