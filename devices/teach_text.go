package devices

import (
	"fmt"
	"math/bits"
	"strconv"
	"strings"
)

// teachText looks for lines of text: terminator, then the run of figures that follows the display, then what stands
// before and behind it.
func teachText(base Profile, presses []Press) ([]candidate, string) {
	base.Family, base.Role = FamilyText, ""
	lines, t, why := taughtLines(&base, presses)
	if why != "" {
		return nil, why
	}
	var found []candidate
	why = "no run of figures in the lines follows the display"
	for _, mark := range []string{".", ","} {
		for k := range 8 {
			runs, scale, ok := followed(lines, presses, k, mark)
			if !ok {
				continue
			}
			t.Mark, t.Scale = mark, scale
			more, w := layouts(base, t, runs, presses)
			if len(more) == 0 && w != "" {
				why = w
			}
			found = append(found, more...)
		}
	}
	if len(found) == 0 {
		return nil, why
	}
	// Where no mark was sent both marks read the same: one is enough.
	kept, w := keep(found, presses)
	if len(kept) == 0 {
		return nil, w
	}
	return withoutMarkTwins(kept), ""
}

func withoutMarkTwins(list []candidate) []candidate {
	var out []candidate
	seen := map[string]bool{}
	for _, c := range list {
		key := strings.Join(c.profile.Text.Pattern, "\n") + c.profile.Text.Scale + fmt.Sprint(c.profile.Text.Places)
		if !seen[key] {
			seen[key] = true
			out = append(out, c)
		}
	}
	return out
}

// taughtLines takes the terminator off each press, and the parity off 7-bit characters.
func taughtLines(base *Profile, presses []Press) ([]string, Text, string) {
	t := Text{Places: -1}
	var all []byte
	for _, p := range presses {
		all = append(all, p.Bytes...)
	}
	mask := byte(0xFF)
	if high(all) {
		parity := commonParity(all)
		if parity == "" {
			return nil, t, "there are bytes over 0x7F whose eighth bit is no parity"
		}
		base.Line.DataBits, base.Line.Parity, mask = 7, parity, 0x7F
	} else if base.Line.DataBits == 7 {
		mask = 0x7F
	}
	var texts []string
	for _, p := range presses {
		b := append([]byte(nil), p.Bytes...)
		for i := range b {
			b[i] &= mask
		}
		texts = append(texts, string(b))
	}
	for _, end := range []string{"\r\n", "\n\r", "\r", "\n", "\x03"} {
		if allEnd(texts, end) {
			t.End = end
			break
		}
	}
	t.Gap = t.End == ""
	for i, s := range texts {
		s = strings.TrimSuffix(s, t.End)
		if t.End != "" && strings.Contains(s, t.End) {
			// The same line several times over is one line.
			parts := strings.Split(s, t.End)
			for _, part := range parts[1:] {
				if part != parts[0] {
					return nil, t, fmt.Sprintf("press %d sent several different lines, %s", i+1, quoteBytes([]byte(s)))
				}
			}
			s = parts[0]
		}
		for _, c := range []byte(s) {
			if c < ' ' || c > '~' {
				return nil, t, fmt.Sprintf("press %d has the byte 0x%02x, no printable character", i+1, c)
			}
		}
		texts[i] = s
	}
	return texts, t, ""
}

func high(b []byte) bool {
	for _, c := range b {
		if c > 0x7F {
			return true
		}
	}
	return false
}

func commonParity(b []byte) string {
	odd := bits.OnesCount8(b[0])%2 == 1
	for _, c := range b {
		if bits.OnesCount8(c)%2 == 1 != odd {
			return ""
		}
	}
	if odd {
		return "odd"
	}
	return "even"
}

func allEnd(texts []string, end string) bool {
	for _, s := range texts {
		if !strings.HasSuffix(s, end) || len(s) == len(end) {
			return false
		}
	}
	return true
}

