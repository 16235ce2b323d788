package calc

import (
	"math"
	"slices"
)

// chamberSet is the cylinders that stand on one joint.
type chamberSet []chamberVolumes

// of names one of several cylinders in a sentence.
func (c chamberVolumes) of() string {
	if c.name == "" {
		return ""
	}
	return " of " + c.name
}

// with gives the cylinders with a plate of t mm under them.
func (cs chamberSet) with(t float64) chamberSet {
	out := slices.Clone(cs)
	for i := range out {
		out[i] = out[i].with(t)
	}
	return out
}

// barrels names what stands on the joint.
func (cs chamberSet) barrels() string {
	switch len(cs) {
	case 1:
		return "the barrel"
	case 2:
		return "both"
	}
	return "all of them"
}

func (cs chamberSet) ratios() []float64 {
	var out []float64
	for _, c := range cs {
		out = append(out, c.ratio())
	}
	return out
}

func (cs chamberSet) squishes() []float64 {
	var out []float64
	for _, c := range cs {
		out = append(out, c.squish)
	}
	return out
}

func (cs chamberSet) clearances() []float64 {
	var out []float64
	for _, c := range cs {
		out = append(out, c.clearance)
	}
	return out
}

// smallest clearance volume.
func (cs chamberSet) smallest() float64 { return slices.Min(cs.clearances()) }

// highest is the cylinder with the highest ratio.
func (cs chamberSet) highest() chamberVolumes {
	return slices.MaxFunc(cs, func(a, b chamberVolumes) int { return compareFloat(a.ratio(), b.ratio()) })
}

func (cs chamberSet) leastSquish() chamberVolumes {
	return slices.MinFunc(cs, func(a, b chamberVolumes) int { return compareFloat(a.squish, b.squish) })
}

func compareFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// worst is the largest difference of a ratio from the one wanted.
func (cs chamberSet) worst(wanted float64) float64 {
	off := 0.0
	for _, r := range cs.ratios() {
		off = math.Max(off, math.Abs(r-wanted))
	}
	return off
}

// thicknessFor is the plate at which greatest and least ratio stand evenly about the one wanted.
func (cs chamberSet) thicknessFor(wanted float64) float64 {
	alone := func(c chamberVolumes) float64 { return (c.swept/(wanted-1) - c.clearance) * 1000 / c.area }
	low, high := math.Inf(1), math.Inf(-1)
	for _, c := range cs {
		low, high = math.Min(low, alone(c)), math.Max(high, alone(c))
	}
	if high-low < 1e-12 {
		return low
	}
	// At the thinner every ratio is the one wanted or more, at the thicker none is more.
	return root(func(t float64) float64 {
		r := cs.with(t).ratios()
		return (slices.Max(r)+slices.Min(r))/2 - wanted
	}, low, high, 1e-12)
}

// unlikeRatios is the difference between cylinders that is warned of (common practice).
const unlikeRatios = 0.1

// set sets what several cylinders have as they stand.
func (cs chamberSet) set(out *Out) {
	r, v := cs.ratios(), cs.clearances()
	out.SetList("ratios", r)
	out.SetList("squishes", cs.squishes())
	out.SetList("clearance_volumes", v)
	if len(r) == 2 {
		out.Set("difference", r[0]-r[1])
	}
	out.Set("ratio_spread", slices.Max(r)-slices.Min(r))
	out.Set("equalise", slices.Max(v)-slices.Min(v))
}

// setThen sets what they have with a plate of t mm.
func (cs chamberSet) setThen(out *Out, t float64) {
	r := cs.ratios()
	out.Set("plate_thickness", t)
	out.SetList("ratios_then", r)
	out.SetList("squishes_then", cs.squishes())
	if apart := slices.Max(r) - slices.Min(r); apart > unlikeRatios {
		out.Warn("the ratios stay %.2f apart whatever the plate: make the chambers alike, equalise says how much", apart)
	}
}
