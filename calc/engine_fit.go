package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"thoud/calc/quantity"
)

// Fit tells Run that some figures come out of more readings than they have unknowns, so that the readings themselves say
// how well they were taken. Run then takes the larger of what was stated and what the residuals show:
//
//	ν = n − unknowns      χ²/ν = Σ (r/u)²/ν,  u² = Σ (slope·u of each thing that was measured)², independent parts only
//	χ²/ν over the 80 % point of chi-square/ν:  u is √(χ²/ν) times what was stated, with ν degrees of freedom
//	else:                                      u is what was stated, with its own degrees of freedom
//	readings without a stated u:               u is the scatter alone, √(Σ r²/ν), with ν degrees of freedom
//
// What the readings share (calibration, one zero, a length of the engine) leaves no residual and is added after, as
// always. Stated too small is the usual fault and residuals show it; residuals that are small by luck must not shrink
// what is stated: with three degrees of freedom one set in seven scatters less than half of what is true. Without the
// gate an honest statement would be charged for every larger scatter that chance makes (GUM 4.2, G.4; the ratio is
// Birge's).
//
// A new fit uses it so: at the end of Compute, with the residuals at hand,
//
//	out.Fit(Fit{Figures: []string{"tdc"}, Residuals: r, Unknowns: 2,
//	    Readings: []Measured{{Input: "reading"}},
//	    Against:  []Measured{{Input: "crank_angle", Slope: slopes}}})
//	out.ModelError("tdc", a)    where the formula itself may be wrong by ±a
//
// and weighs its readings, where it weighs them, by Args.Spread. Figures lists what the fit gives; a figure that only
// picks readings (an opening between two samples) is not of the fit.
type Fit struct {
	Figures   []string   // figures that this fit gives
	Residuals []float64  // reading less fitted value
	Unknowns  int        // what was fitted
	Readings  []Measured // whose scatter the residuals are
	Against   []Measured // what else was measured apart for each reading: the angles
}

// Measured is one thing that was measured for every residual: the members of an input, and how the residual follows it.
type Measured struct {
	Input  string
	Member []int     // the input's number behind each residual, a grid counted through; nil: the first n in order
	Slope  []float64 // change of the residual per unit of that number; its sign does not matter; nil is 1
}

// Fit declares a fit; see Fit.
func (o *Out) Fit(f Fit) { o.fits = append(o.fits, f) }

// ModelError tells Run that a formula is not exact for a figure: it is wrong by at most so much either way, which adds
// halfWidth/√3 to u.
func (o *Out) ModelError(figure string, halfWidth float64) {
	o.decl(figure)
	if o.model == nil {
		o.model = map[string]float64{}
	}
	o.model[figure] = halfWidth
}

// Of what governs a figure's uncertainty.
const (
	fromStated  = "stated"
	fromScatter = "scatter"
)

// Bounds of what chance explains.
const (
	governs  = 0.80  // scatter above this point of chi-square counts
	isChance = 0.999 // and above this one it is told, at the latest from three times the stated on
	atLatest = 9.0
)

// judged is a fit with what its residuals say of what was stated.
type judged struct {
	Fit
	dof     float64
	ratio   float64 // χ²/ν, or the variance of the readings where none is stated
	stated  bool    // every reading came with an uncertainty
	scatter bool    // the residuals govern
	mean    float64 // of the stated variances of the residuals
}

// fitUse is a fit at work in one propagation.
type fitUse struct {
	judged
	slots []bool // by slot: one of its figures
	uu    []float64
	welch []float64
	alone []float64 // Σ (c·s)² of the scatter, where nothing is stated for the readings
}

// membersOf gives the numbers of an input in a row.
func membersOf(v Val) []*Num {
	var out []*Num
	for i := range v.List {
		out = append(out, &v.List[i])
	}
	for _, row := range v.Grid {
		for i := range row {
			out = append(out, &row[i])
		}
	}
	return out
}

// each visits the number behind every residual, with the slope it has there.
func (m Measured) each(vals map[string]Val, n int, visit func(i int, num *Num, slope float64)) {
	nums := membersOf(vals[m.Input])
	for i := range n {
		at, slope := i, 1.0
		if m.Member != nil {
			at = m.Member[i]
		}
		if m.Slope != nil {
			slope = m.Slope[i]
		}
		if at < len(nums) {
			visit(i, nums[at], slope)
		}
	}
}

