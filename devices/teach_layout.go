package devices

import (
	"fmt"
	"strconv"
	"strings"
)

// layout is what the lines of a view have in common around the run of figures that follows the display.
type layout struct {
	view    view
	base    Profile
	t       Text
	runs    []run
	presses []Press
	streams bool

	list                                      []parts
	alwaysSigned, sameWidth, sameLine, filled bool
	before, after                             string
	gap1, gap2                                string // " " where blanks stand before the sign, and behind it
	notes                                     []string
	found                                     []candidate
}

// look takes the lines apart and finds what they have in common; why says what does not fit.
func (l *layout) look() (why string) {
	l.alwaysSigned, l.sameWidth, l.sameLine = true, true, true
	samePlaces := true
	for _, r := range l.runs {
		p := takeApart(r)
		l.list = append(l.list, p)
		shown := l.presses[r.press].Shown
		if (shown.N < 0) != (p.sign == '-') && shown.N != 0 {
			return fmt.Sprintf("press %d: the display shows %s and the line %s", r.press+1, shown, quoteBytes([]byte(r.line)))
		}
		l.alwaysSigned = l.alwaysSigned && p.sign != 0
		l.filled = l.filled || len(p.number) > 1 && p.number[0] == '0' && isFigure(p.number[1])
		l.sameWidth = l.sameWidth && len(p.number) == len(l.list[0].number)
		l.sameLine = l.sameLine && len(r.line) == len(l.runs[0].line)
		samePlaces = samePlaces && r.places == l.runs[0].places
		if p.gap1 > 0 {
			l.gap1 = " "
		}
		if p.gap2 > 0 {
			l.gap2 = " "
		}
	}
	if why := l.besides(); why != "" {
		return why
	}
	if !anyNegative(l.presses) {
		l.notes = append(l.notes, "no value below zero was shown: where its sign stands is a guess")
	}
	if l.t.Scale != "1" {
		l.t.Places = 0
	} else if samePlaces {
		l.t.Places = l.runs[0].places
	}
	return ""
}

// besides finds what stands before and behind the number, and with it the unit.
func (l *layout) besides() (why string) {
	before, why1 := around(l.list, l.runs, l.presses, func(p parts) string { return p.before })
	after, why2 := around(l.list, l.runs, l.presses, func(p parts) string { return p.after })
	if why1+why2 != "" {
		return strings.Trim(why1+"; "+why2, "; ")
	}
	if len(before.units) > 0 && len(after.units) > 0 {
		return "the unit changes what stands before the number and behind it; that is not known here"
	}
	l.before, l.after = before.pattern, after.pattern
	l.notes = append(append(append(l.notes, l.view.notes...), before.notes...), after.notes...)
	l.t.Unit, l.t.Units = before.none+after.none, after.units
	if len(before.units) > 0 {
		l.t.Units = before.units
	}
	switch units := unitsOf(l.presses); {
	case len(l.t.Units) == 0 && len(units) > 1:
		return fmt.Sprintf("the lines are alike in %s: they do not say the unit; teach it in one unit and keep the gauge in it", strings.Join(units, " and "))
	case len(l.t.Units) == 0:
		l.t.Unit = units[0]
		l.notes = append(l.notes, "the lines do not say the unit: "+units[0]+" is taken for every reading; keep the gauge in it")
	case len(l.t.Units) == 1:
		l.notes = append(l.notes, "one unit was shown only: a line with another unit's word is refused")
	}
	return ""
}

// patterns writes the patterns that may lie behind the lines, the strictest first.
func (l *layout) patterns() {
	// Numbers of one width are filled up with zeros only where a zero stands before another figure: else larger ones may
	// be longer.
	sameWidth := l.sameWidth && (l.filled || l.t.Gap || l.t.End == "")
	number := "{number:0" + strconv.Itoa(len(l.list[0].number)) + "}"
	for _, length := range []bool{true, false} {
		if length && (l.t.End != "" || !l.sameLine) {
			continue
		}
		switch {
		case l.alwaysSigned && sameWidth:
			l.add(l.gap1+"{sign}"+l.gap2+number, length)
		case l.alwaysSigned && l.sameLine && l.gap2 != "":
			l.add(l.gap1+"{sign}{number:"+strconv.Itoa(l.list[0].gap2+len(l.list[0].number))+"}", length)
		case !l.alwaysSigned && sameWidth:
			l.add(l.gap1+"{sign?}"+l.gap2+number, length)
		case !l.alwaysSigned && l.sameLine && !l.sameWidth:
			l.add("{number:"+strconv.Itoa(l.signedWidth())+"}", length)
		}
	}
	// Loose forms last: they take what the strict ones do not.
	switch {
	case len(l.found) > 0 && l.filled:
	case l.alwaysSigned:
		l.add(l.gap1+"{sign}"+l.gap2+"{number}", false)
	default:
		l.add(l.gap1+"{sign?}"+l.gap2+"{number}", false)
		l.add(l.gap1+"{number}", false)
	}
}

// signedWidth is how many characters the number takes with its sign and its padding.
func (l *layout) signedWidth() int {
	p := l.list[0]
	n := p.gap1 + p.gap2 + len(p.number)
	if p.sign != 0 {
		n++
	}
	return n
}

// add keeps one pattern. Silence ends a line only where the gauge speaks on its key: one that streams is silent for too
// short a time.
func (l *layout) add(middle string, length bool) {
	if !length && l.t.End == "" && l.streams {
		return
	}
	p, t, notes := l.base, l.t, l.notes[:len(l.notes):len(l.notes)]
	t.Pattern = []string{l.view.head + l.before + middle + l.after}
	if length {
		t.End, t.Gap, t.Length = "", false, l.view.cut+len(l.runs[0].line)
	}
	if t.Gap {
		notes = append(notes, "the lines have no terminator: they are told apart by the silence after each press")
	}
	p.Text = &t
	l.found = append(l.found, candidate{p, l.view.channel, notes})
}
