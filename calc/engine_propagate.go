package calc

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"thoud/calc/quantity"
)

// Limits of the propagation. A perturbed run that takes another choice (another shim, another keyway) is repeated
// nearer to the inputs, so that a figure's uncertainty is that of the choice made.
const (
	pairSources  = 6   // up to so many sources the second-order pair terms are computed too
	manySources  = 128 // above, list members are perturbed together by random signs instead of one by one
	signPatterns = 24
	// secondOrder is how much of u² the second-order terms may make up before the output says so: 10 % of u² is 5 % of u.
	secondOrder = 0.1
	// numericNoise is the part of a figure that its own rounding may be wrong by.
	numericNoise = 1e-11
)

var shrinkBy = []float64{1, 1.0 / 16, 1.0 / 256}

// spread is what is known about a figure's uncertainty: standard uncertainties of its elements, the coverage factor
// (for a list the one of its least degrees of freedom) and the effective degrees of freedom (0 infinite).
type spread struct {
	u   []float64
	k   float64
	dof float64
}

type propagation struct {
	spread   map[string]spread
	warnings []string
}

// source is one independent cause of doubt: one number's own components, or one shared error on several numbers.
type source struct {
	name  string
	nums  []*Num
	steps []float64 // standard uncertainty of each number from this source
	parts []part    // what the source is made of
	floor []bool    // the number must stay above zero
	inRow bool      // member of a list or grid

	bySigns bool // one of the joint moves that stand for many members
}

type part struct{ share, dof float64 } // share of the source's step; dof 0 is infinite

// propagate gives every numeric figure its uncertainty to first order (JCGM 100:2008, 5.1): sensitivities by central
// differences on the method itself with steps of one standard uncertainty, components that share a key fully
// correlated, effective degrees of freedom by Welch–Satterthwaite (G.4.1) and truncated, k from the t-distribution.
// Where a figure is not smooth (a largest, a smallest) the larger of the two one-sided differences counts, and where
// second-order terms (5.1.2, note) matter there is a warning.
func propagate(m *Method, req Request, base *Out, level float64) propagation {
	pr := newPropagator(m, req.Inputs, base)
	if len(pr.sources) == 0 {
		return propagation{}
	}
	pr.run()
	return pr.result(level)
}

func newPropagator(m *Method, inputs map[string]Val, base *Out) *propagator {
	pr := &propagator{m: m, work: cloneVals(inputs), base: base, slots: slotsOf(m, base)}
	pr.sources = collectSources(m.Inputs, pr.work)
	pr.f0 = pr.flatten(base)
	n := len(pr.slots)
	pr.uu, pr.welch, pr.second = make([]float64, n), make([]float64, n), make([]float64, n)
	pr.kinked, pr.signs = make([]bool, n), make([]float64, n)
	return pr
}

func (pr *propagator) run() {
	if len(pr.sources) > manySources {
		pr.sources, pr.signsDof = bySigns(pr.sources)
	}
	for i := range pr.sources {
		pr.oneSource(&pr.sources[i])
	}
	if len(pr.sources) <= pairSources {
		pr.pairs()
	}
}

// propagator holds one propagation: slots are the numbers of the figures in a row.
type propagator struct {
	m        *Method
	work     map[string]Val
	base     *Out
	sources  []source
	slots    []slot
	f0       []float64
	uu       []float64 // Σ (c·u)²
	welch    []float64 // Σ (c·u)⁴/ν
	second   []float64 // second-order part of u²
	kinked   []bool
	signs    []float64   // the part of uu that came from moves by random signs
	signsDof float64     // and its degrees of freedom
	stepped  [][]float64 // figures at +u of each source, for the pairs; nil where that run was not a full step
	warnings []string
}

type slot struct {
	figure int
	at     int
	kind   quantity.Kind
}

func slotsOf(m *Method, o *Out) []slot {
	var slots []slot
	for i, f := range m.Figures {
		if f.Choice || f.Text || f.Flag {
			continue
		}
		for j := range o.values(f.Name) {
			slots = append(slots, slot{i, j, f.Kind})
		}
	}
	return slots
}

// values are the numbers of a figure in a row, nil where it was not set.
func (o *Out) values(name string) []float64 {
	if x, ok := o.nums[name]; ok {
		return []float64{x}
	}
	if xs, ok := o.lists[name]; ok {
		return xs
	}
	var all []float64
	for _, xs := range o.grids[name] {
		all = append(all, xs...)
	}
	return all
}

// flatten gives the figures' numbers in a row; nil where they are not as many as in the base run.
func (pr *propagator) flatten(o *Out) []float64 {
	row := make([]float64, 0, len(pr.slots))
	for _, f := range pr.m.Figures {
		if !f.Choice && !f.Text && !f.Flag {
			if x, ok := o.nums[f.Name]; ok {
				row = append(row, x)
				continue
			}
			row = append(row, o.values(f.Name)...)
		}
	}
	if len(row) != len(pr.slots) {
		return nil
	}
	return row
}

// at evaluates the figures with a source moved by t of its standard uncertainty; nil where the method refuses there.
// same reports whether the method took the same choices as in the base run.
func (pr *propagator) at(s *source, t float64) (row []float64, same bool) {
	olds := make([]float64, len(s.nums))
	ok := true
	for i, n := range s.nums {
		olds[i] = n.X
		n.X += t * s.steps[i]
		ok = ok && (!s.floor[i] || n.X > 0)
	}
	if ok {
		row, same = pr.eval()
	}
	for i := len(s.nums) - 1; i >= 0; i-- { // backwards: a number may stand in a source twice
		s.nums[i].X = olds[i]
	}
	return row, same
}

