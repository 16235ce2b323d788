package calc

import (
	"math"

	"thoud/calc/quantity"
)

// valveToValve: the least distance between the heads of the two valves of a cylinder, and where it is. In the plane of
// the two stems, x from the inlet to the exhaust head, z up the bore:
//
//	face centres    inlet (ℓᵢ·sin βᵢ, −ℓᵢ·cos βᵢ)      exhaust (S − ℓₑ·sin βₑ, h − ℓₑ·cos βₑ)
//	face edges      ± D/2 along the face, which is square to the stem; the rim t stands on it, up the stem
//	c               distance of the two convex outlines; 0 where they meet
//	after           lifts at θ + advance of each valve; least over all angles sampled, not the overlap alone
//
// S is the distance of the face centres with both valves shut, h by how much the exhaust sits higher, β the angle of a stem
// from the bore, D a head's diameter, all mm and degrees. Lifts are the valves', lash taken up. Two discs whose stems lie in
// one plane are nearest in that plane, by symmetry. One camshaft that is moved as a whole does not change the least distance,
// only its place; lobe separation or separate camshafts do. Without rim the faces alone are looked at, which is warned of.
// Refused: stems that do not lie in one plane (skew), heads that touch when shut, samples that leave a gap over the overlap.
// Plane geometry; computed independently, no published example.
func valveToValve() Method {
	length := func(name, doc string) Input {
		return Input{Name: name, Kind: quantity.Length, Positive: true, Doc: doc}
	}
	angle := func(name, doc string) Input { return Input{Name: name, Kind: quantity.Angle, Doc: doc} }
	optional := func(in Input) Input { in.Optional = true; return in }
	return Method{
		Name: "valve-to-valve", Version: 1, Title: "Valve-to-valve clearance",
		Inputs: []Input{
			length("centres", "distance of the centres of the two head faces, both valves shut"),
			angle("inlet_angle", "angle between the inlet valve's stem and the bore"),
			angle("exhaust_angle", "angle between the exhaust valve's stem and the bore"),
			length("inlet_head", "diameter of the inlet valve's head"),
			length("exhaust_head", "diameter of the exhaust valve's head"),
			{Name: "crank_angle", Shape: List, Kind: quantity.Angle, Doc: "crank angle of each lift, 0 at overlap top dead centre"},
			{Name: "inlet_lift", Shape: List, Kind: quantity.Length, Doc: "lift of the inlet valve at each angle, lash taken up"},
			{Name: "exhaust_lift", Shape: List, Kind: quantity.Length, Doc: "lift of the exhaust valve at each angle, lash taken up"},
			{Name: "height_difference", Kind: quantity.Length, Optional: true, Doc: "by how much the exhaust face sits higher up the bore than the inlet face, both shut; 0 where not given"},
			optional(length("rim", "thickness of the heads' rims (the thicker where they differ)")),
			optional(angle("inlet_advance", "crank degrees to advance the inlet lobe from where the lift was taken, negative = retard")),
			optional(angle("exhaust_advance", "the same of the exhaust lobe")),
			optional(length("required", "least clearance wanted (0.060 in: common practice, from memory)")),
			optional(angle("skew", "angle between the planes of the two stems; only 0 can be answered")),
		},
		Figures: []Figure{
			{Name: "closed_clearance", Kind: quantity.Length, Doc: "distance of the heads with both valves shut"},
			{Name: "min_clearance", Kind: quantity.Length, Doc: "least distance as timed now"},
			{Name: "at_crank", Kind: quantity.Angle, Doc: "crank angle of it, negative before the top"},
			{Name: "inlet_lift_at", Kind: quantity.Length, Doc: "lift of the inlet valve there"},
			{Name: "exhaust_lift_at", Kind: quantity.Length, Doc: "lift of the exhaust valve there"},
			{Name: "min_after", Kind: quantity.Length, Doc: "least distance after the advance"},
			{Name: "at_crank_after", Kind: quantity.Angle, Doc: "crank angle of it"},
		},
		Formula: "c = distance of the two heads' outlines in the plane of the stems, each moved along its stem by its lift; least over the samples",
		Source:  "plane geometry, computed independently; the clearance wanted is common practice (from memory)",
		Cautions: []string{
			"Prove it with a push by hand (clearance-stops between valves): geometry finds the place, the push the amount.",
			"Tulips and stems are not in it, only the rims of the heads.",
			"Turn by hand, plugs out; stop at the first resistance.",
		},
		Compute: computeValveToValve,
	}
}

