package calc

// Point is one point of a curve that a result is drawn from: crank degrees and mm.
type Point struct{ X, Y float64 }

// ClearanceCurve is the valve-to-piston clearance of a request over the overlap, every crank degree from −40 to 40 after
// the advance asked for; false where the request is not one that valve-to-piston answers.
func ClearanceCurve(req Request) ([]Point, bool) {
	m := valveToPiston()
	if req.Method != m.Name || m.Check(req) != nil {
		return nil, false
	}
	in := Args{m.Inputs, req.Inputs}
	p, err := pocketOf(in)
	if err != nil {
		return nil, false
	}
	var curve []Point
	for a := -overlapHalf; a <= overlapHalf; a++ {
		curve = append(curve, Point{float64(a), p.clearance(float64(a), in.Num("advance"))})
	}
	return curve, true
}

// LiftCurve is the monotone cubic through a lobe's samples, every two crank degrees of the cycle; lift is the name of
// the input with the lifts.
func LiftCurve(req Request, lift string) ([]Point, bool) {
	m := camTiming()
	if req.Method != m.Name || m.Check(req) != nil {
		return nil, false
	}
	in := Args{m.Inputs, req.Inputs}
	if !in.Has(lift) {
		return nil, false
	}
	c, err := liftOf(in, "crank_angle", lift, in.List("crank_angle"))
	if err != nil {
		return nil, false
	}
	whole := c.between(0, cycle)
	var curve []Point
	for a := 0; a <= cycle; a += 2 {
		curve = append(curve, Point{float64(a), whole.at(float64(a))})
	}
	return curve, true
}

// DropCurve is how far the piston of a request of tdc-fit is below its highest place, mm, from so many degrees before it to
// as many after; false where the request is not one that tdc-fit answers.
func DropCurve(req Request, from, to float64) ([]Point, bool) {
	m := tdcFit()
	if req.Method != m.Name || m.Check(req) != nil {
		return nil, false
	}
	c, err := crankOf(Args{m.Inputs, req.Inputs})
	if err != nil {
		return nil, false
	}
	const parts = 60
	var curve []Point
	for i := range parts + 1 {
		a := from + (to-from)*float64(i)/parts
		curve = append(curve, Point{a, c.drop(a)})
	}
	return curve, true
}
