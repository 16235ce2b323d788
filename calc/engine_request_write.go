package calc

import (
	"encoding/json"
	"strconv"

	"thoud/calc/plainjson"
)

// AppendJSON adds a request as json.Marshal writes it, to the last byte: a request goes by the sum over these. The error is
// json.Marshal's, of a number that cannot be stored.
func (req Request) AppendJSON(to []byte) ([]byte, error) {
	w := &writer{to: to}
	w.request(req)
	if w.odd {
		b, err := json.Marshal(req)
		return append(to, b...), err
	}
	return w.to, nil
}

// writer writes the parts of a request; odd says that something of it is for json.Marshal.
type writer struct {
	to  []byte
	odd bool
	// The list of components written last, and where: the samples of a sweep have one in common.
	us       []Component
	from, on int
}

func (w *writer) raw(s string)  { w.to = append(w.to, s...) }
func (w *writer) text(s string) { w.to = plainjson.AppendString(w.to, s) }

func (w *writer) float(x float64) {
	var err error
	if w.to, err = plainjson.AppendFloat(w.to, x); err != nil {
		w.odd = true
	}
}

// field writes the name of a field that is there only where it says something.
func (w *writer) field(is bool, name string) bool {
	if !is {
		return false
	}
	if w.to[len(w.to)-1] != '{' { // no value ends so
		w.raw(",")
	}
	w.raw(name)
	return true
}

func (w *writer) request(req Request) {
	w.raw(`{"method":`)
	w.text(req.Method)
	w.raw(`,"inputs":`)
	w.vals(req.Inputs)
	if w.field(req.Kind != "", `"kind":`) {
		w.text(string(req.Kind))
	}
	if w.field(len(req.Limits) > 0, `"limits":`) {
		writeTable(w, req.Limits, w.limit)
	}
	if w.field(req.Guard != 0, `"guard":`) {
		w.float(req.Guard)
	}
	if w.field(req.Level != 0, `"level":`) {
		w.float(req.Level)
	}
	if w.field(len(req.Words) > 0, `"words":`) {
		writeTable(w, req.Words, w.text)
	}
	if w.field(req.Told != "", `"told":`) {
		w.text(req.Told)
	}
	w.field(req.GaugeOnly, `"gauge_only":true`)
	if w.field(req.Digits != 0, `"digits":`) {
		w.float(req.Digits)
	}
	if w.field(len(req.Common) > 0, `"common":`) {
		writeList(w, req.Common, w.text)
	}
	w.raw("}")
}

func (w *writer) vals(all map[string]Val) {
	if all == nil {
		w.raw("null")
		return
	}
	writeTable(w, all, w.val)
}

func (w *writer) val(v Val) {
	w.raw("{")
	if w.field(v.Num != nil, `"num":`) {
		w.num(*v.Num)
	}
	if w.field(len(v.List) > 0, `"list":`) {
		writeList(w, v.List, w.num)
	}
	if w.field(len(v.Grid) > 0, `"grid":`) {
		writeList(w, v.Grid, w.row)
	}
	if w.field(len(v.Cube) > 0, `"cube":`) {
		writeList(w, v.Cube, func(grid [][]Num) { writeList(w, grid, w.row) })
	}
	if w.field(v.Text != "", `"text":`) {
		w.text(v.Text)
	}
	if w.field(len(v.Texts) > 0, `"texts":`) {
		writeList(w, v.Texts, w.text)
	}
	if w.field(v.Flag != nil, `"flag":`) {
		w.to = strconv.AppendBool(w.to, *v.Flag)
	}
	if w.field(len(v.Rec) > 0, `"rec":`) {
		w.vals(v.Rec)
	}
	if w.field(len(v.Recs) > 0, `"recs":`) {
		writeList(w, v.Recs, w.vals)
	}
	w.raw("}")
}

func (w *writer) row(all []Num) { writeList(w, all, w.num) }

func (w *writer) num(n Num) {
	w.raw(`{"x":`)
	w.float(n.X)
	if w.field(len(n.Us) > 0, `"us":`) {
		w.components(n.Us)
	}
	w.raw("}")
}

func (w *writer) components(us []Component) {
	if len(us) == len(w.us) && &us[0] == &w.us[0] {
		w.to = append(w.to, w.to[w.from:w.on]...)
		return
	}
	from := len(w.to)
	writeList(w, us, w.component)
	w.us, w.from, w.on = us, from, len(w.to)
}

func (w *writer) component(c Component) {
	w.raw(`{"name":`)
	w.text(c.Name)
	w.raw(`,"u":`)
	w.float(c.U)
	if w.field(c.Dof != 0, `"dof":`) {
		w.float(c.Dof)
	}
	if w.field(c.Shared != "", `"shared":`) {
		w.text(c.Shared)
	}
	w.raw("}")
}

func (w *writer) limit(l Limit) {
	w.raw("{")
	if w.field(l.Lower != nil, `"lower":`) {
		w.float(*l.Lower)
	}
	if w.field(l.Upper != nil, `"upper":`) {
		w.float(*l.Upper)
	}
	if w.field(l.Source != "", `"source":`) {
		w.text(l.Source)
	}
	w.raw("}")
}

// writeList writes a list; one that is not there is null.
func writeList[T any](w *writer, all []T, one func(T)) {
	if all == nil {
		w.raw("null")
		return
	}
	w.raw("[")
	for i, x := range all {
		if i > 0 {
			w.raw(",")
		}
		one(x)
	}
	w.raw("]")
}

// writeTable writes a map in the order of its keys.
func writeTable[T any](w *writer, all map[string]T, one func(T)) {
	w.raw("{")
	for _, key := range Sorted(all) {
		w.field(true, "")
		w.text(key)
		w.raw(":")
		one(all[key])
	}
	w.raw("}")
}
