package devices

import (
	"fmt"
	"strings"
)

// beside is what stands before or behind the number in all lines.
type beside struct {
	pattern string
	units   map[string]string // where a word follows the unit
	none    string            // the unit that has no word where the other has one, "" else
	notes   []string
}

// around works out what stands before or behind the number: the same in every line, a word that follows the unit, or
// figures that come and go, which are let pass. Words that change and do not follow the unit are not understood.
func around(list []parts, runs []run, presses []Press, of func(parts) string) (b beside, why string) {
	byUnit := map[string][]string{}
	var codes []string
	for i, p := range list {
		code := presses[runs[i].press].Shown.Unit.Code
		if byUnit[code] == nil {
			codes = append(codes, code)
		}
		byUnit[code] = append(byUnit[code], of(p))
	}
	patterns := map[string]string{}
	same := true
	for _, code := range codes {
		pattern, notes, why := alike(byUnit[code])
		if why != "" {
			return b, why
		}
		patterns[code] = pattern
		same = same && pattern == patterns[codes[0]]
		b.notes = append(b.notes, notes...)
	}
	b.pattern = patterns[codes[0]]
	if same && len(codes) == 1 {
		if head, word, tail, ok := unitWordIn(b.pattern, codes[0]); ok {
			b.pattern, b.units = head+"{unit}"+tail, map[string]string{word: codes[0]}
		}
	}
	if same {
		return b, ""
	}
	return b, b.unitWords(codes, byUnit, patterns)
}

// unitWords takes what differs between the units for the units' words.
func (b *beside) unitWords(codes []string, byUnit map[string][]string, patterns map[string]string) (why string) {
	b.units = map[string]string{}
	part, lead, trail := "{unit}", "", ""
	for _, code := range codes {
		text := byUnit[code][0]
		if escape(text) != patterns[code] {
			return fmt.Sprintf("%s: beside the number the unit and figures change; that is not known here", quoteBytes([]byte(text)))
		}
		if strings.HasPrefix(text, " ") {
			lead = " "
		}
		if strings.HasSuffix(text, " ") {
			trail = " "
		}
		word := strings.TrimSpace(text)
		if word == "" {
			part, b.none = "{unit?}", code
			continue
		}
		b.units[word] = code
	}
	b.pattern = lead + part + trail
	return ""
}

// alike gives the pattern of texts that are alike but for figures. Figures that differ, and a time of day, are let pass;
// figures that were always the same are held, and it is said so.
func alike(texts []string) (pattern string, notes []string, why string) {
	first := tokens(texts[0])
	passes := timesOfDay(first)
	for _, text := range texts[1:] {
		other := tokens(text)
		fits := len(other) == len(first)
		for i := 0; fits && i < len(first); i++ {
			switch {
			case other[i] == first[i]:
			case isFigure(first[i][0]) && isFigure(other[i][0]) && len(other[i]) == len(first[i]):
				passes[i] = true
			default:
				fits = false
			}
		}
		if !fits {
			return "", nil, fmt.Sprintf("%s and %s stand beside the number in presses of one unit; keep everything but the value unchanged while teaching", quoteBytes([]byte(texts[0])), quoteBytes([]byte(text)))
		}
	}
	for i, tok := range first {
		switch {
		case passes[i]:
			pattern += fmt.Sprintf("{skip:%d}", len(tok))
			notes = append(notes, fmt.Sprintf("figures as %q beside the value come and go: they are let pass", tok))
		case isFigure(tok[0]):
			pattern += tok
			notes = append(notes, fmt.Sprintf("the figures %q stood beside the value in every press: a line in which they change is refused", tok))
		default:
			pattern += escape(tok)
		}
	}
	return pattern, notes, ""
}

// tokens cuts a text into runs of figures and what stands between them.
func tokens(s string) []string {
	var list []string
	for s != "" {
		n := 1
		for n < len(s) && isFigure(s[n]) == isFigure(s[0]) {
			n++
		}
		list, s = append(list, s[:n]), s[n:]
	}
	return list
}

func isFigure(c byte) bool { return c >= '0' && c <= '9' }

// timesOfDay marks the figures of a clock, 14:05 or 14:05:30: they stand still only while nobody looks.
func timesOfDay(list []string) map[int]bool {
	marked := map[int]bool{}
	for i := 0; i+2 < len(list); i++ {
		if len(list[i]) == 2 && isFigure(list[i][0]) && list[i+1] == ":" && len(list[i+2]) == 2 {
			marked[i], marked[i+2] = true, true
		}
	}
	return marked
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
