package calc

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"thoud/calc/quantity"
)

// Limits of the propagation. A perturbed run that takes another choice (another shim, another keyway) is repeated
// nearer to the inputs, so that a figure's uncertainty is that of the choice made.
const (
	pairSources  = 6    // up to so many sources the second-order pair terms are computed too
	manySources  = 1000 // above, list members are perturbed together by random signs instead of one by one
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
	u      []float64
	common []Component // of a single figure, where it was asked for
	k      float64
	dof    float64
	from   string // what governs, where a fit gives the figure
}

type propagation struct {
	spread   map[string]spread
	warnings []string
	unstated bool // neither the inputs nor a fit gave any uncertainty
}

// finds reports whether any figure has an uncertainty.
func (p propagation) finds() bool {
	for _, s := range p.spread {
		for _, u := range s.u {
			if u > 0 {
				return true
			}
		}
	}
	return false
}

// propagate gives every numeric figure its uncertainty to first order (JCGM 100:2008, 5.1): sensitivities by central
// differences on the method itself with steps of one standard uncertainty, or as the method gives them (Slopes);
// components that share a key fully correlated; effective degrees of freedom by Welch–Satterthwaite (G.4.1) and
// truncated, k from the t-distribution. Where a figure is not smooth (a largest, a smallest) the larger of the two
// one-sided differences counts, and where second-order terms (5.1.2, note) matter there is a warning. Where figures come
// out of a fit, its residuals are held against what was stated (Fit).
func propagate(m *Method, req Request, base *Out, level float64) propagation {
	pr := newPropagator(m, req, base)
	if len(pr.slots) == 0 || len(pr.sources) == 0 && len(base.model) == 0 {
		return propagation{warnings: pr.warnings}
	}
	pr.run()
	return pr.result(level)
}

func newPropagator(m *Method, req Request, base *Out) *propagator {
	pr := &propagator{m: m, work: cloneVals(req.Inputs), base: base, uncertain: anyUncertainty(req.Inputs), slots: slotsOf(m, base)}
	atLeastResolution(m, base.fits, pr.work, req.Digits)
	pr.sources = collectSources(m.Inputs, pr.work)
	pr.f0 = pr.flatten(base)
	n := len(pr.slots)
	pr.uu, pr.welch, pr.second = make([]float64, n), make([]float64, n), make([]float64, n)
	pr.kinked, pr.signs, pr.from = make([]bool, n), make([]float64, n), make([]string, n)
	pr.findMembers()
	pr.takeFits()
	pr.findCommon(req.Common)
	return pr
}

// takeFits judges the fits, tells each source which of them it is read by, and adds the readings' own scatter as a
// source where nothing was stated for them.
func (pr *propagator) takeFits() {
	read := map[*Num][]*fitUse{}
	for _, f := range pr.base.fits {
		u := pr.useFit(f)
		pr.fits = append(pr.fits, u)
		pr.warnings = append(pr.warnings, u.warnings()...)
		for _, m := range append(append([]Measured(nil), f.Readings...), f.Against...) {
			m.each(pr.work, len(f.Residuals), func(_ int, n *Num, _ float64) { read[n] = append(read[n], u) })
		}
	}
	for i := range pr.sources {
		if s := &pr.sources[i]; s.own {
			s.fits = read[s.nums[0]]
		}
	}
	for _, u := range pr.fits {
		if u.stated || !(u.ratio > 0) {
			continue
		}
		for _, m := range u.Readings {
			m.each(pr.work, len(u.Residuals), func(_ int, n *Num, _ float64) {
				pr.sources = append(pr.sources, source{name: m.Input, nums: []*Num{n}, steps: []float64{math.Sqrt(u.ratio)}, floor: []bool{false}, inRow: true, alone: u})
			})
		}
	}
}

func (pr *propagator) run() {
	pr.sources = pr.takeKnown()
	if len(pr.sources) > manySources {
		pr.sources, pr.signsDof = bySigns(pr.sources)
		pr.warnings = append(pr.warnings, fmt.Sprintf("U: there are more than %d uncertain readings, so it is known to about 15 %% of itself", manySources))
	}
	for i := range pr.sources {
		pr.oneSource(&pr.sources[i])
	}
	if len(pr.sources) <= pairSources {
		pr.pairs()
	}
	pr.joinFits()
	pr.joinModels()
}

// propagator holds one propagation: slots are the numbers of the figures in a row.
type propagator struct {
	m         *Method
	work      map[string]Val
	base      *Out
	moved     Out  // with a source moved, the same room for all
	uncertain bool // an uncertainty was stated
	sources   []source
	fits      []*fitUse
	members   map[*Num]member // of the inputs whose slopes the method gives
	idle      map[*Num]bool   // numbers that move no figure
	slots     []slot
	f0        []float64
	uu        []float64 // Σ (c·u)²
	welch     []float64 // Σ (c·u)⁴/ν
	second    []float64 // second-order part of u²
	from      []string  // what governs, of slots that a fit gives
	kinked    []bool
	common    map[int][]Component // what comes of shared errors, by slot, where it was asked for
	signs     []float64           // the part of uu that came from moves by random signs
	signsDof  float64             // and its degrees of freedom
	stepped   [][]float64         // figures at +u of each source, for the pairs; nil where that run was not a full step
	warnings  []string
}

