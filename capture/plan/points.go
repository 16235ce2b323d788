package plan

import (
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
)

// readPoints reads [[step.point]] and writes out "for" and "along".
func (d *draft) readPoints(t *table, s *stepDraft) {
	for _, pt := range t.subs("point") {
		pt.where = t.where + ", point"
		for _, v := range d.each(pt) {
			if !d.appliesTo(pt, v) {
				s.left = append(s.left, pt.n)
				continue
			}
			copies, ok := along(pt, v)
			if !ok {
				break
			}
			for _, c := range copies {
				if d.full {
					return
				}
				d.points++
				if d.points > maxPoints {
					d.full = true
					t.fault(pt.n.pos, "the plan has more than %d points; that is no plan for one engine", maxPoints)
					return
				}
				p := d.readPoint(newTable(pt.n, d.fs, pt.where, c).as(pt.of), s)
				s.Points = append(s.Points, p)
				s.places = append(s.places, pt.n.at("id"))
			}
		}
	}
}

// along writes out along = {depth = [...], axis = [...]}: every combination, the first list slowest.
func along(pt *table, v vars) ([]vars, bool) {
	out := []vars{v}
	at := pt.sub("along")
	if at == nil {
		return out, pt.n.get("along") == nil
	}
	for _, k := range at.n.keys {
		if _, taken := v.get(k.name); taken || !isName(k.name, "_") {
			at.fault(k.pos, "%s can't be a name here", quoted(k.name))
			return nil, false
		}
		var values []string
		for _, n := range at.list(k.name, formText) {
			value := at.raw(n, k.name, longID)
			if value == "" {
				return nil, false
			}
			values = append(values, value)
		}
		if len(values) == 0 {
			at.fault(k.pos, "%s lists nothing", quoted(k.name))
			return nil, false
		}
		if len(out)*len(values) > maxPoints {
			at.fault(at.n.pos, "more than %d points", maxPoints)
			return nil, false
		}
		var next []vars
		for _, o := range out {
			for _, value := range values {
				one := o.with(k.name, value)
				if words, ok := fromTop(value); ok {
					one = one.with(k.name+topVar, words)
				}
				next = append(next, one)
			}
		}
		out = next
	}
	return out, true
}

// topVar ends the name of what says an angle of "along" in words: {angle:top}.
const topVar = ":top"

// fromTop says an angle from the top in words, which is told by no sign: "5° before the top".
func fromTop(angle string) (string, bool) {
	v, err := quantity.ParseAs(quantity.Angle, angle)
	if err != nil {
		return "", false
	}
	return calc.FromTop(v.Float(), strings.TrimPrefix(v.Digits(), "-")+"°"), true
}

// readPoint reads one point with its variables written out. Depth and angle may be left to "along" lists of these names.
func (d *draft) readPoint(t *table, s *stepDraft) Point {
	t.ignore("for", "along", "when")
	var p Point
	kind := s.Capture.Kind
	if n := t.get("gauge"); n != nil {
		p.Gauge = t.name(n, "gauge", "-")
		i := slices.IndexFunc(s.Gauges, func(g GaugeUse) bool { return g.Name == p.Gauge })
		if i >= 0 {
			kind = s.Gauges[i].Capture.Kind
		} else if p.Gauge != "" {
			t.fault(n.pos, "the step has no [[step.gauge]] named %s%s", quoted(p.Gauge), meant(p.Gauge, gaugeNames(s.Gauges)))
		}
	}
	if n := t.need("id", "as \"left\" or \"{cylinder}.{depth}\""); n != nil {
		p.ID = t.vars.id(t.raw(n, "id", longID))
		switch name := leftover(p.ID); {
		case name != "":
			t.fault(n.pos, "id: {%s} stands for nothing here%s", name, t.vars.hint())
		case p.ID != "" && !isPointID(p.ID):
			t.fault(n.pos, "id %s may hold only lower-case letters, digits and \"-\", in parts with dots between", quoted(p.ID))
		}
		t.where = t.where + " " + quoted(p.ID)
	}
	p.Title, p.Do = t.line("title"), t.long("do")
	p.Cylinder = t.vars.sideIn()
	p.Once, p.First = t.flag("once"), t.flag("first")
	p.FromPass = t.count("from_pass", 0, 1, 99)
	if n := t.get("role"); n != nil {
		p.Role = t.role(n, "role", kind)
	}
	p.Mode = word(t, "mode", "", modeNames()...)
	if v, ok := t.placed("angle", quantity.Angle); ok {
		a := v.Float()
		p.Angle = &a
	}
	if v, ok := t.placed("depth", quantity.Length); ok {
		p.Depth = &v
	}
	d.readEye(t, &p, s)
	if mode := p.Mode; mode == Crossings || mode == "" && s.captureOf(p.Gauge).Mode == Crossings {
		kind = quantity.Angle // what is kept is the wheel's
	}
	p.Least, p.Most = t.amount("least", kind), t.amount("most", kind)
	if n := t.get("unit"); n != nil && t.want(n, "unit", formText) {
		if p.Unit = t.prose(n, "unit", longID); kind != quantity.Number {
			t.fault(n.pos, "unit: what is read here is a %s, which has its units; leave it out", kind)
		}
	}
	if p.Least.Valid() && p.Most.Valid() && p.Least.Float() >= p.Most.Float() {
		t.fault(t.n.at("least"), "least %s is not below most %s", p.Least, p.Most)
	}
	t.done()
	return p
}

// placed is a quantity given by a key, or by the "along" list of the key's name.
func (t *table) placed(key string, kind quantity.Kind) (quantity.Value, bool) {
	if n := t.get(key); n != nil {
		return t.quantity(n, key, kind)
	}
	s, ok := t.vars.get(key)
	if !ok {
		return quantity.Value{}, false
	}
	v, err := quantity.ParseAs(kind, s)
	if err != nil {
		t.fault(t.n.at("along", key), "%s: %v", key, err)
		return quantity.Value{}, false
	}
	return v, true
}

func gaugeNames(gauges []GaugeUse) []string {
	names := make([]string, len(gauges))
	for i, g := range gauges {
		names[i] = g.Name
	}
	return names
}

// captureOf is the capture of one of the step's further gauges, or the step's own.
func (s *stepDraft) captureOf(gauge string) Capture {
	for _, g := range s.Gauges {
		if g.Name == gauge {
			return g.Capture
		}
	}
	return s.Capture
}
