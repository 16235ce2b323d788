package plan

import (
	"slices"
	"strings"

	"thoud/calc/quantity"
)

// readGauges reads [[step.gauge]]: further gauges of a step, each with its own capture and datum.
func (d *draft) readGauges(t *table, s *stepDraft) {
	for _, gt := range t.subs("gauge") {
		if !d.applies(gt) {
			continue
		}
		name := gt.name(gt.need("name", "a short name, which the points say"), "name", "-")
		if name == "" {
			continue
		}
		if slices.ContainsFunc(s.Gauges, func(g GaugeUse) bool { return g.Name == name }) {
			gt.fault(gt.n.at("name"), "a second gauge %s", quoted(name))
			continue
		}
		gt.where = t.where + ", gauge " + quoted(name)
		g := GaugeUse{Name: name, Capture: readCapture(gt, s)}
		g.Datum = d.readRest(gt, g.Capture.Kind)
		if g.Datum != nil && g.Datum.Close {
			gt.fault(gt.n.at("datum", "close"), "only the step's own datum closes a pass; say datum = { each = true } where this gauge is to be zeroed in every pass")
		}
		gt.done()
		s.Gauges = append(s.Gauges, g)
	}
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
	ct.readParallax(&c)
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
	r := &Rest{Do: rt.long("do"), Close: rt.flag("close"), Each: rt.flag("each"), AtPoint: rt.flag("at_point")}
	if r.AtPoint && (r.Close || r.Each) {
		rt.fault(rt.n.at("at_point"), "a zero of each point's own stands through the passes and is not read again: leave close and each out")
	}
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
