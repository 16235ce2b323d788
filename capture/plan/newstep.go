package plan

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"

	"thoud/calc/quantity"
)

// write gives a new step in the plan language.
func (s NewStep) write(b *strings.Builder, p *Plan, after, why string) error {
	if strings.TrimSpace(s.Title) == "" {
		return fmt.Errorf("a step wants a title: what is done in it, in a few words")
	}
	phase, at := s.Phase, len(p.Steps)-1
	if after != "" {
		at = p.Index(after)
	}
	if phase == "" && at >= 0 {
		phase = p.Steps[at].Phase
	}
	do := strings.TrimSpace(s.Do)
	if do == "" {
		do = strings.TrimSuffix(strings.TrimSpace(s.Title), ".") + "."
	}
	id := freshID(p, s.Title)
	fmt.Fprintf(b, "\n[[step]]\nid = %s\n", tomlText(id))
	if after != "" {
		fmt.Fprintf(b, "after = %s\n", tomlText(after))
	}
	fmt.Fprintf(b, "title = %s\ndo = %s\nphase = %s\nnotes = [%s]\n", tomlText(strings.TrimSpace(s.Title)), tomlText(do), tomlText(string(phase)), tomlText("Added: "+why))
	if s.Role == "" {
		fmt.Fprintf(b, "kind = \"check\"\nconfirms = [{ id = \"done\", text = %s }]\n", tomlText(do))
		return nil
	}
	return s.writeReadings(b)
}

// writeReadings gives the part of a new step that is read, and judged where there are limits.
func (s NewStep) writeReadings(b *strings.Builder) error {
	mode, kind := s.Mode, s.Kind
	if mode == "" {
		mode = Press
	}
	if kind == "" {
		kind = string(quantity.Length)
	}
	fmt.Fprintf(b, "kind = \"measure\"\ncapture = { mode = %s, role = %s, kind = %s }\n", tomlText(string(mode)), tomlText(s.Role), tomlText(kind))
	names := s.Names
	if len(names) == 0 {
		names = []string{"there"}
	}
	var ids []string
	for _, n := range names {
		id := fresh(idOf(n), ids)
		ids = append(ids, id)
		fmt.Fprintf(b, "\n[[step.point]]\nid = %s\ntitle = %s\n", tomlText(id), tomlText(n))
	}
	if s.Least == "" && s.Most == "" {
		return nil
	}
	source := s.Source
	if source == "" {
		source = "builder's choice"
	}
	var sides []string
	for side, v := range map[string]string{"lower": s.Least, "upper": s.Most} {
		if v == "" {
			continue
		}
		if _, err := quantity.ParseAs(quantity.Kind(kind), v); err != nil {
			return fmt.Errorf("the limit %s: %w", quoted(v), err)
		}
		sides = append(sides, side+" = "+tomlText(v))
	}
	slices.Sort(sides)
	fmt.Fprintf(b, "\n[step.compute]\nmethod = \"statistics\"\nper = \"point\"\nkind = %s\nshown = [\"mean\"]\n[step.compute.inputs]\nvalues = [\"@reading\"]\n[step.compute.limits]\nmean = { %s, source = %s }\n",
		tomlText(kind), strings.Join(sides, ", "), tomlText(source))
	return nil
}

// freshID makes an id of a title that no step of the plan has.
func freshID(p *Plan, title string) string { return fresh(idOf(title), append(stepIDs(p), p.Left...)) }

func fresh(id string, taken []string) string {
	for n := 2; slices.Contains(taken, id); n++ {
		base := strings.TrimRight(id, "0123456789")
		id = fmt.Sprintf("%s-%d", strings.TrimSuffix(base, "-"), n)
	}
	return id
}

// idOf makes a name of words: "Oil-pump drive, left" is "oil-pump-drive-left".
func idOf(words string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(words) {
		switch {
		case r >= 'a' && r <= 'z', unicode.IsDigit(r) && r < 128:
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() >= 40 {
			break
		}
	}
	if id := strings.Trim(b.String(), "-"); id != "" {
		return id
	}
	return "step"
}

// TOMLText writes a text as the plan language has it.
func TOMLText(s string) string { return tomlText(s) }

// tomlText writes a text as TOML has it (TOML 1.0, basic strings).
func tomlText(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"', r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r < 0x20 || r == 0x7f:
			fmt.Fprintf(&b, "\\u%04X", r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

func sortedKeys(m map[string]string) []string { return slices.Sorted(maps.Keys(m)) }