func (pr *propagator) eval() ([]float64, bool) {
	o, err := compute(pr.m, pr.work)
	if err != nil {
		return nil, false
	}
	return pr.flatten(o), sameChoices(pr.m, pr.base, o)
}

func sameChoices(m *Method, a, b *Out) bool {
	for _, f := range m.Figures {
		if !f.Choice {
			continue
		}
		av, bv := a.values(f.Name), b.values(f.Name)
		if len(av) != len(bv) {
			return false
		}
		for i := range av {
			if av[i] != bv[i] {
				return false
			}
		}
		at, bt := a.texts[f.Name], b.texts[f.Name]
		if len(at) != len(bt) {
			return false
		}
		for i := range at {
			if at[i] != bt[i] {
				return false
			}
		}
	}
	return true
}

// oneSource adds one source's contribution to every slot.
func (pr *propagator) oneSource(s *source) {
	var plus, minus []float64
	t := 1.0
	for i := 0; i < len(shrinkBy); i++ {
		t = shrinkBy[i]
		var sp, sm bool
		if plus, sp = pr.at(s, t); !sp && i < len(shrinkBy)-1 {
			continue
		}
		if minus, sm = pr.at(s, -t); sp && sm {
			break
		}
		// The last resort is the side that took the same choices, then any side that answers.
		if sp && !sm {
			minus = nil
		} else if sm && !sp {
			plus = nil
		}
	}
	if plus == nil && minus == nil {
		pr.warnings = append(pr.warnings, fmt.Sprintf("%s: its uncertainty could not be carried through, the method refuses on both sides of the value", s.name))
		pr.stepped = append(pr.stepped, nil)
		return
	}
	if t == 1 && plus != nil && minus != nil {
		pr.stepped = append(pr.stepped, plus)
	} else {
		pr.stepped = append(pr.stepped, nil)
	}
	kink := pr.findKinks(s, t, plus, minus)
	for j := range pr.slots {
		fwd, bwd := 0.0, 0.0
		if plus != nil {
			fwd = pr.diff(j, plus[j], pr.f0[j]) / t
		}
		if minus != nil {
			bwd = pr.diff(j, pr.f0[j], minus[j]) / t
		}
		c := (fwd + bwd) / 2
		switch {
		case plus == nil:
			c = bwd
		case minus == nil:
			c = fwd
		case kink != nil && kink[j]:
			c = fwd
			if math.Abs(bwd) > math.Abs(fwd) {
				c = bwd
			}
			pr.kinked[j] = true
		default:
			d2 := (fwd - bwd) / t
			pr.second[j] += d2 * d2 / 2
		}
		pr.uu[j] += c * c
		if s.bySigns {
			pr.signs[j] += c * c
		}
		for _, p := range s.parts {
			if p.dof > 0 {
				pr.welch[j] += math.Pow(c*p.share, 4) / p.dof
			}
		}
	}
}

// diff is a − b of a slot; angles that went round the turn (or the half turn of an axis) are brought back.
func (pr *propagator) diff(j int, a, b float64) float64 {
	d := a - b
	if pr.slots[j].kind == quantity.Angle && math.Abs(d) > 90 {
		d -= 180 * math.Round(d/180)
	}
	return d
}

func (pr *propagator) result(level float64) propagation {
	p := propagation{spread: map[string]spread{}, warnings: pr.warnings}
	warned := map[string]bool{}      // once a figure, however many elements it has
	factors := map[float64]float64{} // a quantile costs more than all the rest of a figure
	for j, s := range pr.slots {
		f := pr.m.Figures[s.figure]
		u := math.Sqrt(pr.uu[j])
		if !finite(u) || !finite(pr.welch[j]) {
			p.warnings = append(p.warnings, f.Name+": its uncertainty is beyond all numbers and is left out")
			u, pr.uu[j], pr.welch[j], pr.second[j] = 0, 0, 0, 0
		}
		sp := p.spread[f.Name]
		sp.u = append(sp.u, u)
		dof := 0.0
		if pr.signsDof > 0 {
			pr.welch[j] += pr.signs[j] * pr.signs[j] / pr.signsDof
		}
		if pr.welch[j] > 0 {
			dof = math.Max(1, math.Floor(pr.uu[j]*pr.uu[j]/pr.welch[j]*(1+1e-12)))
		}
		if dof > 0 && dof < 1e6 && (sp.dof == 0 || dof < sp.dof) {
			sp.dof = dof
		}
		k, known := factors[sp.dof]
		if !known {
			k = Coverage(level, sp.dof)
			factors[sp.dof] = k
		}
		sp.k = k
		p.spread[f.Name] = sp
		if !warned[f.Name] && pr.second[j] > secondOrder*pr.uu[j] && math.Sqrt(pr.second[j]) > numericNoise*math.Abs(pr.f0[j]) {
			p.warnings = append(p.warnings, fmt.Sprintf("%s: the first-order law is not good enough here: with second-order terms u is %s instead of %s%s",
				f.Name, brief(math.Sqrt(pr.uu[j]+pr.second[j])), brief(u), unitSuffix(f.Kind)))
			warned[f.Name] = true
		}
	}
	return p
}

// Coverage is the coverage factor k for a coverage probability and degrees of freedom (0 is infinite): the two-sided
// quantile of Student's t-distribution (JCGM 100:2008, G.3), good to eight digits.
func Coverage(level, dof float64) float64 {
	q := (1 + level) / 2
	if dof == 0 {
		return distuv.UnitNormal.Quantile(q)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Quantile(q)
}
