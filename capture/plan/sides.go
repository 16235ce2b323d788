package plan

import (
	"slices"
	"strings"
)

// SideNeed is a step that must be done for one cylinder before the work on that cylinder begins here. A barrel or rod
// that is away holds up its own side only.
type SideNeed struct {
	Step     string // that is needed
	Cylinder string // for which it must be done
	Whole    bool   // this whole step waits for it, not only its points of that cylinder
}

// SidesOf lists what a step needs for one cylinder, and what all of it waits for ("").
func (s Step) SidesOf(cylinder string) []SideNeed {
	var out []SideNeed
	for _, n := range s.Sides {
		if n.Whole == (cylinder == "") && (n.Whole || n.Cylinder == cylinder) {
			out = append(out, n)
		}
	}
	return out
}

// Sided reports whether a step waits for steps of a cylinder, and uses what they gave before all of them is done.
func (s Step) Sided(step, cylinder string) bool {
	return slices.ContainsFunc(s.Sides, func(n SideNeed) bool { return n.Step == step && n.Cylinder == cylinder })
}

// CylinderOf is the cylinder that a point of a step belongs to, "" where it belongs to none or to all.
func (s Step) CylinderOf(point string) string {
	if pt, ok := s.Point(point); ok && pt.Cylinder != "" {
		return pt.Cylinder
	}
	return s.Cylinder
}

// Side is the cylinder that a run of a step is about, "" where it is about all of them.
func (p *Plan) Side(s Step, r Run) string {
	switch r.Compute.Per {
	case PerPoint:
		return s.CylinderOf(r.Own)
	case PerCylinder, PerValve, PerBlock:
		cylinder, _, _ := strings.Cut(r.Own, ".")
		return cylinder
	}
	return s.Cylinder
}

// readNeeds reads needs: "bores" for a step as a whole, "bores/{cylinder}" or "bores/left" for what was done of one
// cylinder.
func (t *table) readNeeds(s *stepDraft) {
	for i, n := range t.list("needs", formText) {
		id, side, sided := strings.Cut(n.text, "/")
		if !sided {
			if name := t.name(n, "needs", "-"); name != "" {
				s.Needs = append(s.Needs, name)
				s.needFrom = append(s.needFrom, i)
				s.needs = append(s.needs, name)
			}
			continue
		}
		one := *n
		one.text = id
		name := t.name(&one, "needs", "-")
		one.text = side
		if !t.ofEach(side) {
			side = t.name(&one, "needs", "-")
		}
		if name != "" && side != "" {
			s.sides = append(s.sides, sideDraft{name, side, t.n.at("needs", i), i})
			s.needs = append(s.needs, name)
		}
	}
}

// ofEach reports whether a need is of each cylinder or guide block in turn, and not of the one that the step is for.
func (t *table) ofEach(side string) bool {
	name := strings.Trim(side, "{}")
	_, own := t.vars.get(name)
	return side == "{"+name+"}" && (name == eachCylinder || name == eachBlock) && !own
}

// sideDraft is a need of one cylinder as it is written.
type sideDraft struct {
	step, cylinder string
	at             pos
	from           int // of the list
}

// expandSides writes the needs of one cylinder out: for every cylinder that the step has points of, or the one it is for.
func (d *draft) expandSides(s *stepDraft) {
	for _, n := range s.sides {
		cylinders, whole := []string{n.cylinder}, s.Cylinder == "" || s.Cylinder == n.cylinder
		if each, is := d.eachSide(n.cylinder); is {
			whole, cylinders = false, nil
			for _, c := range each {
				if slices.ContainsFunc(s.Points, func(p Point) bool { return p.Cylinder == c }) {
					cylinders = append(cylinders, c)
				}
			}
			if n.cylinder == "{"+eachBlock+"}" && !d.anyOf(n.step, cylinders) { // a casting that all blocks sit in
				s.Needs, s.needFrom = append(s.Needs, n.step), append(s.needFrom, n.from)
				continue
			}
			if len(cylinders) == 0 {
				d.fs.add(n.at, s.where, "needs %s, but no point of this step is a cylinder's: say needs = [%s]", quoted(n.step+"/"+n.cylinder), quoted(n.step))
				continue
			}
		}
		for _, c := range cylinders {
			if !slices.Contains(d.Cylinders, c) && !slices.Contains(d.Blocks, c) {
				d.fs.add(n.at, s.where, "needs %s, but there is no cylinder %s%s", quoted(n.step+"/"+c), quoted(c), meant(c, d.Cylinders))
				break
			}
			if to, ok := d.sideStep(s, n, c); ok {
				s.Sides = append(s.Sides, SideNeed{to, c, whole})
				s.sideAt = append(s.sideAt, n.at)
			}
		}
	}
}

// eachSide is what "{cylinder}" or "{block}" stands for in a need.
func (d *draft) eachSide(written string) (sides []string, is bool) {
	switch written {
	case "{" + eachCylinder + "}":
		return d.Cylinders, true
	case "{" + eachBlock + "}":
		return d.Blocks, true
	}
	return nil, false
}

// anyOf reports whether a step does something for one of these sides alone; a step that is not there is told elsewhere.
func (d *draft) anyOf(step string, sides []string) bool {
	there := false
	for _, o := range d.steps {
		if o.ID == step || o.written == step {
			there = true
			if slices.ContainsFunc(sides, func(c string) bool { return o.Cylinder == c || o.Cylinder == "" && o.ofCylinder(c) }) {
				return true
			}
		}
	}
	return !there
}

// sideStep finds the step that is needed for a cylinder: one that is written out for it, or one with points of it.
func (d *draft) sideStep(s *stepDraft, n sideDraft, cylinder string) (string, bool) {
	var names []string
	for _, o := range d.steps {
		names = append(names, o.written)
		switch {
		case o.ID != n.step && o.written != n.step:
		case o.Cylinder == cylinder:
			return o.ID, true
		case o.Cylinder == "" && o.ofCylinder(cylinder):
			return o.ID, true
		case o.Cylinder == "":
			d.fs.add(n.at, s.where, "needs %s, but nothing in step %s is done for one cylinder alone: say needs = [%s]", quoted(n.step+"/"+n.cylinder), quoted(o.ID), quoted(n.step))
			return "", false
		}
	}
	if !slices.Contains(d.Left, n.step) {
		d.fs.add(n.at, s.where, "needs %s, but there is no such step%s", quoted(n.step), guess(n.step, names))
	}
	return "", false
}

// ofCylinder reports whether something of a step is read or confirmed for one cylinder.
func (s *stepDraft) ofCylinder(cylinder string) bool {
	return slices.ContainsFunc(s.Points, func(p Point) bool { return p.Cylinder == cylinder }) ||
		slices.ContainsFunc(s.Confirms, func(c Confirm) bool { return c.Cylinder == cylinder })
}