type slot struct {
	figure int
	at     int
	kind   quantity.Kind
}

func slotsOf(m *Method, o *Out) []slot {
	var slots []slot
	for i, f := range m.Figures {
		if f.certain() {
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
		if !f.certain() && len(pr.base.values(f.Name)) > 0 { // one that appears only beside the value is not carried to
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
	pr.moved.empty(pr.base)
	o, err := computeInto(&pr.moved, pr.work)
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

// tried is what moving a source both ways gave: the figures each way, nil where there is no answer that way, at t of its
// standard uncertainty.
type tried struct {
	plus, minus []float64
	t           float64
}

// try moves a source both ways, nearer and nearer to the inputs until the method takes the same choices as in the base
// run. The last resort is the side that took the same choices, then any side that answers.
func (pr *propagator) try(s *source) tried {
	var r tried
	for i := range shrinkBy {
		var sp, sm bool
		r.t = shrinkBy[i]
		if r.plus, sp = pr.at(s, r.t); !sp && i < len(shrinkBy)-1 {
			continue
		}
		r.minus, sm = pr.at(s, -r.t)
		switch {
		case sp && sm:
			return r
		case sp:
			r.minus = nil
		case sm:
			r.plus = nil
		}
	}
	return r
}

// oneSource adds one source's contribution to every slot.
func (pr *propagator) oneSource(s *source) {
	r := pr.try(s)
	if r.plus == nil && r.minus == nil {
		pr.warnings = append(pr.warnings, fmt.Sprintf("%s: its uncertainty could not be carried through, the method refuses on both sides of the value", s.name))
		pr.stepped = append(pr.stepped, nil)
		return
	}
	if r.t == 1 && r.plus != nil && r.minus != nil {
		pr.stepped = append(pr.stepped, r.plus)
	} else {
		pr.stepped = append(pr.stepped, nil)
	}
	kink := pr.findKinks(s, r.t, r.plus, r.minus)
	for j := range pr.slots {
		c, bend := pr.sensitivity(j, r, kink != nil && kink[j])
		pr.add(j, s, c, bend)
	}
}

// sensitivity is how a slot follows a source, for one standard uncertainty, and its second-order part.
func (pr *propagator) sensitivity(j int, r tried, kink bool) (c, bend float64) {
	fwd, bwd := 0.0, 0.0
	if r.plus != nil {
		fwd = pr.diff(j, r.plus[j], pr.f0[j]) / r.t
	}
	if r.minus != nil {
		bwd = pr.diff(j, pr.f0[j], r.minus[j]) / r.t
	}
	switch {
	case r.plus == nil:
		return bwd, 0
	case r.minus == nil:
		return fwd, 0
	case kink:
		pr.kinked[j] = true
		if math.Abs(bwd) > math.Abs(fwd) {
			return bwd, 0
		}
		return fwd, 0
	}
	d2 := (fwd - bwd) / r.t
	return (fwd + bwd) / 2, d2 * d2 / 2
}

// add puts a contribution where it belongs: into the sums of all sources, or into those of the fit that the source is
// read by, scaled by what its residuals say.
func (pr *propagator) add(j int, s *source, c, bend float64) {
	if s.alone != nil {
		if s.alone.slots[j] {
			s.alone.alone[j] += c * c
		}
		return
	}
	pr.keepCommon(j, s, c)
	uu, welch := pr.uu, pr.welch
	for _, f := range s.fits {
		if !f.slots[j] {
			continue
		}
		uu, welch = f.uu, f.welch
		if f.scatter {
			c *= math.Sqrt(f.ratio)
			bend *= f.ratio * f.ratio
		}
		break
	}
	uu[j] += c * c
	pr.second[j] += bend
	if s.bySigns {
		pr.signs[j] += c * c
	}
	for _, p := range s.parts {
		if p.dof > 0 {
			welch[j] += math.Pow(c*p.share, 4) / p.dof
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
			delete(pr.common, j)
		}
		sp := p.spread[f.Name]
		sp.u, sp.common = append(sp.u, u), pr.common[j]
		if pr.from[j] != "" {
			sp.from = pr.from[j]
		}
		if dof := pr.dof(j); dof > 0 && dof < 1e6 && (sp.dof == 0 || dof < sp.dof) {
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
	if !pr.uncertain {
		maps.DeleteFunc(p.spread, func(_ string, s spread) bool { return slices.Max(s.u) == 0 })
	}
	return p
}

// dof is a slot's effective degrees of freedom, truncated; 0 where infinite.
func (pr *propagator) dof(j int) float64 {
	if pr.signsDof > 0 {
		pr.welch[j] += pr.signs[j] * pr.signs[j] / pr.signsDof
	}
	if !(pr.welch[j] > 0) {
		return 0
	}
	return math.Max(1, math.Floor(pr.uu[j]*pr.uu[j]/pr.welch[j]*(1+1e-12)))
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
