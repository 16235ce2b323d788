package plan

// What "for" writes a step, point, item or record out for.
const (
	eachCylinder = "cylinder"
	eachValve    = "valve"
	eachFirst    = "first"  // the first cylinder alone: a crank and a camshaft of one piece are read there
	eachOther    = "others" // every other cylinder; none where the engine has one
)

// eachWords are what "for" may say.
var eachWords = []string{eachCylinder, eachValve, eachFirst, eachOther}

// each gives the variables of every copy that "for" asks for; one empty set where there is no "for".
func (d *draft) each(t *table) []vars {
	if t.get("for") == nil {
		return []vars{t.vars}
	}
	var out []vars
	switch word(t, "for", "", eachWords...) {
	case eachCylinder:
		out = cylindersIn(t.vars, d.Cylinders)
	case eachFirst:
		out = cylindersIn(t.vars, d.Cylinders[:min(1, len(d.Cylinders))])
	case eachOther:
		out = cylindersIn(t.vars, d.others())
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

func cylindersIn(v vars, cylinders []string) []vars {
	var out []vars
	for _, c := range cylinders {
		out = append(out, v.with(eachCylinder, c))
	}
	return out
}

// others lists the cylinders after the first.
func (p *Plan) others() []string {
	if len(p.Cylinders) == 0 {
		return nil
	}
	return p.Cylinders[1:]
}
