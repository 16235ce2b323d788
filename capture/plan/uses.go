package plan

import (
	"slices"
	"strings"
)

// Uses lists the engine data that a step takes, as inputs, as limits or as its setting standard, in the order of the file: what
// must be confirmed before its first reading is among them.
func (p *Plan) Uses(s Step) []Datum {
	var names []string
	if s.Datum != nil {
		names = append(names, s.Datum.SizeData)
	}
	if s.Compute != nil {
		eachBinding(s.Compute.Inputs, func(_ []any, b Binding) {
			for _, r := range b.Refs {
				if name, ok := strings.CutPrefix(r, string(RefEngine)+"."); ok {
					names = append(names, name)
				}
			}
		})
		for _, l := range s.Compute.LimitData {
			names = append(names, l.Lower, l.Upper)
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
