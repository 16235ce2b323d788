package pipeline

import (
	"math"
	"slices"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// band finds where the part must come to rest, in what the gauge shows at the approach point: the limits of the
// approach figure, carried back through the method by its slope at the wanted place. Nil where the step has no
// approach, where the figure has no limits, or where the reading does not move the figure.
func (b *binder) band(req calc.Request, res calc.Result) *bench.Band {
	c := b.run.Compute
	if c.ApproachFigure == "" {
		return nil
	}
	lim, ok := req.Limits[c.ApproachFigure]
	input := b.approachInput()
	if !ok || input == "" || lim.Lower == nil && lim.Upper == nil {
		return nil
	}
	at := 0.0
	now, given := req.Inputs[input]
	switch {
	case given && now.Num != nil:
		at = now.Num.X
	default:
		// Not read yet: begin where the figure itself says the part stands, at the method's own default.
		f, ok := res.Figure("contact")
		if !ok || f.Value == nil {
			return nil
		}
		at = *f.Value
	}
	band := b.bandFrom(req, lim, input, at)
	if band == nil {
		return nil
	}
	// A method that names its own target is believed before the middle of the limits.
	if f, ok := res.Figure("target"); ok && f.Value != nil && within(*f.Value, band) {
		band.Target = *f.Value
	}
	band.Now = &at // on a first move, where the part was read at contact
	return band
}

// bandFrom carries the limits of the approach figure back to what the gauge shows, by the method's slope near a reading. Nil
// where the reading does not move the figure.
func (b *binder) bandFrom(req calc.Request, lim calc.Limit, input string, at float64) *bench.Band {
	c := b.run.Compute
	x0, y0, slope, ok := straightNear(at, func(x float64) (float64, bool) { return figureAt(req, input, c.ApproachFigure, x) })
	if !ok {
		return nil
	}
	back := func(f *float64) *float64 {
		if f == nil {
			return nil
		}
		x := x0 + (*f-y0)/slope
		return &x
	}
	band := &bench.Band{Point: plan.FillRun(c.ApproachPoint, b.key), Figure: c.ApproachFigure, Lower: back(lim.Lower), Upper: back(lim.Upper)}
	if slope < 0 {
		band.Lower, band.Upper = band.Upper, band.Lower
	}
	switch {
	case band.Lower != nil && band.Upper != nil:
		band.Target = (*band.Lower + *band.Upper) / 2
	case band.Lower != nil:
		band.Target = *band.Lower
	default:
		band.Target = *band.Upper
	}
	return band
}

func within(x float64, b *bench.Band) bool {
	return (b.Lower == nil || x >= *b.Lower) && (b.Upper == nil || x <= *b.Upper)
}

// straightNear finds a point and the slope of the straight line that a figure follows near a reading. A method is a
// straight line in the reading of a part that is moved, but may end flat (a clearance does at contact), so it is looked at on
// both sides, further and further out, where three steps rise alike.
func straightNear(at float64, figure func(x float64) (float64, bool)) (x, y, slope float64, ok bool) {
	for _, h := range []float64{0.05, 0.2, 0.8, 3.2} { // mm or degrees
		for _, side := range []float64{-h, h} {
			a, okA := figure(at + side)
			b, okB := figure(at + 2*side)
			c, okC := figure(at + 3*side)
			if !okA || !okB || !okC || math.Abs(b-a) < 1e-9 || math.Abs(c-b-(b-a)) > 1e-6*math.Abs(b-a) {
				continue
			}
			return at + 2*side, b, (c - a) / (2 * side), true
		}
	}
	return 0, 0, 0, false
}

// approachInput is the input that the approach point's reading feeds.
func (b *binder) approachInput() string {
	point := plan.FillRun(b.run.Compute.ApproachPoint, b.key)
	for name, bind := range b.run.Compute.Inputs {
		if slices.ContainsFunc(bind.Refs, func(r plan.Ref) bool { return r.Reads(b.step.ID, point, b.key) }) {
			return name
		}
	}
	return ""
}

// figureAt runs the method with one scalar input put at x.
func figureAt(req calc.Request, input, figure string, x float64) (float64, bool) {
	probe := calc.Request{Method: req.Method, Inputs: map[string]calc.Val{}}
	for name, v := range req.Inputs {
		probe.Inputs[name] = bare(v)
	}
	probe.Inputs[input] = calc.Val{Num: &calc.Num{X: x}}
	res, err := calc.Run(probe)
	if err != nil || res.Refused != "" {
		return 0, false
	}
	f, ok := res.Figure(figure)
	if !ok || f.Value == nil {
		return 0, false
	}
	return *f.Value, true
}

// bare is an input without its uncertainty: a probe needs no propagation.
func bare(v calc.Val) calc.Val {
	if v.Num != nil {
		v.Num = &calc.Num{X: v.Num.X}
	}
	if v.List != nil {
		list := make([]calc.Num, len(v.List))
		for i, n := range v.List {
			list[i] = calc.Num{X: n.X}
		}
		v.List = list
	}
	return v
}
