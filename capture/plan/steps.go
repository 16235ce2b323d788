package plan

import (
	"fmt"
	"slices"
	"strings"

	"thoud/calc/quantity"
)

// The words of the language that stand for fixed lists.
var (
	phases     = []Phase{Dry, Wash, Final}
	stepKinds  = []Kind{Measure, Fit, Check}
	ownOfAgain = []string{"id", "again", "for", "phase", "needs", "items", "out", "loose", "ends", "hold", "proof"}
)

const (
	eachCylinder = "cylinder"
	eachValve    = "valve"
)

// readSteps reads [[step]] in order and writes out those that are for each cylinder or valve.
func (d *draft) readSteps(t *table) {
	written := map[string]*node{}
	tables := t.subs("step")
	if len(tables) == 0 {
		t.fault(t.n.pos, "the plan has no [[step]]")
	}
	for i, st := range tables {
		st.where = fmt.Sprintf("step %d", i+1)
		idNode := st.need("id", "a short name, as \"bore-map\"")
		if idNode == nil {
			continue
		}
		id := ""
		if idNode.form == formText {
			id = idNode.text
		}
		n := d.merge(st, written)
		if _, twice := written[id]; !twice && id != "" {
			written[id] = n
		}
		ft := newTable(n, d.fs, "step "+quoted(id), nil)
		for _, v := range d.each(ft) {
			if len(d.steps) == maxSteps {
				t.fault(n.pos, "more than %d steps", maxSteps)
				return
			}
			d.readStep(n, id, v)
		}
	}
}

// merge lays a step that says again = "STEP" over that step: it measures the same points the same way.
func (d *draft) merge(t *table, written map[string]*node) *node {
	an := t.get("again")
	if an == nil || !t.want(an, "again", formText) {
		return t.n
	}
	base, ok := written[an.text]
	if !ok {
		t.fault(an.pos, "again = %s: there is no such step before this one", quoted(an.text))
		return t.n
	}
	if base.get("again") != nil {
		t.fault(an.pos, "again = %s: that step repeats another one itself; name the first", quoted(an.text))
		return t.n
	}
	n := &node{pos: t.n.pos, form: formTable, keys: slices.Clone(t.n.keys)}
	for _, k := range base.keys {
		if t.n.get(k.name) == nil && (k.name == "for" || !slices.Contains(ownOfAgain, k.name)) {
			n.keys = append(n.keys, k)
		}
	}
	return n
}

// each gives the variables of every copy that "for" asks for; one empty set where there is no "for".
func (d *draft) each(t *table) []vars {
	if t.get("for") == nil {
		return []vars{t.vars}
	}
	var out []vars
	switch word(t, "for", "", eachCylinder, eachValve) {
	case eachCylinder:
		for _, c := range d.Cylinders {
			out = append(out, t.vars.with(eachCylinder, c))
		}
	case eachValve:
		if len(d.Valves) == 0 {
			t.fault(t.n.at("for"), "for = \"valve\", but the plan names no valves")
		}
		for _, c := range d.Cylinders {
			if have, ok := t.vars.get(eachCylinder); ok && have != c {
				continue
			}
			for _, v := range d.Valves {
				out = append(out, t.vars.with(eachCylinder, c).with(eachValve, v))
			}
		}
	}
	return out
}

// readStep reads one step, written out with these variables.
func (d *draft) readStep(n *node, written string, v vars) {
	t := newTable(n, d.fs, "step "+quoted(written), v)
	s := &stepDraft{n: n, written: written, vars: v, where: t.where}
	t.ignore("for", "again")
	s.ID = t.name(t.get("id"), "id", "-")
	if s.ID != "" && len(v) > 0 && !strings.Contains(written, "{") {
		for _, x := range v {
			s.ID += "-" + x.value
		}
	}
	if s.ID != "" {
		t.where = "step " + quoted(s.ID)
		s.where = t.where
	}
	if again := n.get("again"); again != nil && again.form == formText {
		s.Again = v.id(again.text)
		if len(v) > 0 && !strings.Contains(again.text, "{") {
			for _, x := range v {
				s.Again += "-" + x.value
			}
		}
	}
	t.need("title", "what the step is, in a few words")
	s.Title = t.line("title")
	t.need("do", "what to do now, one sentence")
	s.Do = t.long("do")
	t.need("phase", "dry, wash or final")
	s.Phase = word(t, "phase", "", phases...)
	t.need("kind", "measure, fit or check")
	s.Kind = word(t, "kind", "", stepKinds...)
	s.Needs = t.names("needs")
	s.Cautions = t.texts("cautions", longText)
	s.Notes = t.texts("notes", longText)
	s.Hold, s.Proof = t.flag("hold"), t.flag("proof")
	if vn := t.get("view"); vn != nil {
		s.View = t.name(vn, "view", "-")
	}
	s.Seatings = t.count("seatings", 1, 1, 25)
	s.Capture = readCapture(t, s)
	s.Setup = t.amount("setup", s.Capture.Kind)
	if s.Setup.Valid() && s.Setup.Float() < 0 {
		t.fault(n.at("setup"), "setup is %s; a standard uncertainty is not negative", s.Setup)
	}
	s.Datum = d.readRest(t, s.Capture.Kind)
	d.readPoints(t, s)
	readTally(t, s)
	if ct := t.sub("compute"); ct != nil {
		s.Compute = d.readCompute(ct, s)
	}
	t.done()
	d.steps = append(d.steps, s)
}