const (
	valvesClose    = 0.060 * 25.4 // below it is warned of where nothing is asked for, common practice (from memory)
	mostValveAngle = 60
	valveStep      = 2 // of the first look, degrees of crank
)

// twoValves is the geometry and the lifts.
type twoValves struct {
	centres, height, rim               float64
	sinI, cosI, sinE, cosE, radI, radE float64
	inlet, exhaust                     *liftPiece
	before, after                      float64 // sampled without a gap, either side of the top
}

func computeValveToValve(in Args, out *Out) error {
	v, err := twoValvesOf(in)
	if err != nil {
		return err
	}
	closed := v.apart(0, 0)
	if closed <= 0 {
		return Refuse("centres", "measure the centres, the heads and their angles again: heads that touch when shut cannot seat", "with both valves shut the heads of %.3f and %.3f mm meet", 2*v.radI, 2*v.radE)
	}
	c0, at0 := v.least(0, 0)
	c1, at1 := c0, at0
	ai, ae := in.Num("inlet_advance"), in.Num("exhaust_advance")
	if ai != 0 || ae != 0 {
		from, to, _ := v.sampled(ai, ae)
		if most := math.Max(math.Abs(ai), math.Abs(ae)); most > mostRetiming || to-from < overlapHalf {
			return Refuse("inlet_advance", "give crank degrees, positive or negative", "%.1f° and %.1f°: at most %d° can be answered, and only as far as the lifts were sampled", ai, ae, mostRetiming)
		}
		c1, at1 = v.least(ai, ae)
	}
	out.Set("closed_clearance", closed)
	out.Set("min_clearance", c0)
	out.Set("at_crank", at0)
	out.Set("inlet_lift_at", v.inlet.at(at0))
	out.Set("exhaust_lift_at", v.exhaust.at(at0))
	out.Set("min_after", c1)
	out.Set("at_crank_after", at1)
	for _, name := range []string{"at_crank", "at_crank_after"} {
		out.From(name, After, theTop)
	}
	v.warn(in, out, c1, at1)
	if !in.Has("required") {
		return nil
	}
	short := in.Num("required") - c1
	a := Adjustment{What: "valves", Amount: short, Kind: quantity.Length, Direction: "part", Answers: []string{"min_clearance", "min_after"},
		Words: "{amount} too little between the valves at {figure:at_crank_after}: spread the lobe centres, or sink a seat; moving a common camshaft changes nothing"}
	if short <= 1e-9 {
		a.Amount, a.Direction, a.Words = 0, "none", "leave the valves: {figure:min_after} between them is enough"
	}
	out.Adjust(a)
	return nil
}

func twoValvesOf(in Args) (*twoValves, error) {
	if in.Num("skew") != 0 {
		return nil, Refuse("skew", "push valve against valve by hand at several stops instead (clearance-stops)", "stems in two planes, %g° apart, are not answered", in.Num("skew"))
	}
	for _, name := range []string{"inlet_angle", "exhaust_angle"} {
		if b := in.Num(name); math.Abs(b) >= mostValveAngle {
			return nil, Refuse(name, "give the angle between stem and bore, half the included angle of a symmetric head", "%.1f° is no valve angle", b)
		}
	}
	if math.Abs(in.Num("height_difference")) > in.Num("centres") {
		return nil, Refuse("height_difference", "measure how much higher the exhaust face sits than the inlet face", "%.3f mm is more than the centres are apart", in.Num("height_difference"))
	}
	v := &twoValves{centres: in.Num("centres"), height: in.Num("height_difference"), rim: in.Num("rim"), radI: in.Num("inlet_head") / 2, radE: in.Num("exhaust_head") / 2}
	v.sinI, v.cosI = math.Sincos(radians(in.Num("inlet_angle")))
	v.sinE, v.cosE = math.Sincos(radians(in.Num("exhaust_angle")))
	angles := in.List("crank_angle")
	inlet, err := liftOf(in, "crank_angle", "inlet_lift", angles)
	if err != nil {
		return nil, err
	}
	exhaust, err := liftOf(in, "crank_angle", "exhaust_lift", angles)
	if err != nil {
		return nil, err
	}
	// Both curves stand on the same angles.
	v.before, v.after = inlet.covered(0, widestLiftGap)
	if v.before < overlapHalf || v.after < overlapHalf {
		return nil, Refuse("crank_angle", "sample both lifts over the whole cycle, or from 60° before to 60° after the overlap top at least, every 5°", "the samples reach from %.1f° before the top to %.1f° after it without a gap of more than %d°", v.before, v.after, widestLiftGap)
	}
	v.inlet = inlet.between(-v.before-mostRetiming, v.after+mostRetiming)
	v.exhaust = exhaust.between(-v.before-mostRetiming, v.after+mostRetiming)
	return v, nil
}

