package plan

import "slices"

// Taken lists the figures of one run of a step, by its key, that other computations of the plan take; sorted.
func (p *Plan) Taken(step, run string) []string { return p.Figures[step][run] }

// findTaken notes which figures are taken. It is asked for with every result, so it is found once.
func (p *Plan) findTaken() {
	p.Figures = map[string]map[string][]string{}
	for _, s := range p.Steps {
		for _, c := range s.computations() {
			eachRef(c.Inputs, func(r Ref) bool {
				if r.Kind != RefFigure {
					return true
				}
				for _, key := range p.own(s, c) {
					p.takes(r.For(key))
				}
				return true
			})
		}
	}
	for _, runs := range p.Figures {
		for _, names := range runs {
			slices.Sort(names)
		}
	}
}

func (p *Plan) takes(r Ref) {
	runs := p.Figures[r.Step]
	if runs == nil {
		runs = map[string][]string{}
		p.Figures[r.Step] = runs
	}
	if !slices.Contains(runs[r.Run], r.Name) {
		runs[r.Run] = append(runs[r.Run], r.Name)
	}
}
