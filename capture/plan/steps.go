package plan

import (
	"fmt"
	"slices"
	"strings"

	"thoud/calc/quantity"
)

// The words of the language that stand for fixed lists.
var (
	phases     = []Phase{Dry, Wash, Final, Start, Heat}
	stepKinds  = []Kind{Measure, Fit, Check}
	ownOfAgain = []string{"id", "again", "for", "phase", "needs", "items", "out", "loose", "ends", "hold", "proof", "cures", "data", "after", "asks"}
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
		ft := newTable(n, d.fs, "step "+quoted(id), nil).as(keyTable("step"))
		d.fileStep, d.wholeStep, d.usedAsks = i, true, nil
		in := d.applies(ft)
		d.wholeStep = false
		asked := d.usedAsks
		if _, twice := written[id]; (!twice || in) && id != "" {
			written[id] = n
		}
		copies := d.each(ft)
		if len(copies) == 0 && id != "" { // for the other cylinders of an engine that has one
			d.Left = append(d.Left, id)
		}
		for _, v := range copies {
			if !in {
				d.leaveOut(id, v, asked)
				continue
			}
			if len(d.steps) == maxSteps {
				t.fault(n.pos, "more than %d steps", maxSteps)
				return
			}
			d.usedAsks = slices.Clone(asked)
			d.readStep(n, id, v)
		}
	}
}

// leaveOut notes the id of a step that the plan's variants leave out: who needs it counts it as done.
func (d *draft) leaveOut(written string, v vars, asked []string) {
	id := writtenOut(written, v)
	d.leftBy[id] = append(d.leftBy[id], asked...)
	d.leftBy[written] = append(d.leftBy[written], asked...)
	d.Left = append(d.Left, id)
	if id != written {
		d.Left = append(d.Left, written)
	}
}

// writtenOut is the id of one of the steps that a step is written out to.
func writtenOut(written string, v vars) string {
	id := v.id(written)
	if !strings.Contains(written, "{") {
		for _, x := range v {
			if slices.Contains(eachWords, x.name) {
				id += "-" + x.value
			}
		}
	}
	return id
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

// readStep reads one step, written out with these variables.
func (d *draft) readStep(n *node, written string, v vars) {
	n, leftOut := d.changed(n, written, writtenOut(written, v))
	t := newTable(n, d.fs, "step "+quoted(written), v).as(keyTable("step"))
	t.vars = d.answersSaid(t, n)
	s := &stepDraft{n: n, written: written, vars: v, where: t.where}
	t.ignore("for", "again", "when", "after")
	s.LeftOut = leftOut
	if s.ID = t.name(t.get("id"), "id", "-"); s.ID != "" {
		s.ID = writtenOut(written, v)
		t.where = "step " + quoted(s.ID)
		s.where = t.where
	}
	if again := n.get("again"); again != nil && again.form == formText {
		s.Again = writtenOut(again.text, v)
	}
	t.need("title", "what the step is, in a few words")
	s.Title = t.line("title")
	t.need("do", "what to do now, one sentence")
	s.Do = t.long("do")
	t.need("phase", "dry, wash, final, start or heat")
	s.Phase = word(t, "phase", "", phases...)
	t.need("kind", "measure, fit or check")
	s.Kind = word(t, "kind", "", stepKinds...)
	s.Cylinder = v.sideIn()
	t.readNeeds(s)
	s.Cautions = t.texts("cautions", longText)
	s.Notes = t.texts("notes", longText)
	s.Hold, s.Proof, s.Data = t.flag("hold"), t.flag("proof"), t.flag("data")
	if vn := t.get("view"); vn != nil {
		s.View = t.name(vn, "view", "-")
	}
	s.Seatings = t.count("seatings", 1, 1, 25)
	s.Capture = readCapture(t, s)
	setup := s.Capture.Kind
	if s.Capture.Mode == Crossings {
		setup = quantity.Angle
	}
	s.Setup = t.amount("setup", setup)
	if s.Setup.Valid() && s.Setup.Float() < 0 {
		t.fault(n.at("setup"), "setup is %s; a standard uncertainty is not negative", s.Setup)
	}
	s.Datum = d.readRest(t, s.Capture.Kind)
	d.readGauges(t, s)
	d.readPoints(t, s)
	d.readAsks(t, s)
	d.readTally(t, s)
	d.readCures(t, s)
	d.readComputations(t, s)
	t.done()
	s.asked = d.usedAsks
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
