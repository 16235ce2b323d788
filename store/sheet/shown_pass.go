package sheet

import (
	"thoud/capture/bench"
)

// shownPass is the pass in force, or the last that is not void; nil where there is none.
func (st Step) shownPass() *Pass {
	var last *Pass
	for i := range st.Passes {
		p := &st.Passes[i]
		if p.Number == st.InForce {
			return p
		}
		if p.Status != bench.PassIsVoid {
			last = p
		}
	}
	return last
}
