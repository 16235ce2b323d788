package calc

import (
	"math"

	"thoud/calc/quantity"
)

// valveToPiston: the least clearance between valve and piston over the overlap, where it is, and how far the camshaft
// may be moved. Along the valve's axis, the pocket's floor square to it:
//
//	static c_s = push + lift(at) − drop(at)·cos β          valve shut, piston at the top
//	c(θ)       = c_s + drop(θ)·cos β − lift(θ + a)         a = advance, crank degrees; least over ±40°
//	sensitivity dc_min/da = −lift′ at the minimum = −drop′(θ*)·cos β
//
// Lift in mm at the valve, with the lash as it will run (or without, on the safe side); push is how far the valve can
// be pushed from where it stands, at crank angle at, until it touches the piston; at may be written in any turn of the
// cycle (8, 728, −712). + advance = earlier: an inlet valve
// loses clearance by it, an exhaust valve gains. max_advance and max_retard are roots of least clearance = required, not
// the tangent's. The side of the pocket is not looked at: the head moves lift·sin β across. Refused: samples that leave
// a gap over the overlap, two ways to give the static clearance or none. Plane geometry.
func valveToPiston() Method {
	return Method{
		Name: "valve-to-piston", Version: 2, Title: "Valve-to-piston clearance",
		Inputs: append(crankInputs(false), []Input{
			{Name: "valve_angle", Kind: quantity.Angle, Doc: "angle between the valve's axis and the bore's"},
			{Name: "crank_angle", Shape: List, Kind: quantity.Angle, Doc: "crank angle of each lift, 0 at overlap top dead centre"},
			{Name: "lift", Shape: List, Kind: quantity.Length, Doc: "lift of the valve at each angle, over the overlap and 10° more either side at least"},
			{Name: "push", Kind: quantity.Length, Optional: true, Doc: "how far the valve goes by hand from where it stands to the piston; with at"},
			{Name: "at", Kind: quantity.Angle, Optional: true, Doc: "crank angle at which it was pushed, negative before the top"},
			{Name: "static_clearance", Kind: quantity.Length, Optional: true, Doc: "clearance with the valve shut and the piston at the top; instead of push and at"},
			{Name: "advance", Kind: quantity.Angle, Optional: true, Doc: "crank degrees to advance from where the lift was taken, negative = retard"},
			{Name: "required", Kind: quantity.Length, Optional: true, Positive: true, Doc: "least clearance wanted (0.080 in inlet, 0.100 in exhaust with steel rods: common practice)"},
			{Name: "valve", Shape: Text, Enum: []string{"inlet", "exhaust"}, Optional: true, Doc: "which valve, to check the samples against"},
		}...),
		Figures: []Figure{
			{Name: "static_clearance", Kind: quantity.Length, Doc: "clearance with the valve shut and the piston at the top"},
			{Name: "min_clearance", Kind: quantity.Length, Doc: "least clearance as timed now"},
			{Name: "at_crank", Kind: quantity.Angle, Doc: "crank angle of it, negative before the top"},
			{Name: "min_after", Kind: quantity.Length, Doc: "least clearance after the advance"},
			{Name: "at_crank_after", Kind: quantity.Angle, Doc: "crank angle of it"},
			{Name: "sensitivity", Kind: quantity.Slope, Doc: "change of the least clearance a crank degree of advance, as timed now"},
			{Name: "max_advance", Kind: quantity.Angle, Doc: "most advance that leaves what is required; negative = it must be retarded by so much"},
			{Name: "max_retard", Kind: quantity.Angle, Doc: "most retard that leaves what is required; negative = it must be advanced by so much"},
			{Name: "sideways", Kind: quantity.Length, Doc: "how far the head has moved across at the least clearance, for the pocket's wall"},
		},
		Formula: "c(θ) = static + drop(θ)·cos β − lift(θ + advance); static = push + lift(at) − drop(at)·cos β",
		Source:  "plane geometry; the bookkeeping is common practice",
		Cautions: []string{
			"Checking springs for the measurement only: take them out before assembly.",
			"Modelling clay as a cross-check; clean it out.",
			"Never force a crank that stops: turn back and find out why.",
			"The exhaust valve is nearest before the top, the inlet after it: measuring at the top alone hides both.",
		},
		Compute: computeValveToPiston,
	}
}

