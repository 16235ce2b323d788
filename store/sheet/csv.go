package sheet

import (
	"encoding/csv"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// CSV writes the sheet's numbers as one table, a row each: readings, figures, limits and adjustments. The headings name
// the units; what is no length has its unit in a column of its own, because a column cannot have two. It is made for a
// spreadsheet: a mark at the beginning says that it is UTF-8, lines end as RFC 4180 has them, times are local without a zone,
// which would make them text, and the zone's hours stand beside them; a text that would be taken for a formula, a date or a
// number has an apostrophe before it.
func CSV(w io.Writer, s Sheet, o Options) error {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return fmt.Errorf("sheet of job %s as CSV: %w", s.Job, err)
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	length := o.System.For(quantity.Length).Code
	t := csvTable{out, o.System, o}
	t.write("step", "step title", "pass", "pass status", "what", "run", "name", "point", "seating",
		"length ("+length+")", "U of length ("+length+")", "lower limit ("+length+")", "upper limit ("+length+")",
		"other value", "U of other value", "lower limit of other value", "upper limit of other value", "unit of other value",
		"words", "source of limits", "verdict", "gauge", "as sent", "taken (local)", "hours from UTC", "by", "withdrawn", "entry")
	for _, st := range s.Steps {
		for _, p := range st.Passes {
			t.pass(st, p)
		}
		if st.Runs != nil { // computed without a reading of its own: pass 0
			t.pass(st, Pass{Status: bench.PassIsClosed, Runs: st.Runs, Adjustments: st.Orders})
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
	o   Options
}

// taken is a time as a spreadsheet reads it, and how many hours the shop's clock was ahead of UTC.
func (t csvTable) taken(at string) (local, hours string) {
	when, err := time.Parse(time.RFC3339, at)
	if err != nil {
		return Plain(at), ""
	}
	if t.o.Zone != nil {
		when = when.In(t.o.Zone)
	}
	_, offset := when.Zone()
	return when.Format(time.DateTime), strconv.FormatFloat(float64(offset)/3600, 'g', -1, 64)
}

func (t csvTable) write(fields ...string) { _ = t.Write(fields) } // the error stays with the writer; CSV asks for it

func (t csvTable) pass(st Step, p Pass) {
	at := func(what, run, name string) []string {
		return []string{Plain(st.ID), Plain(st.Title), strconv.Itoa(p.Number), string(p.Status), what, Plain(run), Plain(name)}
	}
	for _, r := range p.Readings {
		row := append(at("reading", "", ""), Plain(r.Point), strconv.Itoa(r.Seating))
		row = append(row, t.numbers(r.Kind, &r.Value, 0, nil)...)
		local, hours := t.taken(r.At)
		t.write(append(row, "", "", "", Plain(r.Gauge), Plain(r.Text), local, hours, Plain(r.By), yes(r.Withdrawn), strconv.FormatUint(r.Entry, 10))...)
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
			t.write(append(row, Plain(words), Plain(source), string(f.Verdict), "", "", "", "", "", "", strconv.FormatUint(r.Entry, 10))...)
		}
		if r.Refused != "" {
			row := append(at("no answer", r.Key, ""), "", "")
			row = append(row, t.numbers("", nil, 0, nil)...)
			t.write(append(row, Plain(r.Refused), "", "", "", "", "", "", "", "", strconv.FormatUint(r.Entry, 10))...)
		}
	}
	for _, a := range orders(p.Adjustments) {
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
			t.write(append(row, Plain(part.words), "", "", "", "", "", "", "", "", "")...)
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

var taken = regexp.MustCompile(`(?i)^(\d+[-/:]\d+([-/:.]\d+){0,2}|\d+\.\d+\.\d+|\d+e[-+]?\d+|0\d+|\d{1,2}[-/ ](jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)\w*([-/ ]\d+)?|(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)\w*[-/ ]\d+)$`)

func yes(b bool) string {
	if b {
		return "yes"
	}
	return ""
}

// Plain keeps a spreadsheet from taking a text for something else: one that begins as a formula does, or that reads as a
// date (3-4, 1/2), as a number with an exponent (12E5), or as one with leading noughts (007) gets an apostrophe before it.
func Plain(s string) string {
	if s != "" && (strings.ContainsRune("=+-@\t\r", rune(s[0])) || taken.MatchString(s)) {
		return "'" + s
	}
	return s
}
