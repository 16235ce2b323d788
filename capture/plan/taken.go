package plan

import "slices"

// Taken lists the figures of one run of a step, by its key, that other computations of the plan take; sorted.
func (p *Plan) Taken(step, run string) []string { return p.Figures[step][run] }

// findTaken notes which figures are taken, and which steps a step takes something of. It is asked for with every result, so
// it is found once.
func (p *Plan) findTaken() {
	p.Figures, p.Ups = map[string]map[string][]string{}, map[string][]string{}
	for _, s := range p.Steps {
		for _, c := range s.computations() {
			keys := p.own(s, c)
			eachRef(c.Inputs, func(r Ref) bool {
				for _, key := range keys {
					p.takes(s.ID, r.For(key))
				}
				return true
			})
		}
		slices.Sort(p.Ups[s.ID])
	}
	for _, runs := range p.Figures {
		for _, names := range runs {
			slices.Sort(names)
		}
	}
}

func (p *Plan) takes(by string, r Ref) {
	if up := r.Of(by); up != by && !slices.Contains(p.Ups[by], up) {
		p.Ups[by] = append(p.Ups[by], up)
	}
	if r.Kind != RefFigure {
		return
	}
	runs := p.Figures[r.Step]
	if runs == nil {
		runs = map[string][]string{}
		p.Figures[r.Step] = runs
	}
	if !slices.Contains(runs[r.Run], r.Name) {
		runs[r.Run] = append(runs[r.Run], r.Name)
	}
}
