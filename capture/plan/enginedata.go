package plan

import (
	"slices"
	"strings"

	"thoud/calc/quantity"
)

// readEngine reads the [engine.NAME] tables.
func (d *draft) readEngine(t *table) {
	all := t.sub("engine")
	if all == nil {
		return
	}
	if len(all.n.keys) > maxData {
		all.fault(all.n.pos, "%d pieces of engine data; at most %d", len(all.n.keys), maxData)
		return
	}
	for _, k := range all.n.keys {
		if !isName(k.name, "_") {
			all.fault(k.pos, "%s may hold only lower-case letters, digits and \"_\"", quoted(k.name))
			continue
		}
		if !all.want(k.val, k.name, formTable) {
			continue
		}
		dt := newTable(k.val, d.fs, `engine data "`+k.name+`"`, nil).as(keyTable("engine"))
		if !d.applies(dt) {
			d.leftData[k.name] = true
			continue
		}
		d.Engine = append(d.Engine, d.readDatum(dt, k.name))
	}
}

// kinds are the kinds of quantity a plan may name.
var kinds = []quantity.Kind{
	quantity.Length, quantity.Angle, quantity.Mass, quantity.Force, quantity.Torque, quantity.Stiffness, quantity.Stress,
	quantity.Volume, quantity.Area, quantity.Temperature, quantity.Difference, quantity.Expansion, quantity.Density,
	quantity.Pitch, quantity.Slope, quantity.Number,
}

// readDatum reads one [engine.NAME].
func (d *draft) readDatum(t *table, name string) Datum {
	t.ignore("when")
	data := Datum{Name: name, Title: t.line("title")}
	if data.Title == "" && t.n.get("title") == nil {
		data.Title = strings.ReplaceAll(name, "_", " ")
	}
	data.Kind = word(t, "kind", "", kinds...)
	given := t.datumValue(&data) + t.datumList(&data) + t.datumWord(&data) + d.datumDerived(t, &data)
	if given != 1 {
		t.fault(t.n.pos, "want exactly one of value, list, word and derived")
	}
	d.dataAt[name] = t.n.at("value")
	if n := t.get("u"); n != nil {
		of := data.Kind
		if of == quantity.Temperature {
			of = quantity.Difference
		}
		data.U, _ = t.quantity(n, "u", of)
		if data.U.Valid() && data.U.Float() < 0 {
			t.fault(n.pos, "u is %s; a standard uncertainty is not negative", data.U)
		}
	}
	if data.Derived != "" {
		data.Source = "derived: " + data.Derived
		t.done()
		return data
	}
	data.Source = readSource(t)
	data.Confirm = t.flag("confirm")
	if data.Source == CommonPractice && !data.Confirm {
		t.fault(t.n.at("source"), "a value of common practice must be confirmed by the builder: add confirm = true")
	}
	t.done()
	return data
}

// datumValue reads value and gives 1 where it is there.
func (t *table) datumValue(d *Datum) int {
	n := t.get("value")
	if n == nil {
		return 0
	}
	d.Value, _ = t.quantity(n, "value", d.Kind)
	if d.Value.Valid() {
		d.Kind = d.Value.Kind()
	}
	return 1
}

// datumList reads list and gives 1 where it is there.
func (t *table) datumList(d *Datum) int {
	n := t.get("list")
	if n == nil {
		return 0
	}
	if t.want(n, "list", formList) && len(n.items) == 0 {
		t.fault(n.pos, "list is empty")
	}
	for _, item := range n.items {
		if v, ok := t.quantity(item, "list", d.Kind); ok {
			d.Kind = v.Kind()
			d.List = append(d.List, v)
		}
	}
	return 1
}

// datumWord reads word, and what it may be, and gives 1 where it is there.
func (t *table) datumWord(d *Datum) int {
	d.Choice = t.texts("choice", longLine)
	n := t.get("word")
	if n == nil {
		if len(d.Choice) > 0 {
			t.fault(t.n.at("choice"), "choice is for a word")
		}
		return 0
	}
	d.Word = t.prose(n, "word", longLine)
	if d.Kind != "" {
		t.fault(t.n.at("kind"), "a word has no kind")
	}
	if len(d.Choice) > 0 && d.Word != "" && !slices.Contains(d.Choice, d.Word) {
		t.fault(n.pos, "word is %s%s", quoted(d.Word), meant(d.Word, d.Choice))
	}
	return 1
}

// CommonPractice is the source of a customary value. It is never used unasked: the builder confirms it first.
const CommonPractice = "common practice"

func readSource(t *table) string {
	t.need("source", "say where the value comes from: \"maker's data\", \"builder's choice\", \"common practice\", or a standard by its number")
	return t.line("source")
}
