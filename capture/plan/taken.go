package plan

import (
	"slices"
	"strings"
)

// Taken lists the figures of one run of a step, by its key, that other computations of the plan take; sorted.
func (p *Plan) Taken(step, run string) []string {
	var out []string
	may := func(written, name string) bool { return written == name || strings.Contains(written, "{") }
	for _, s := range p.Steps {
		for _, c := range s.computations() {
			eachRef(c.Inputs, func(r Ref) bool {
				if r.Kind != RefFigure || slices.Contains(out, r.Name) || !may(r.Step, step) || !may(r.Run, run) {
					return true
				}
				for _, key := range p.own(s, c) {
					if of := r.For(key); of.Step == step && of.Run == run {
						out = append(out, r.Name)
						break
					}
				}
				return true
			})
		}
	}
	slices.Sort(out)
	return out
}
