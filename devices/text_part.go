package devices

import (
	"bytes"
	"strings"

	"thoud/calc/quantity"
)

// part is one piece of a pattern: it takes itself off a line, and writes itself into one.
type part interface {
	// match takes the part off the front of what is left of the line. Where it does not fit it gives the text that stands
	// there and why not; the line is then left as it was.
	match(f *fitting) (text []byte, why string)
	// write adds what a gauge of this kind sends.
	write(w *writing) error
	// size is how many characters the part takes where that is the same in every line, else 0.
	size() int
	// chars gives the characters the part may begin with, and those it may have after its first.
	chars() (head, tail charset)
	// optional reports whether a line may lack the part.
	optional() bool
	// narrow reports whether the part pins down what a line may hold, so that a pattern with it fits fewer lines.
	narrow() bool
}

var _ = []part{(*literal)(nil), blanks{}, skip(1), (*sign)(nil), (*number)(nil), (*unitPart)(nil), (*statusPart)(nil), (*channelPart)(nil)}

// fitting is a line while it is fitted to a pattern, with what its parts said so far.
type fitting struct {
	line    []byte
	at      int // how far it fits
	num     decimal
	neg     bool
	unit    quantity.Unit
	named   bool // the line names its unit
	status  Status
	channel string
	names   names
}

func (f *fitting) rest() []byte { return f.line[f.at:] }

// writing is a line while it is written.
type writing struct {
	strings.Builder
	sample Sample
	digits string // of the value, in the unit that is sent
	neg    bool
	unit   string // the unit's word, "" for none
	status Status // what no word has said yet
}

// extent is how much of a line a part takes.
type extent struct {
	width   int  // 0: as long as it fits
	filled  bool // the width has no padding
	missing bool // the part may be missing
}

func (e extent) optional() bool { return e.missing }
func (e extent) narrow() bool   { return e.filled }

// room gives what of the line the part may take; none reports that the line ends before a part that may be missing.
func (e extent) room(f *fitting) (rest []byte, none bool, why string) {
	rest = f.rest()
	if e.width == 0 {
		return rest, false, ""
	}
	if len(rest) < e.width {
		if e.missing && len(rest) == 0 {
			return nil, true, ""
		}
		return rest, false, "ends too early"
	}
	return rest[:e.width], false, ""
}

// blanked adds the padding that a part of a fixed width may have on either side. words are what it may hold: where they
// fill the width always, there is none.
func (e extent) blanked(head, tail charset, words []string) (charset, charset) {
	if e.width > 0 && !e.filled && (e.missing || sameLength(words) != e.width) {
		tail.join(head)
		head.add(" ")
		tail.add(" ")
	}
	return head, tail
}

// literal is text that stands in every line.
type literal struct{ text string }

func (l *literal) match(f *fitting) ([]byte, string) {
	rest := f.rest()
	if len(rest) < len(l.text) || string(rest[:len(l.text)]) != l.text {
		return rest, "stands where the profile has " + l.text
	}
	f.at += len(l.text)
	return nil, ""
}

func (l *literal) write(w *writing) error      { w.WriteString(l.text); return nil }
func (l *literal) size() int                   { return len(l.text) }
func (l *literal) chars() (head, tail charset) { return charsOf([]string{l.text}) }
func (l *literal) optional() bool              { return false }
func (l *literal) narrow() bool                { return true }

// blanks is any run of blanks, also none.
type blanks struct{}

func (blanks) match(f *fitting) ([]byte, string) {
	for f.at < len(f.line) && f.line[f.at] == ' ' {
		f.at++
	}
	return nil, ""
}

func (blanks) write(w *writing) error      { w.WriteByte(' '); return nil }
func (blanks) size() int                   { return 0 }
func (blanks) chars() (head, tail charset) { return charsOf([]string{"  "}) }
func (blanks) optional() bool              { return true }
func (blanks) narrow() bool                { return false }

// skip is so many characters that say nothing about the value.
type skip int

func (s skip) match(f *fitting) ([]byte, string) {
	if rest := f.rest(); len(rest) < int(s) {
		return rest, "ends too early"
	}
	f.at += int(s)
	return nil, ""
}

func (s skip) write(w *writing) error { w.WriteString(strings.Repeat(" ", int(s))); return nil }
func (s skip) size() int              { return int(s) }

func (s skip) chars() (head, tail charset) {
	for c := range head {
		head[c] = true
	}
	return head, head
}

func (s skip) optional() bool { return false }
func (s skip) narrow() bool   { return false }

// sign is + or -; where it may be missing a blank or nothing stands for +.
type sign struct{ missing bool }

func (s *sign) match(f *fitting) ([]byte, string) {
	rest := f.rest()
	switch {
	case len(rest) > 0 && (rest[0] == '+' || rest[0] == '-'):
		f.neg = rest[0] == '-'
		f.at++
	case !s.missing:
		return rest, "has no sign"
	case len(rest) > 0 && rest[0] == ' ':
		f.at++
	}
	return nil, ""
}

func (s *sign) write(w *writing) error {
	switch {
	case w.neg:
		w.WriteByte('-')
	case s.missing:
		w.WriteByte(' ')
	default:
		w.WriteByte('+')
	}
	return nil
}

func (s *sign) size() int {
	if s.missing {
		return 0
	}
	return 1
}

func (s *sign) chars() (head, tail charset) {
	head.add("+-")
	if s.missing {
		head.add(" ")
	}
	return head, tail
}

func (s *sign) optional() bool { return s.missing }
func (s *sign) narrow() bool   { return !s.missing }

// trimmed takes the padding off a part of a fixed width.
func trimmed(b []byte) []byte { return bytes.Trim(b, " ") }
