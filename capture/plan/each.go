package plan

import (
	"slices"
	"strconv"
)

// What "for" writes a step, point, item, computation or record out for.
const (
	eachCylinder = "cylinder"
	eachValve    = "valve"
	eachBlock    = "block"  // each guide block: of a cylinder, or of a camshaft where there are two
	eachFirst    = "first"  // the first cylinder alone: a crank and a camshaft of one piece are read there
	eachOther    = "others" // every other cylinder; none where the engine has one
)

// eachWords are what "for" may say.
var eachWords = []string{eachCylinder, eachValve, eachBlock, eachFirst, eachOther}

// What stands for the place of a copy among all of its kind: 1, 2, 3 or A, B, C, as loose parts are marked.
const (
	varNumber = "number"
	varLetter = "letter"
)

// each gives the variables of every copy that "for" asks for; one empty set where there is no "for".
func (d *draft) each(t *table) []vars {
	if t.get("for") == nil {
		return []vars{t.vars}
	}
	var out []vars
	switch word(t, "for", "", eachWords...) {
	case eachCylinder:
		out = d.cylindersIn(t.vars, 0, len(d.Cylinders))
		if have, ok := t.vars.get(eachCylinder); ok {
			out = slices.DeleteFunc(out, func(v vars) bool { c, _ := v.get(eachCylinder); return c != have })
		}
	case eachFirst:
		out = d.cylindersIn(t.vars, 0, min(1, len(d.Cylinders)))
	case eachOther:
		out = d.cylindersIn(t.vars, 1, len(d.Cylinders))
	case eachBlock:
		for i, b := range d.Blocks {
			out = append(out, t.vars.with(eachBlock, b).counted(i))
		}
	case eachValve:
		if len(d.Valves) == 0 {
			t.fault(t.n.at("for"), "for = \"valve\", but the plan names no valves")
		}
		for i, c := range d.Cylinders {
			if have, ok := t.vars.get(eachCylinder); ok && have != c {
				continue
			}
			for k, v := range d.Valves {
				out = append(out, t.vars.with(eachCylinder, c).with(eachValve, v).counted(i*len(d.Valves)+k))
			}
		}
	}
	return out
}

// cylindersIn writes the cylinders from one place up to before another out, in place of that of what they stand in.
func (d *draft) cylindersIn(v vars, from, to int) []vars {
	v = v.without(eachCylinder)
	var out []vars
	for i := from; i < to; i++ {
		out = append(out, v.with(eachCylinder, d.Cylinders[i]).counted(i))
	}
	return out
}

// counted adds the place of a copy among all of its kind, from 0, in place of that of what it stands in.
func (v vars) counted(i int) vars {
	letter := strconv.Itoa(i + 1)
	if i < 26 {
		letter = string(rune('A' + i))
	}
	return v.without(varNumber, varLetter).with(varNumber, strconv.Itoa(i+1)).with(varLetter, letter)
}

// others lists the cylinders after the first.
func (p *Plan) others() []string {
	if len(p.Cylinders) == 0 {
		return nil
	}
	return p.Cylinders[1:]
}
