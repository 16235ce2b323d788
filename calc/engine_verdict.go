package calc

import (
	"fmt"
	"math"
	"slices"

	"thoud/calc/quantity"
)

// Decide is the verdict of ISO 14253-1:2017 on a value with expanded uncertainty u and limits, guard being the guard
// band in multiples of u:
//
//	in             lower + guard·u ≤ value ≤ upper − guard·u     (boundary inclusive)
//	out            value < lower − guard·u or value > upper + guard·u
//	too close      otherwise
//
// Lengths are compared in whole tenths of a nanometre, other kinds in steps far below any reading, so that a value on
// the boundary counts as inside whatever its last bit says.
func Decide(kind quantity.Kind, value, u float64, l Limit, guard float64) Verdict {
	q := quantum(kind)
	steps := func(x float64) float64 { return math.Round(x / q) }
	y, g := steps(value), steps(guard*u)
	v := VerdictIn
	if l.Lower != nil {
		v = v.Worse(oneSide(y-steps(*l.Lower), g))
	}
	if l.Upper != nil {
		v = v.Worse(oneSide(steps(*l.Upper)-y, g))
	}
	return v
}

// oneSide decides on a room to the limit (negative beyond it) and a guard band, both in whole steps.
func oneSide(room, guard float64) Verdict {
	switch {
	case room >= guard:
		return VerdictIn
	case room < -guard:
		return VerdictOut
	}
	return VerdictTooClose
}

// quantum is the step in which values of a kind are compared.
func quantum(kind quantity.Kind) float64 {
	switch kind {
	case quantity.Length, quantity.Pitch:
		return 1.0 / quantity.PerMillimetre
	case quantity.Expansion:
		return 1e-15
	case quantity.Slope, quantity.Density:
		return 1e-10
	}
	return 1e-9
}

// decideFigure gives a figure its verdict and the reason; of a list the worst element decides.
func decideFigure(fr *FigureResult, req Request, unstated bool) {
	guard := req.Guard
	if guard == 0 {
		guard = 1
	}
	var values []float64
	switch {
	case fr.Value != nil:
		values = []float64{*fr.Value}
	case fr.List != nil:
		values = fr.List
	default:
		for _, row := range fr.Grid {
			values = append(values, row...)
		}
	}
	worst := -1
	worstU := 0.0
	for i, x := range values {
		u := fr.U
		if i < len(fr.ULists) {
			u = fr.ULists[i]
		}
		if v := Decide(fr.Kind, x, u, *fr.Limit, guard); v.Worse(fr.Verdict) != fr.Verdict {
			fr.Verdict, worst, worstU = v, i, u
		}
	}
	if worst < 0 {
		return
	}
	if fr.AtLeast && fr.Verdict == VerdictIn && fr.Limit.Upper != nil {
		fr.Verdict = VerdictTooClose
		fr.Reason = "the figure is at least this and may be more, so the upper limit is not clearly kept; use a gauge that reads finer"
		return
	}
	say := func(show shower) string {
		s := reason(fr.Kind, values[worst], worstU, guard, fr.Verdict, *fr.Limit, req, show)
		if unstated && worstU == 0 {
			s += noUncertainty
		}
		if len(values) > 1 && fr.Verdict != VerdictIn {
			s = fmt.Sprintf("number %d of %d: %s", worst+1, len(values), s)
		}
		return s
	}
	fr.Reason = say(shownWith)
	fr.Why = inBoth(func(sys quantity.System) string { return say(shownInOne(sys)) })
}

// noUncertainty goes with a verdict where nothing of the computation has any: beside a figure that has one, a figure
// without does not depend on what was read, and there is nothing to excuse.
const noUncertainty = "; no uncertainty was given, so none is allowed for"

// reason says why a verdict is what it is, and what to do where it is too close to call.
func reason(kind quantity.Kind, x, u, guard float64, v Verdict, l Limit, req Request, print shower) string {
	gu := guard * u
	show := func(y float64) string { return print(kind, math.Abs(y), u, req, false) }
	s := ""
	switch v {
	case VerdictIn:
		s = fmt.Sprintf("inside the limits by at least %s", show(room(x, l)))
	case VerdictOut:
		s = fmt.Sprintf("outside by %s", show(room(x, l)))
	case VerdictTooClose:
		s = fmt.Sprintf("%s from the limit, which is less than the uncertainty of %s", show(room(x, l)), show(gu))
		s += "; " + whatDecides(kind, x, gu, l, func(y float64) string {
			return print(kind, math.Max(y, quantum(kind)), u, req, true)
		})
	}
	if req.GaugeOnly {
		s += "; gauge only: how well the set-up repeats is not known, take more seatings to know it"
	}
	return s
}

// anyUncertainty reports whether any input came with an uncertainty.
func anyUncertainty(inputs map[string]Val) bool {
	uncertain := func(ns []Num) bool {
		return slices.ContainsFunc(ns, func(n Num) bool { return len(n.Us) > 0 })
	}
	for _, v := range inputs {
		switch {
		case v.Num != nil && len(v.Num.Us) > 0, uncertain(v.List), slices.ContainsFunc(v.Grid, uncertain), slices.ContainsFunc(v.Cube, func(g [][]Num) bool { return slices.ContainsFunc(g, uncertain) }),
			anyUncertainty(v.Rec), slices.ContainsFunc(v.Recs, anyUncertainty):
			return true
		}
	}
	return false
}

// room is the distance to the nearer limit, negative beyond it.
func room(x float64, l Limit) float64 {
	r := math.Inf(1)
	if l.Lower != nil {
		r = x - *l.Lower
	}
	if l.Upper != nil {
		r = math.Min(r, *l.Upper-x)
	}
	return r
}

func whatDecides(kind quantity.Kind, x, gu float64, l Limit, show func(float64) string) string {
	if l.Lower != nil && l.Upper != nil && *l.Upper-*l.Lower < 2*gu {
		return "no value can be clearly inside with this uncertainty: use a better gauge or take another seating"
	}
	if l.Lower != nil && x < *l.Lower+gu {
		return fmt.Sprintf("use a better gauge, take another seating, or make it %s more, which is clearly inside", show(*l.Lower+gu-x))
	}
	return fmt.Sprintf("use a better gauge, take another seating, or make it %s less, which is clearly inside", show(x-(*l.Upper-gu)))
}