// useFit prepares a fit for the propagation.
func (pr *propagator) useFit(f Fit) *fitUse {
	n := len(pr.slots)
	u := &fitUse{judged: f.judge(pr.work), slots: make([]bool, n), uu: make([]float64, n), welch: make([]float64, n), alone: make([]float64, n)}
	for j, s := range pr.slots {
		u.slots[j] = slices.Contains(f.Figures, pr.m.Figures[s.figure].Name)
	}
	return u
}

// judge holds the residuals against what is stated.
func (f Fit) judge(vals map[string]Val) judged {
	u := judged{Fit: f, dof: float64(len(f.Residuals) - f.Unknowns), stated: len(f.Residuals) > 0}
	reading, against := f.variances(vals)
	for i, v := range reading {
		u.stated = u.stated && v > 0
		u.mean += (v + against[i]) / float64(len(reading))
	}
	if u.dof <= 0 {
		return u
	}
	if !u.stated {
		u.ratio = f.varianceOfReadings(vals, u.dof)
		return u
	}
	for i, r := range f.Residuals {
		u.ratio += r * r / (reading[i] + against[i]) / u.dof
	}
	u.scatter = u.ratio > chiSquared(governs, u.dof)
	return u
}

// OneReading is the standard uncertainty of one residual of a fit by the same rule, for a method that must know whether
// what it found is more than scatter.
func (a Args) OneReading(f Fit) float64 {
	u := f.judge(a.vals)
	switch {
	case !u.stated:
		return math.Sqrt(math.Max(u.ratio, u.mean))
	case u.scatter:
		return math.Sqrt(u.ratio * u.mean)
	}
	return math.Sqrt(u.mean)
}

// variances gives the stated variance of each residual, from the readings and from what they were read against.
func (f Fit) variances(vals map[string]Val) (reading, against []float64) {
	n := len(f.Residuals)
	sum := func(ms []Measured) []float64 {
		v := make([]float64, n)
		for _, m := range ms {
			m.each(vals, n, func(i int, num *Num, slope float64) {
				s := slope * num.independentU()
				v[i] += s * s
			})
		}
		return v
	}
	return sum(f.Readings), sum(f.Against)
}

// leastSlope is the share of the steepest slope below which a residual says nothing about its reading.
const leastSlope = 1e-3

// varianceOfReadings is the variance of the readings themselves where nothing is stated for them.
func (f Fit) varianceOfReadings(vals map[string]Val, dof float64) float64 {
	unit := make([]float64, len(f.Residuals))
	for _, m := range f.Readings {
		m.each(vals, len(unit), func(i int, _ *Num, slope float64) { unit[i] += slope * slope })
	}
	steepest := 0.0
	for _, s := range unit {
		steepest = math.Max(steepest, s)
	}
	sum := 0.0
	for i, r := range f.Residuals {
		if unit[i] > leastSlope*leastSlope*steepest {
			sum += r * r / unit[i]
		}
	}
	return sum / dof
}

func chiSquared(level, dof float64) float64 {
	return distuv.ChiSquared{K: dof}.Quantile(level) / dof
}

// independentU is the part of a number's standard uncertainty that no other number shares.
func (n Num) independentU() float64 {
	u := 0.0
	for _, c := range n.Us {
		if c.Shared == "" {
			u = math.Hypot(u, c.U)
		}
	}
	return u
}

// Spread is the independent standard uncertainty of each number of a list, as a fit weighs them; 0 where none is stated.
func (a Args) Spread(name string) []float64 {
	a.decl(name, List)
	list := a.vals[name].List
	if list == nil {
		return nil
	}
	out := make([]float64, len(list))
	for i, n := range list {
		out[i] = n.independentU()
	}
	return out
}

// leastWeight keeps a reading stated a thousand times better than another from deciding alone.
const leastWeight = 1e-6