// layouts writes the patterns that may lie behind the lines, the strictest first.
func layouts(base Profile, t Text, runs []run, presses []Press) ([]candidate, string) {
	var list []parts
	alwaysSigned, sameWidth, samePlaces, sameLine, filled := true, true, true, true, false
	for i, r := range runs {
		p := takeApart(r)
		list = append(list, p)
		neg := presses[i].Shown.N < 0
		if neg != (p.sign == '-') && presses[i].Shown.N != 0 {
			return nil, fmt.Sprintf("press %d: the display shows %s and the line %s", i+1, presses[i].Shown, quoteBytes([]byte(r.line)))
		}
		alwaysSigned = alwaysSigned && p.sign != 0
		filled = filled || len(p.number) > 1 && p.number[0] == '0' && p.number[1] >= '0' && p.number[1] <= '9'
		sameWidth = sameWidth && len(p.number) == len(list[0].number)
		samePlaces = samePlaces && r.places == runs[0].places
		sameLine = sameLine && len(r.line) == len(runs[0].line)
	}
	before, words1, none1, why1 := around(list, presses, func(p parts) string { return p.before })
	after, words2, none2, why2 := around(list, presses, func(p parts) string { return p.after })
	if why1+why2 != "" {
		return nil, strings.Trim(why1+"; "+why2, "; ")
	}
	var notes []string
	t.Units, t.Unit = words2, none1+none2
	if len(words1) > 0 {
		t.Units = words1
		if len(words2) > 0 {
			return nil, "the unit changes what stands before the number and behind it; that is not known here"
		}
	}
	switch units := unitsOf(presses); {
	case len(t.Units) == 0 && len(units) > 1:
		return nil, fmt.Sprintf("the lines are alike in %s: they do not say the unit; teach it in one unit and keep the gauge in it", strings.Join(units, " and "))
	case len(t.Units) == 0:
		t.Unit = units[0]
		notes = append(notes, "the lines do not say the unit: "+units[0]+" is taken for every reading; keep the gauge in it")
	case len(t.Units) == 1:
		notes = append(notes, "one unit was shown only: a line with another unit's word is refused")
	}
	if !anyNegative(presses) {
		notes = append(notes, "no value below zero was shown: where its sign stands is a guess")
	}
	if samePlaces && t.Scale == "1" {
		t.Places = runs[0].places
	} else if t.Scale != "1" {
		t.Places = 0
	}
	blank := func(n func(parts) int) string {
		for _, p := range list {
			if n(p) > 0 {
				return " "
			}
		}
		return ""
	}
	gap1, gap2 := blank(func(p parts) int { return p.gap1 }), blank(func(p parts) int { return p.gap2 })
	var out []candidate
	add := func(middle string, length bool) {
		x := base
		tt := t
		notes := notes
		tt.Pattern = []string{before + middle + after}
		if length {
			tt.End, tt.Gap, tt.Length = "", false, len(runs[0].line)
		}
		if tt.Gap {
			notes = append(notes[:len(notes):len(notes)], "the lines have no terminator: they are told apart by the silence after each press")
		}
		x.Text = &tt
		out = append(out, candidate{x, notes})
	}
	// Numbers of one width are filled up with zeros only where a zero stands before another figure: else larger ones may
	// be longer.
	sameWidth = sameWidth && (filled || t.Gap)
	number := "{number:0" + strconv.Itoa(len(list[0].number)) + "}"
	for _, length := range []bool{true, false} {
		if length && (t.End != "" || !sameLine) {
			continue
		}
		switch {
		case alwaysSigned && sameWidth:
			add(gap1+"{sign}"+gap2+number, length)
		case alwaysSigned && sameLine && gap2 != "":
			add(gap1+"{sign}{number:"+strconv.Itoa(list[0].gap2+len(list[0].number))+"}", length)
		}
		if !alwaysSigned && sameWidth {
			add(gap1+"{sign?}"+gap2+number, length)
		}
		if !alwaysSigned && sameLine && !sameWidth {
			width := list[0].gap1 + list[0].gap2 + len(list[0].number)
			if list[0].sign != 0 {
				width++
			}
			add("{number:"+strconv.Itoa(width)+"}", length)
		}
	}
	// Loose forms last: they take what the strict ones do not.
	if len(out) == 0 || !filled {
		if alwaysSigned {
			add(gap1+"{sign}"+gap2+"{number}", false)
		} else {
			add(gap1+"{sign?}"+gap2+"{number}", false)
			add(gap1+"{number}", false)
		}
	}
	return out, ""
}

// around works out what stands before or behind the number: the same in every line, or a word that follows the unit.
// none is the unit that has no word where the other has one, "" else.
func around(list []parts, presses []Press, of func(parts) string) (pattern string, units map[string]string, none, why string) {
	byUnit := map[string]string{}
	same := true
	lead, trail := "", ""
	for i, p := range list {
		code, text := presses[i].Shown.Unit.Code, of(p)
		if old, seen := byUnit[code]; seen && old != text {
			return "", nil, "", fmt.Sprintf("%s and %s stand beside the number in presses of one unit; keep everything but the value unchanged while teaching", quoteBytes([]byte(old)), quoteBytes([]byte(text)))
		}
		byUnit[code] = text
		same = same && text == of(list[0])
		if strings.HasPrefix(text, " ") {
			lead = " "
		}
		if strings.HasSuffix(text, " ") {
			trail = " "
		}
	}
	if same && len(byUnit) > 1 {
		return escape(of(list[0])), nil, "", ""
	}
	if same {
		code := presses[0].Shown.Unit.Code
		if head, word, tail, ok := unitWordIn(of(list[0]), code); ok {
			return escape(head) + "{unit}" + escape(tail), map[string]string{word: code}, "", ""
		}
		return escape(of(list[0])), nil, "", ""
	}
	units = map[string]string{}
	part := "{unit}"
	for code, text := range byUnit {
		word := strings.TrimSpace(text)
		if word == "" {
			part, none = "{unit?}", code
			continue
		}
		units[word] = code
	}
	return lead + part + trail, units, none, ""
}

// unitWordIn finds the unit's usual word in a text, standing alone between blanks or ends.
func unitWordIn(text, code string) (head, word, tail string, ok bool) {
	usual := []string{code}
	switch code {
	case "in":
		usual = append(usual, "inch", "\"")
	case "thou":
		usual = append(usual, "mil")
	case "deg":
		usual = append(usual, "degrees", "\xb0")
	}
	for _, f := range strings.Fields(text) {
		for _, u := range usual {
			if strings.EqualFold(f, u) {
				i := strings.Index(text, f)
				return text[:i], f, text[i+len(f):], true
			}
		}
	}
	return "", "", "", false
}

func escape(s string) string { return strings.NewReplacer("{", "{{", "}", "}}").Replace(s) }
