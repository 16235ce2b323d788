package sheet

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"

	"thoud/calc/quantity"
)

// CSV writes the sheet's numbers as one table, a row each: readings, figures, limits and adjustments. The headings name
// the units; what is no length has its unit in a column of its own, because a column cannot have two.
func CSV(w io.Writer, s Sheet, o Options) error {
	out := csv.NewWriter(w)
	length := o.System.For(quantity.Length).Code
	t := csvTable{out, o.System}
	t.write("step", "step title", "pass", "pass status", "what", "run", "name", "point", "seating",
		"length ("+length+")", "U of length ("+length+")", "lower limit ("+length+")", "upper limit ("+length+")",
		"other value", "U of other value", "lower limit of other value", "upper limit of other value", "unit of other value",
		"words", "source of limits", "verdict", "gauge", "as sent", "taken (UTC)", "by", "withdrawn", "entry")
	for _, st := range s.Steps {
		for _, p := range st.Passes {
			t.pass(st, p)
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("sheet of job %s as CSV: %w", s.Job, err)
	}
	return nil
}

type csvTable struct {
	*csv.Writer
	sys quantity.System
}

func (t csvTable) write(fields ...string) { _ = t.Write(fields) } // the error stays with the writer; CSV asks for it

func (t csvTable) pass(st Step, p Pass) {
	at := func(what, run, name string) []string {
		return []string{Plain(st.ID), Plain(st.Title), strconv.Itoa(p.Number), string(p.Status), what, Plain(run), Plain(name)}
	}
	for _, r := range p.Readings {
		row := append(at("reading", "", ""), Plain(r.Point), strconv.Itoa(r.Seating))
		row = append(row, t.numbers(r.Kind, &r.Value, 0, nil)...)
		t.write(append(row, "", "", "", Plain(r.Gauge), Plain(r.Text), r.At, Plain(r.By), yes(r.Withdrawn), strconv.FormatUint(r.Entry, 10))...)
	}
	for _, r := range p.Runs {
		what := "figure"
		if r.Provisional {
			what = "figure, provisional"
		}
		for _, f := range r.Figures {
			row := append(at(what, r.Key, f.Name), "", "")
			row = append(row, t.numbers(f.Kind, f.Value, f.U, f.Limit)...)
			words, source := "", ""
			if f.Value == nil {
				words = in(f.Shown, t.sys)
			}
			if f.Limit != nil {
				source = f.Limit.Source
			}
			t.write(append(row, Plain(words), Plain(source), string(f.Verdict), "", "", "", "", "", strconv.FormatUint(r.Entry, 10))...)
		}
		if r.Refused != "" {
			row := append(at("no answer", r.Key, ""), "", "")
			row = append(row, t.numbers("", nil, 0, nil)...)
			t.write(append(row, Plain(r.Refused), "", "", "", "", "", "", "", strconv.FormatUint(r.Entry, 10))...)
		}
	}
	for _, a := range p.Adjustments {
		for _, part := range []struct {
			what  string
			value *float64
			words string
		}{{"told", &a.Told, in(a.Words, t.sys)}, {"done", a.Done, ""}, {"left", a.Left, ""}} {
			if part.value == nil {
				continue
			}
			row := append(at(part.what, a.Key, a.What), "", "")
			row = append(row, t.numbers(a.Kind, part.value, 0, nil)...)
			t.write(append(row, Plain(part.words), "", "", "", "", "", "", "", "")...)
		}
	}
}

// numbers are the nine fields of a value: four for a length, five for anything else.
func (t csvTable) numbers(kind quantity.Kind, value *float64, u float64, l *Limit) []string {
	unit := t.sys.For(kind)
	number := func(x *float64) string {
		if x == nil {
			return ""
		}
		return strconv.FormatFloat(unit.FromBase(*x), 'g', 10, 64)
	}
	four := []string{number(value), "", "", ""}
	if u > 0 {
		four[1] = number(&u)
	}
	if l != nil {
		four[2], four[3] = number(l.Lower), number(l.Upper)
	}
	none := []string{"", "", "", ""}
	switch {
	case value == nil && l == nil:
		return append(append(none, none...), "")
	case kind == quantity.Length:
		return append(append(four, none...), "")
	}
	return append(append(none, four...), unit.Code)
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

// Plain keeps a spreadsheet from taking a text for a formula: one that begins as a formula does gets an apostrophe
// before it.
func Plain(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
