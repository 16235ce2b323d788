package form

import (
	"bytes"
	"encoding/json"
	"strconv"

	"thoud/calc"
	"thoud/calc/quantity"
)

// Write writes a result as JSON: figures by name with value, unit, U and k, in the order of the method, then
// adjustments, verdict and warnings. Lengths are in mm and so on, or in the inch system's units. A refused result is
// {"method", "refused"}. Numbers carry 15 significant digits, all that a float64 holds.
func Write(res calc.Result, sys quantity.System) []byte {
	w := writer{sys: sys}
	w.open("")
	w.field("method", quote(res.Method))
	if res.Refused != "" {
		w.field("refused", quote(res.Refused))
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
		warnings = append(warnings, quote(s))
	}
	w.field("warnings", array(warnings))
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
	}
	if f.Verdict != calc.NoVerdict {
		w.field("verdict", quote(string(f.Verdict)))
		w.field("reason", quote(f.Reason))
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
	return float(w.sys.For(kind).FromBase(x))
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

// float prints 15 significant digits, so that 0.262 in reads as 6.6548 mm and not as 6.6548000000000005.
func float(x float64) string {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 15, 64), 64)
	if err != nil {
		y = x
	}
	b, err := json.Marshal(y)
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
