package calc

import (
	"math"

	"thoud/calc/quantity"
)

// sliderCrank is the plane geometry of crank, rod and piston. Angles are in degrees of crank after top dead centre of
// the piston, + in the running direction; drop is measured down from there.
//
//	y(t) = R·cos t + √(L² − (R·sin t − e)²)        t from the crank's own vertical
//	TDC: sin t_T = e/(L + R), y_T = √((L + R)² − e²)      BDC: t_B = 180° + asin(e/(L − R)), y_B = √((L − R)² − e²)
//	drop(a) = y_T − y(t_T + a)
//
// e is + where the pin's line lies to the side towards which the crankpin moves just after top dead centre. Plane
// geometry; without offset as in any text on engines.
type sliderCrank struct {
	r, l, e   float64 // mm
	top       float64 // t_T, rad
	yTop, yBD float64
}

// crankInputs are the inputs that describe it; optional where a method can do without.
func crankInputs(optional bool) []Input {
	return []Input{
		{Name: "stroke", Kind: quantity.Length, Positive: true, Optional: optional, Doc: "diameter of the crankpin's circle, 2R"},
		{Name: "rod", Kind: quantity.Length, Positive: true, Optional: optional, Doc: "length of the connecting rod between centres"},
		{Name: "pin_offset", Kind: quantity.Length, Optional: true, Doc: "offset of the piston pin's line from the crank's axis, + to the side towards which the crankpin moves just after top dead centre"},
	}
}

// crankOf reads stroke, rod and pin_offset. It refuses a rod that does not let the crank turn.
func crankOf(in Args) (sliderCrank, error) {
	r, l, e := in.Num("stroke")/2, in.Num("rod"), in.Num("pin_offset")
	if l <= r+math.Abs(e) {
		return sliderCrank{}, Refuse("rod", "check stroke, rod and pin_offset, and their units", "a rod of %.3f mm does not let a crank of %.3f mm radius turn", l, r)
	}
	return sliderCrank{r: r, l: l, e: e, top: math.Asin(e / (l + r)), yTop: math.Sqrt((l+r)*(l+r) - e*e), yBD: math.Sqrt((l-r)*(l-r) - e*e)}, nil
}

// drop is how far the piston is below its highest place, mm, at a degrees after it.
func (c sliderCrank) drop(a float64) float64 {
	s, cos := math.Sincos(c.top + radians(a))
	x := c.r*s - c.e
	return c.yTop - c.r*cos - math.Sqrt(c.l*c.l-x*x)
}

// slope is d(drop)/da in mm a degree.
func (c sliderCrank) slope(a float64) float64 {
	s, cos := math.Sincos(c.top + radians(a))
	x := c.r*s - c.e
	return radians(1) * (c.r*s + c.r*cos*x/math.Sqrt(c.l*c.l-x*x))
}

// dropAndSlope is both at once: what they share is computed once.
func (c sliderCrank) dropAndSlope(a float64) (drop, slope float64) {
	s, cos := math.Sincos(c.top + radians(a))
	x := c.r*s - c.e
	along := math.Sqrt(c.l*c.l - x*x)
	return c.yTop - c.r*cos - along, radians(1) * (c.r*s + c.r*cos*x/along)
}

// stroke is the piston's true travel; more than 2R with an offset.
func (c sliderCrank) stroke() float64 { return c.yTop - c.yBD }

// bottom is where bottom dead centre lies, degrees after top dead centre.
func (c sliderCrank) bottom() float64 { return 180 + degrees(math.Asin(c.e/(c.l-c.r))-c.top) }

// sides gives the degrees before and after top dead centre at which the piston has dropped by d, 0 ≤ d ≤ stroke:
//
//	A = y_T − d, ρ = √(e² + A²), ψ = atan2(e, A), γ = acos((R² + ρ² − L²)/(2Rρ));  after = γ + ψ − t_T, before = γ − ψ + t_T
func (c sliderCrank) sides(d float64) (before, after float64) {
	a := c.yTop - d
	rho := math.Hypot(c.e, a)
	cos := (c.r*c.r + rho*rho - c.l*c.l) / (2 * c.r * rho)
	gamma, psi := math.Acos(math.Max(-1, math.Min(1, cos))), math.Atan2(c.e, a)
	return degrees(gamma - psi + c.top), degrees(gamma + psi - c.top)
}

// dropOfArc is the drop that the piston has at both ends of an arc of so many degrees about top dead centre.
func (c sliderCrank) dropOfArc(arc float64) float64 {
	s, cos := math.Sincos(radians(arc / 2))
	// Law of cosines for ρ: L² = R² + ρ² − 2Rρ·cos γ, with γ half the arc.
	rho := c.r*cos + math.Sqrt(c.l*c.l-c.r*c.r*s*s)
	return c.yTop - math.Sqrt(rho*rho-c.e*c.e)
}

// checkDrop refuses a drop outside the stroke.
func (c sliderCrank) checkDrop(name string, d float64) error {
	if d < 0 || d > c.stroke()*(1+1e-12) {
		return Refuse(name, "measure it down from the piston's highest place", "%.4f mm is not within the stroke, 0 to %.3f mm", d, c.stroke())
	}
	return nil
}
