package form

import (
	"bytes"
	"encoding/json"
	"errors"
	"strconv"

	"thoud/calc"
	"thoud/calc/quantity"
)

// Write writes a result as JSON: figures by name with value, unit, U and k, in the order of the method, then
// adjustments, verdict and warnings. Lengths are in mm and so on, or in the inch system's units. A refused result is
// {"method", "refused": {field, reason, remedy, words}}. Numbers are the shortest that read back.
func Write(res calc.Result, sys quantity.System) []byte {
	w := writer{sys: sys}
	w.open("")
	w.field("method", quote(res.Method))
	if res.Refused != "" {
		w.refusal(res)
		return w.end()
	}
	w.field("version", strconv.Itoa(res.Version))
	w.open("figures")
	for _, f := range res.Figures {
		w.figure(f)
	}
	w.close()
	w.adjustments(res.Orders())
	if res.Verdict != calc.NoVerdict {
		w.field("verdict", quote(string(res.Verdict)))
	}
	if res.GaugeOnly {
		w.field("gauge_only", "true")
	}
	warnings := []string{}
	for _, s := range res.Warnings {
		warnings = append(warnings, quote(calc.InUnits(s, sys)))
	}
	w.field("warnings", array(warnings))
	return w.end()
}

// refusal writes why there is no answer, in its parts and in one sentence.
func (w *writer) refusal(res calc.Result) {
	r := res.Refusal
	if r == nil { // a result of an older version has the sentence alone
		r = &calc.Refusal{What: res.Method, Why: res.Refused}
	}
	w.why("refused", r.What, calc.InUnits(r.Why, w.sys), calc.InUnits(r.Do, w.sys), calc.InUnits(res.Refused, w.sys))
}

func (w *writer) why(name, field, reason, remedy, words string) {
	w.open(name)
	w.field("field", quote(field))
	w.field("reason", quote(reason))
	w.field("remedy", quote(remedy))
	w.field("words", quote(words))
	w.close()
}

// Malformed writes what is wrong with an input, for the method it was meant for ("" where that is the fault): an
// *calc.InputError in its parts, any other error as a sentence about the input.
func Malformed(method string, err error) []byte {
	var w writer
	w.open("")
	w.field("method", quote(method))
	var in *calc.InputError
	if errors.As(err, &in) {
		w.why("malformed", in.Field, "got "+in.Value, "give "+in.Want, err.Error())
	} else {
		w.why("malformed", "input", err.Error(), "", err.Error())
	}
	return w.end()
}

// writer builds an indented object with its fields in the order they come.
type writer struct {
	sys   quantity.System
	b     bytes.Buffer
	depth int
	comma bool
}

func (w *writer) line() {
	if w.comma {
		w.b.WriteByte(',')
	}
	if w.depth > 0 {
		w.b.WriteByte('\n')
	}
	for range w.depth {
		w.b.WriteString("  ")
	}
}

func (w *writer) open(name string) {
	w.line()
	if name != "" {
		w.b.WriteString(quote(name) + ": ")
	}
	w.b.WriteByte('{')
	w.depth++
	w.comma = false
}

func (w *writer) close() {
	empty := !w.comma
	w.depth--
	w.comma = false
	if !empty {
		w.line()
	}
	w.b.WriteByte('}')
	w.comma = true
}

func (w *writer) field(name, raw string) {
	w.line()
	w.b.WriteString(quote(name) + ": " + raw)
	w.comma = true
}

func (w *writer) end() []byte {
	w.depth = 0
	w.b.WriteString("\n}\n")
	return w.b.Bytes()
}

func (w *writer) figure(f calc.FigureResult) {
	w.open(f.Name)
	w.field("value", w.value(f))
	if f.Text == nil {
		w.field("unit", quote(w.sys.For(f.Kind).Code))
	}
	if f.U > 0 || f.K > 0 {
		if f.ULists != nil {
			w.field("U", w.list(f.Kind, f.ULists))
		} else {
			w.field("U", w.number(f.Kind, f.U))
		}
		w.field("k", float(f.K))
		if f.Dof > 0 {
			w.field("dof", float(f.Dof))
		}
		if f.From != "" {
			w.field("from", quote(f.From))
		}
	}
	if f.AtLeast {
		w.field("at_least", "true")
	}
	if f.Verdict != calc.NoVerdict {
		w.field("verdict", quote(string(f.Verdict)))
		w.field("reason", quote(f.ReasonIn(w.sys)))
	}
	w.close()
}

func (w *writer) value(f calc.FigureResult) string {
	switch {
	case f.Flag != nil:
		return strconv.FormatBool(*f.Flag)
	case f.Text != nil:
		if len(f.Text) == 1 && !f.Several {
			return quote(f.Text[0])
		}
		var ss []string
		for _, s := range f.Text {
			ss = append(ss, quote(s))
		}
		return array(ss)
	case f.Value != nil:
		return w.number(f.Kind, *f.Value)
	case f.Grid != nil:
		var rows []string
		for _, r := range f.Grid {
			rows = append(rows, w.list(f.Kind, r))
		}
		return array(rows)
	}
	return w.list(f.Kind, f.List)
}

func (w *writer) number(kind quantity.Kind, x float64) string {
	u := w.sys.For(kind)
	v := u.FromBase(x)
	if u.Size != 1 {
		// Converted there may be a shorter one that reads back: 0.262 in rather than 0.26200000000000001.
		for digits := 1; digits <= 17; digits++ {
			s := strconv.FormatFloat(v, 'g', digits, 64)
			if y, err := strconv.ParseFloat(s, 64); err == nil && (u.ToBase(y) == x || readsAs(kind, s, u, x)) {
				return float(y)
			}
		}
	}
	return float(v)
}

// readsAs reports whether a text in a unit is read as just this number.
func readsAs(kind quantity.Kind, s string, u quantity.Unit, x float64) bool {
	q, err := quantity.ParseAs(kind, s+" "+u.Code)
	return err == nil && q.Float() == x
}

func (w *writer) list(kind quantity.Kind, xs []float64) string {
	ss := []string{}
	for _, x := range xs {
		ss = append(ss, w.number(kind, x))
	}
	return array(ss)
}

func (w *writer) adjustments(as []calc.AdjustmentResult) {
	var items []string
	for _, a := range as {
		unit := w.sys.For(a.Kind).Code
		if a.Unit != "" {
			unit = a.Unit
		}
		item := `{"what": ` + quote(a.What) + `, "amount": ` + w.number(a.Kind, a.Amount) + `, "unit": ` + quote(unit) +
			`, "direction": ` + quote(a.Direction)
		if a.Verdict != calc.NoVerdict {
			item += `, "verdict": ` + quote(string(a.Verdict))
		}
		if a.Pieces != nil {
			item += `, "pieces": ` + w.list(a.Kind, a.Pieces)
		}
		words := a.Words.MM
		if w.sys == quantity.Inch {
			words = a.Words.Inch
		}
		items = append(items, item+`, "words": `+quote(words)+"}")
	}
	w.field("adjustment", array(items))
}

// float prints the shortest decimal that reads back as the same number.
func float(x float64) string {
	b, err := json.Marshal(x)
	if err != nil {
		return "null" // not finite, which Run lets nothing be
	}
	return string(b)
}

func quote(s string) string {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	_ = enc.Encode(s) // a string always encodes
	return string(bytes.TrimSpace(b.Bytes()))
}

func array(items []string) string {
	var b bytes.Buffer
	b.WriteByte('[')
	for i, s := range items {
		if i > 0 {
			b.WriteString(", ")
		}
		b.WriteString(s)
	}
	b.WriteByte(']')
	return b.String()
}