const (
	overlapHalf     = 40 // the minimum is looked for so far either side of the top, degrees
	widestPistonGap = 15 // between lift samples there
	mostRetiming    = 60 // how far advance and retard are looked for
)

// pocket is one valve above one piston.
type pocket struct {
	crank  sliderCrank
	curve  *liftCurve
	lift   *liftPiece // of the curve, as far as the camshaft may be moved
	cos    float64
	static float64
	drops  [2*overlapHalf/pocketStep + 1]float64 // along the valve, every pocketStep degrees from −overlapHalf
}

const pocketStep = 2

func computeValveToPiston(in Args, out *Out) error {
	p, err := pocketOf(in)
	if err != nil {
		return err
	}
	before, after := p.curve.covered(0, widestPistonGap)
	if before < overlapHalf || after < overlapHalf {
		return Refuse("crank_angle", "sample the lift from 50° before to 50° after the top, every 5°", "the samples reach from %.1f° before the top to %.1f° after it without a gap of more than %d°", before, after, widestPistonGap)
	}
	// A curve advanced by a is read at θ + a.
	most, least := math.Min(after-overlapHalf, mostRetiming), -math.Min(before-overlapHalf, mostRetiming)
	advance := in.Num("advance")
	if advance > most || advance < least {
		return Refuse("advance", "sample the lift further round", "with %.1f° the overlap needs lifts that were not sampled; %.1f° to %.1f° can be answered", advance, least, most)
	}
	c0, at0 := p.least(0)
	c1, at1 := c0, at0
	if advance != 0 {
		c1, at1 = p.least(advance)
	}
	sensitivity := -p.lift.slope(at0)
	out.Set("static_clearance", p.static)
	out.Set("min_clearance", c0)
	out.Set("at_crank", at0)
	out.Set("min_after", c1)
	out.Set("at_crank_after", at1)
	for _, name := range []string{"at_crank", "at_crank_after"} {
		out.From(name, After, theTop)
	}
	out.Set("sensitivity", sensitivity)
	out.Set("sideways", p.lift.at(at1+advance)*math.Sqrt(1-p.cos*p.cos))
	p.warn(in, out, c1, at0)
	if in.Has("required") {
		p.require(out, in.Num("required"), c1, sensitivity, least, most)
	}
	if !p.setSlopes(in, out, at0, at1, advance) {
		p.touch(in, out, at0, at1+advance)
	}
	return nil
}

// touch tells Run which samples any figure follows: those next to where the lift is looked up.
func (p *pocket) touch(in Args, out *Out, places ...float64) {
	if in.Has("push") {
		places = append(places, signed(in.Num("at"), cycle))
	}
	for figure, sign := range map[string]float64{"max_advance": 1, "max_retard": -1} {
		if x, ok := out.nums[figure]; ok {
			_, at := p.least(sign * x)
			places = append(places, at+sign*x)
		}
	}
	angles := in.List("crank_angle")
	for _, at := range places {
		near := p.curve.membersNear(angles, at)
		out.Touches("crank_angle", near)
		out.Touches("lift", near)
	}
}