// weights are 1/u² of residuals, scaled to 1 at most, from the independent uncertainty of the reading and of what it was
// read against; all 1 where any reading came without. slope is the change of the reading with the latter.
func weights(reading, against, slope []float64) []float64 {
	w := make([]float64, len(reading))
	weigh(w, reading, against, slope)
	return w
}

// weigh is weights into w, which is as long as reading.
func weigh(w, reading, against, slope []float64) {
	least := math.Inf(1)
	for i, u := range reading {
		w[i] = u * u
		if i < len(against) {
			w[i] += slope[i] * slope[i] * against[i] * against[i]
		}
		if u == 0 {
			least = 0
		}
		least = min(least, w[i])
	}
	if least == 0 {
		for i := range w {
			w[i] = 1
		}
		return
	}
	for i := range w {
		w[i] = max(leastWeight, least/w[i])
	}
}

// atLeastResolution raises the stated uncertainty of what a fit reads to that of the display's step. Readings that name
// their resolution have it in them already.
func atLeastResolution(m *Method, fits []Fit, vals map[string]Val, digits float64) {
	least := digits / math.Sqrt(12)
	if least == 0 {
		return
	}
	for _, f := range fits {
		for _, r := range f.Readings {
			if in, ok := FindInput(m.Inputs, r.Input); !ok || in.Kind != quantity.Length {
				continue
			}
			for _, n := range membersOf(vals[r.Input]) {
				n.raiseTo(least)
			}
		}
	}
}

func (n *Num) raiseTo(least float64) {
	u := n.independentU()
	if u == 0 || u >= least {
		return
	}
	us := make([]Component, len(n.Us)) // the caller's components stay as they are
	copy(us, n.Us)
	for i, c := range us {
		if c.Name == "resolution" {
			return
		}
		if c.Shared == "" {
			us[i].U *= least / u
		}
	}
	n.Us = us
}

// joinFits brings what the fits found into the sums of all sources, figure by figure.
func (pr *propagator) joinFits() {
	for _, f := range pr.fits {
		for j := range pr.slots {
			if f.slots[j] {
				pr.from[j] = f.join(pr, j)
			}
		}
	}
}

// joinModels adds what the formulas themselves may be wrong by.
func (pr *propagator) joinModels() {
	for j, s := range pr.slots {
		a := pr.base.model[pr.m.Figures[s.figure].Name]
		pr.uu[j] += a * a / 3
	}
}

// join adds one slot's part and tells where it came from; "" where the readings say nothing.
func (f *fitUse) join(pr *propagator, j int) string {
	switch {
	case !f.stated && f.alone[j] > f.uu[j]:
		pr.uu[j] += f.alone[j]
		pr.welch[j] += f.alone[j] * f.alone[j] / f.dof
		return fromScatter
	case f.scatter:
		pr.uu[j] += f.uu[j]
		pr.welch[j] += f.uu[j] * f.uu[j] / f.dof
		return fromScatter
	}
	pr.uu[j] += f.uu[j]
	pr.welch[j] += f.welch[j]
	if f.stated && f.dof > 0 {
		return fromStated
	}
	return ""
}

// warnings says what a builder must know about where U came from.
func (f *fitUse) warnings() []string {
	name := strings.ReplaceAll(f.Readings[0].Input, "_", " ")
	var out []string
	told := atLatest
	if f.dof > 0 {
		told = math.Min(atLatest, chiSquared(isChance, f.dof))
	}
	switch {
	case f.dof <= 0 && f.stated:
		out = append(out, fmt.Sprintf("%s: as many unknowns as readings, so only the stated uncertainty counts; one reading more would show the scatter", name))
	case f.dof <= 0:
	case !f.stated && f.ratio > 0:
		out = append(out, name+": U is from the scatter only; the gauge's calibration is not in it")
	case f.stated && f.ratio > told:
		out = append(out, fmt.Sprintf("%s: the readings scatter %.1f times what is stated for them, and U goes by the scatter: dirt, play, a wrong reading?", name, math.Sqrt(f.ratio)))
	}
	if f.dof > 0 && f.dof < 3 {
		out = append(out, fmt.Sprintf("%s: few readings, so their scatter is hardly known: take %.0f more", name, 3-f.dof))
	}
	return out
}
