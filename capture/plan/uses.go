package plan

import "slices"

// Uses lists the engine data that a step takes, as inputs, as limits, as its setting standard or as a height that is passed, in the order of the file: what
// must be confirmed before its first reading is among them.
func (p *Plan) Uses(s Step) []Datum {
	var names []string
	if s.Datum != nil {
		names = append(names, s.Datum.SizeData)
	}
	for _, g := range s.Gauges {
		if g.Datum != nil {
			names = append(names, g.Datum.SizeData)
		}
	}
	for _, pt := range s.Points {
		if pt.HeightData != "" && !slices.Contains(names, pt.HeightData) {
			names = append(names, pt.HeightData)
		}
	}
	for _, c := range s.computations() {
		eachRef(c.Inputs, func(r Ref) bool {
			if r.Kind == RefEngine {
				names = append(names, r.Name)
			}
			return true
		})
		for _, l := range c.LimitData {
			names = append(names, l.Lower, l.Upper)
		}
	}
	for i := 0; i < len(names); i++ { // what a derived value follows from is used too
		if d, ok := p.Datum(names[i]); ok {
			for _, from := range d.DerivedFrom() {
				if !slices.Contains(names, from) {
					names = append(names, from)
				}
			}
		}
	}
	var out []Datum
	for _, d := range p.Engine {
		if slices.Contains(names, d.Name) {
			out = append(out, d)
		}
	}
	return out
}

// UsesTwice reports whether a computation takes what a reference points at more than once: its error then is the same in
// every place.
func (c *Compute) UsesTwice(r Ref) bool {
	n := 0
	eachRef(c.Inputs, func(o Ref) bool {
		if o == r {
			n++
		}
		return true
	})
	return n > 1
}

// DependsOn reports whether a step computes with something of another step: a figure, a reading, the place of a point.
func (p *Plan) DependsOn(s Step, up string) bool {
	return slices.Contains(p.Ups[s.ID], up)
}

// eachRef gives every reference of a table of inputs to f, those inside of objects included, until f says false. Their
// order is not fixed.
func eachRef(inputs map[string]Binding, f func(Ref) bool) bool {
	for _, b := range inputs {
		for _, r := range b.Refs {
			if !f(r) {
				return false
			}
		}
		if !eachRef(b.Rec, f) {
			return false
		}
		for _, rec := range b.Recs {
			if !eachRef(rec, f) {
				return false
			}
		}
	}
	return true
}