func pocketOf(in Args) (*pocket, error) {
	crank, err := crankOf(in)
	if err != nil {
		return nil, err
	}
	if b := in.Num("valve_angle"); b < 0 || b >= 60 {
		return nil, Refuse("valve_angle", "give the angle between valve and bore, half the included angle of a symmetric head", "%.1f° is no valve angle", b)
	}
	curve, err := liftOf(in, "crank_angle", "lift", in.List("crank_angle"))
	if err != nil {
		return nil, err
	}
	lift := curve.between(-overlapHalf-mostRetiming, overlapHalf+mostRetiming)
	p := &pocket{crank: crank, curve: curve, lift: lift, cos: math.Cos(radians(in.Num("valve_angle")))}
	for i := range p.drops {
		p.drops[i] = crank.drop(float64(i*pocketStep-overlapHalf)) * p.cos
	}
	pushed := in.Has("push") || in.Has("at")
	switch {
	case pushed && in.Has("static_clearance"):
		return nil, Refuse("static_clearance", "give push and at, or static_clearance", "both are given")
	case in.Has("static_clearance"):
		p.static = in.Num("static_clearance")
	case !in.Has("push") || !in.Has("at"):
		return nil, Refuse("push", "push the valve to the piston and give push and the crank angle at, or give static_clearance", "the clearance at no crank angle is known")
	default:
		at, push := in.Num("at"), in.Num("push")
		if push < 0 {
			return nil, Refuse("push", "zero the indicator with the valve as it stands, + towards the piston", "%.4f mm is no push", push)
		}
		if at = signed(at, cycle); math.Abs(at) > overlapHalf {
			return nil, Refuse("at", "push the valve near the top, within 40° of it", "%.1f° is outside the overlap", in.Num("at"))
		}
		p.static = push + lift.at(at) - crank.drop(at)*p.cos
	}
	return p, nil
}

// clearance at a crank angle, with the camshaft advanced.
func (p *pocket) clearance(theta, advance float64) float64 {
	return p.static + p.crank.drop(theta)*p.cos - p.lift.at(theta+advance)
}

// least is the least clearance over the overlap and where it is: the best of a grid, then where the slope is zero next
// to it.
func (p *pocket) least(advance float64) (clearance, at float64) {
	best, clearance := 0, math.Inf(1)
	for i, d := range p.drops {
		if c := p.static + d - p.lift.at(float64(i*pocketStep-overlapHalf)+advance); c < clearance {
			best, clearance = i, c
		}
	}
	at = float64(best*pocketStep - overlapHalf)
	slope := func(t float64) float64 { return p.crank.slope(t)*p.cos - p.lift.slope(t+advance) }
	a, b := math.Max(at-pocketStep, -overlapHalf), math.Min(at+pocketStep, overlapHalf)
	if slope(a) < 0 && slope(b) > 0 {
		at = root(slope, a, b, 1e-9)
		clearance = p.clearance(at, advance)
	}
	return clearance, at
}

func (p *pocket) warn(in Args, out *Out, least, at float64) {
	if least <= 0 {
		out.Warn("valve and piston touch: %.3f mm too little, at %.1f°: do not turn the crank through", -least, at)
	}
	if math.Abs(at) > overlapHalf-1 {
		out.Warn("the least clearance lies at the edge of the overlap, %.0f°: check that zero is at overlap top dead centre", at)
		return
	}
	valve := in.Text("valve")
	if valve == "inlet" && at < -1 || valve == "exhaust" && at > 1 {
		out.Warn("the least clearance of the %s valve lies at %.1f°, on the other valve's side: check zero and which valve was sampled", valve, at)
	}
}

// require finds how far the camshaft may be moved, and says what to do where the clearance is too small. Advance takes
// clearance from a valve that is opening at its minimum (inlet) and gives it to one that is closing (exhaust).
func (p *pocket) require(out *Out, required, now, sensitivity, least, most float64) {
	spare := func(a float64) float64 { c, _ := p.least(a); return c - required }
	figure, low, high := "max_advance", least, most
	sign := 1.0
	if sensitivity > 0 {
		figure, sign = "max_retard", -1
	}
	switch l, h := spare(low)*sign, spare(high)*sign; {
	case l >= 0 && h <= 0:
		out.Set(figure, sign*root(spare, low, high, 1e-7))
	case spare(0) >= 0:
		out.Warn("the clearance stays over what is required from %.0f° retarded to %.0f° advanced", -low, high)
	default:
		out.Warn("no timing from %.0f° retarded to %.0f° advanced gives what is required", -low, high)
	}
	short := required - now
	a := Adjustment{What: "valve pocket", Amount: short, Kind: quantity.Length, Direction: "deepen", Answers: []string{"min_clearance", "min_after"},
		Words: "{direction} the valve pocket by {amount} along the valve's axis, or move the timing the other way; measure again"}
	if short <= 1e-9 {
		a.Amount, a.Direction, a.Words = 0, "none", "leave the pocket: {figure:min_after} is enough"
	}
	out.Adjust(a)
}