// names is a list of names of steps or loose things.
func (t *table) names(key string) []string {
	var out []string
	for _, n := range t.list(key, formText) {
		if s := t.name(n, key, "-"); s != "" {
			out = append(out, s)
		}
	}
	return out
}

// role is the name of a gauge role that can read a kind of quantity.
func (t *table) role(n *node, key string, kind quantity.Kind) string {
	name := t.name(n, key, "-")
	if name == "" {
		return ""
	}
	if err := CheckRole(name); err != nil {
		t.newer(n.pos, "%s: %v", key, err)
		return name
	}
	switch r, _ := Role(name); {
	case !r.Measures:
		t.newer(n.pos, "%s: %s (%s) measures nothing", key, quoted(name), r.Words)
	case kind != "" && !r.Reads(kind):
		t.newer(n.pos, "%s: %s (%s) reads %s, not %s", key, quoted(name), r.Words, kindList(r.Kinds), kind)
	}
	return name
}

func kindList(kinds []quantity.Kind) string {
	words := make([]string, len(kinds))
	for i, k := range kinds {
		words[i] = string(k)
	}
	return strings.Join(words, ", ")
}

func readCapture(t *table, s *stepDraft) Capture {
	c := Capture{Mode: Press, Kind: quantity.Length}
	ct := t.sub("capture")
	if ct == nil {
		if s.Kind == Measure && t.n.get("capture") == nil {
			t.fault(t.n.pos, "capture is missing: a measure step says how its readings are taken, as { mode = \"press\", role = \"indicator\" }")
		}
		return c
	}
	c.Mode = word(ct, "mode", Press, modeNames()...)
	c.Kind = word(ct, "kind", quantity.Length, kinds...)
	if rn := ct.need("role", "which gauge, as \"indicator\", \"bore\" or \"scale\""); rn != nil {
		c.Role = ct.role(rn, "role", c.Kind)
	}
	c.Dwell = ct.dwell("dwell")
	c.Band = ct.amount("band", c.Kind)
	if an := ct.get("angle"); an != nil {
		c.Angle = ct.role(an, "angle", quantity.Angle)
	}
	if c.Mode == Trace && c.Angle == "" {
		ct.fault(ct.n.pos, "a trace pairs two gauges: name the role of the angle gauge, angle = \"angle\"")
	}
	if c.Mode != Trace && c.Angle != "" {
		ct.fault(ct.n.at("angle"), "angle is for mode = \"trace\" only")
	}
	c.AngleSetup = ct.amount("angle_setup", quantity.Angle)
	switch {
	case c.AngleSetup.Valid() && c.Angle == "":
		ct.fault(ct.n.at("angle_setup"), "angle_setup is for a trace, which names its angle gauge")
	case c.AngleSetup.Valid() && c.AngleSetup.Float() <= 0:
		ct.fault(ct.n.at("angle_setup"), "angle_setup is %s; want more than nothing", c.AngleSetup)
	}
	ct.done()
	return c
}

func (d *draft) readRest(t *table, kind quantity.Kind) *Rest {
	rt := t.sub("datum")
	if rt == nil {
		return nil
	}
	rt.need("do", "where the gauge rests while it is zeroed")
	r := &Rest{Do: rt.long("do"), Close: rt.flag("close"), Each: rt.flag("each")}
	r.Size, r.SizeData = quantity.Value{Unit: quantity.Base(kind)}, ""
	if n := rt.get("size"); n != nil {
		r.Size, r.SizeData, _ = d.engineOr(rt, n, "size", kind)
	}
	r.Drift = rt.amount("drift", kind)
	if r.Drift.Valid() && r.Drift.Float() <= 0 {
		rt.fault(rt.n.at("drift"), "drift is %s; want more than nothing", r.Drift)
	}
	rt.done()
	return r
}

// readTally reads what goes into the engine and what is left loose.
func readTally(t *table, s *stepDraft) {
	for _, c := range t.subs("confirms") {
		id := c.name(c.need("id", "a short name"), "id", "-")
		c.need("text", "what the builder confirms")
		s.Confirms = append(s.Confirms, Confirm{ID: id, Text: c.long("text")})
		c.done()
	}
	for _, it := range t.subs("items") {
		item := Item{Name: it.name(it.need("name", "what goes in"), "name", "-"), Count: it.count("count", 1, 1, 100)}
		if n := it.get("keep_until"); n != nil {
			item.KeepUntil = it.name(n, "keep_until", "-")
		}
		if n := it.need("out_before", "the step that may not begin while it is in"); n != nil {
			item.OutBefore = it.name(n, "out_before", "-")
		}
		it.done()
		s.Items = append(s.Items, item)
	}
	s.Out = t.names("out")
	for _, lt := range t.subs("loose") {
		l := Loose{Name: lt.name(lt.need("name", "what is left loose"), "name", "-")}
		if n := lt.get("ends"); n != nil {
			l.Ends = lt.name(n, "ends", "-")
		}
		lt.done()
		s.Loose = append(s.Loose, l)
	}
	s.Ends = t.names("ends")
}