// apart is the distance of the heads at two lifts.
func (v *twoValves) apart(inlet, exhaust float64) float64 {
	i := head(point{inlet * v.sinI, -inlet * v.cosI}, point{v.cosI, v.sinI}, v.radI, v.rim)
	e := head(point{v.centres - exhaust*v.sinE, v.height - exhaust*v.cosE}, point{v.cosE, -v.sinE}, v.radE, v.rim)
	return i.apart(e)
}

// head is the outline of a valve's head: its face, and its rim up the stem. along is the direction of the face, from the
// inlet towards the exhaust.
func head(centre, along point, radius, rim float64) outline {
	at := func(r, up float64) point {
		return point{centre.x + r*along.x - up*along.y, centre.y + r*along.y + up*along.x}
	}
	if rim == 0 {
		return outline{at(-radius, 0), at(radius, 0)}
	}
	return outline{at(-radius, 0), at(radius, 0), at(radius, rim), at(-radius, rim)}
}

// least is the least distance over what was sampled and where it is: the best of a grid, then closer and closer.
func (v *twoValves) least(inletAdvance, exhaustAdvance float64) (clearance, at float64) {
	from, to, _ := v.sampled(inletAdvance, exhaustAdvance)
	c := func(t float64) float64 {
		return v.apart(math.Max(0, v.inlet.at(t+inletAdvance)), math.Max(0, v.exhaust.at(t+exhaustAdvance)))
	}
	clearance = math.Inf(1)
	for t := from; t <= to; t += valveStep {
		if d := c(t); d < clearance {
			clearance, at = d, t
		}
	}
	at = lowestBetween(c, math.Max(from, at-valveStep), math.Min(to, at+valveStep))
	// Where it is lowest a curve is level, so its height tells the place to half of its digits only, and those differ from one
	// processor to another; the difference of two heights either side of the place has them all.
	const side, window = 0.01, 0.1
	level := func(t float64) float64 { return c(t+side) - c(t-side) }
	if lo, hi := math.Max(from+side, at-window), math.Min(to-side, at+window); lo < hi && level(lo) < 0 && level(hi) > 0 {
		at = root(level, lo, hi, 1e-10)
	}
	return c(at), at
}

// sampled is where both lifts are known with the lobes advanced; ends is false where the samples go all the way round.
func (v *twoValves) sampled(inletAdvance, exhaustAdvance float64) (from, to float64, ends bool) {
	if v.before+v.after >= cycle-widestLiftGap {
		return -cycle / 2, cycle / 2, false
	}
	from = -v.before - math.Min(0, math.Min(inletAdvance, exhaustAdvance))
	return from, v.after - math.Max(0, math.Max(inletAdvance, exhaustAdvance)), true
}

// lowestBetween finds the lowest place of a function with one low place between a and b, by golden section.
func lowestBetween(f func(float64) float64, a, b float64) float64 {
	const golden = 0.6180339887498949
	x, y := b-golden*(b-a), a+golden*(b-a)
	fx, fy := f(x), f(y)
	for range 60 {
		if b-a < 1e-7 {
			break
		}
		if fx <= fy {
			b, y, fy = y, x, fx
			x = b - golden*(b-a)
			fx = f(x)
		} else {
			a, x, fx = x, y, fy
			y = a + golden*(b-a)
			fy = f(y)
		}
	}
	return (a + b) / 2
}

func (v *twoValves) warn(in Args, out *Out, least, at float64) {
	switch {
	case least <= 0:
		out.Warn("the valves meet at %.1f°: do not turn the engine through", at)
	case !in.Has("required") && least < valvesClose:
		out.Warn("%.3f mm between the valves is less than the 0.060 in (1.524 mm) that is common practice", least)
	}
	from, to, ends := v.sampled(in.Num("inlet_advance"), in.Num("exhaust_advance"))
	if ends && math.Min(at-from, to-at) < valveStep {
		out.Warn("the least distance lies at the end of what was sampled, %.1f°: sample further round", at)
	}
	if v.rim == 0 {
		out.Warn("without the thickness of the rims only the faces of the heads are looked at: give rim")
	}
}
