package calc

import (
	"math"
	"slices"
)

// findCommon opens the list of what comes of shared errors, for the single figures that were asked for.
func (pr *propagator) findCommon(asked []string) {
	if len(asked) == 0 {
		return
	}
	pr.common = map[int][]Component{}
	for j, s := range pr.slots {
		name := pr.m.Figures[s.figure].Name
		if _, single := pr.base.nums[name]; single && slices.Contains(asked, name) {
			pr.common[j] = nil
		}
	}
}

// keepCommon notes what a slot's uncertainty has of a shared error: the sensitivity with its sign, for one standard
// uncertainty.
func (pr *propagator) keepCommon(j int, s *source, c float64) {
	if us, asked := pr.common[j]; asked && s.key != "" && c != 0 {
		pr.common[j] = append(us, Component{Name: s.of, U: c, Dof: s.parts[0].dof, Shared: s.key})
	}
}

// Carried gives a single figure as an input of another computation, with where its uncertainty comes from: the errors it has
// in common with other results, each under its own key and with its sign, and what is left under the figure's own.
//
//	u²(left) = u² − Σ u²(common)      ν(left) = u⁴(left)/(u⁴/ν − Σ u⁴(common)/ν(common))
//
// So what two results have in common is correlated as it would be in one computation of both (JCGM 100:2008, 5.2.2 and
// F.1.2.3): it falls out of their difference and adds up in their sum. The degrees of freedom are Welch–Satterthwaite's
// (G.4.1) the other way round.
func (f FigureResult) Carried(name, key string) Num {
	n := Num{}
	if f.Value != nil {
		n.X = *f.Value
	}
	if !(f.U > 0) || !(f.K > 0) {
		return n
	}
	u := f.U / f.K
	if len(f.Common) == 0 {
		n.Us = []Component{{Name: name, U: u, Dof: f.Dof, Shared: key}}
		return n
	}
	// Every product is rounded by itself: a processor that fuses them must come to the same input.
	whole := float64(u * u)
	left, welch := whole, 0.0
	if f.Dof > 0 {
		welch = float64(whole*whole) / f.Dof
	}
	for _, c := range f.Common {
		uu := float64(c.U * c.U)
		left -= uu
		if c.Dof > 0 {
			welch -= float64(uu*uu) / c.Dof
		}
	}
	if left > numericNoise*whole {
		rest := Component{Name: name, U: math.Sqrt(left), Shared: key}
		if square := float64(left * left); welch > numericNoise*square {
			rest.Dof = math.Max(1, square/welch)
		}
		n.Us = append(n.Us, rest)
	}
	n.Us = append(n.Us, f.Common...)
	return n
}
