package calc

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"thoud/calc/quantity"
)

// camTiming: valve events, lobe centres, separation and advance from samples of lift over the cycle.
//
//	opening = first angle with lift ≥ height walking up from the base circle, closing = last; crank degrees after
//	          overlap top dead centre, found on a monotone cubic through the samples
//	IVO (BTDC) = −opening      IVC (ABDC) = closing − 180        duration = closing − opening
//	EVO (BBDC) = −opening − 180   EVC (ATDC) = closing           overlap  = IVO + EVC
//	inlet centre (ATDC) = duration/2 − IVO                        exhaust centre (BTDC) = duration/2 − EVC
//	separation (cam degrees) = (inlet + exhaust centre)/2         advance = separation − inlet centre, + = advanced
//	nose: top of a quartic by least squares over the samples above 90 % of the lift (80 % where they are under seven)
//	asymmetry = middle of equal lifts at the greatest height − at the least, + = leaning late
//
// Lift in mm from the base circle, where it was taken (at the valve, without lash, or at the lifter: the checking height
// must be meant for the same place). Samples come in any order and spacing; those at one angle are averaged. The middles
// are taken at heights, or at 1/4, 1/2 and 3/4 of the lift. Samples of the lobe alone, in one run, are enough where both ends
// lie under every height asked for and fall outwards; then the zero of the base circle is not proved, which is warned of. A base
// circle that does not read zero is told with what it is worth at the events. Refused: more than one gap in the samples wider
// than 20°, a run that ends over a height, less lift than the checking height, a base circle at half of it or more. The
// algebra is common practice; the nose's half-width computed independently, no published example.
func camTiming() Method {
	side := func(s, open, close, centre string) []Figure {
		return []Figure{
			{Name: s + "_opening", Kind: quantity.Angle, Doc: "opening at the checking height, degrees " + open},
			{Name: s + "_closing", Kind: quantity.Angle, Doc: "closing at the checking height, degrees " + close},
			{Name: s + "_duration", Kind: quantity.Angle, Doc: "crank degrees open at the checking height"},
			{Name: s + "_centre", Kind: quantity.Angle, Doc: "lobe centre, half-way between the events, degrees " + centre},
			{Name: s + "_nose", Kind: quantity.Angle, Doc: "lobe centre by a quartic about the nose, degrees " + centre},
			{Name: s + "_lift", Kind: quantity.Length, Doc: "most lift sampled"},
			{Name: s + "_asymmetry", Kind: quantity.Angle, Doc: "drift of the middle of equal lifts from the least height to the greatest, + = later"},
			{Name: s + "_midpoints", Kind: quantity.Angle, List: true, Doc: "middle of equal lifts at each height, degrees " + centre},
		}
	}
	figures := append(side("inlet", "before top dead centre", "after bottom dead centre", "after top dead centre"),
		side("exhaust", "before bottom dead centre", "after top dead centre", "before top dead centre")...)
	return Method{
		Name: "cam-timing", Version: 2, Title: "Cam timing from lift over the turn",
		Inputs: []Input{
			{Name: "crank_angle", Shape: List, Kind: quantity.Angle, Doc: "crank angle of each sample, 0 at overlap top dead centre of this cylinder, 720 the cycle"},
			{Name: "inlet_lift", Shape: List, Kind: quantity.Length, Optional: true, Doc: "inlet lift at each angle"},
			{Name: "exhaust_lift", Shape: List, Kind: quantity.Length, Optional: true, Doc: "exhaust lift at each angle"},
			{Name: "checking_height", Kind: quantity.Length, Positive: true, Doc: "lift at which the events are quoted (1 mm, 0.040 in and 0.050 in are in use)"},
			{Name: "heights", Shape: List, Kind: quantity.Length, Optional: true, Positive: true, Doc: "lifts at which the middle of the lobe is taken too"},
		},
		Figures: append(figures, camFigures()...),
		Formula: "IVO = −opening, IVC = closing − 180, EVO = −opening − 180, EVC = closing; centre = duration/2 − IVO (inlet), duration/2 − EVC (exhaust)",
		Source:  "common practice (three texts give the same algebra); interpolation by Fritsch and Butland (1984)",
		Cautions: []string{
			"Turn by hand in the running direction only, plugs out; stop at the first resistance: a valve may meet the piston.",
			"Light springs and no lash, or the lift is not the cam's; heavy springs bend what is measured.",
			"Mind left-hand threads and lock tabs when the timing gear is opened.",
		},
		Compute: computeCamTiming,
	}
}

// camFigures are what both lobes together say.
func camFigures() []Figure {
	return []Figure{
		{Name: "lobe_separation", Kind: quantity.Angle, Doc: "angle between the lobe centres, cam degrees"},
		{Name: "overlap", Kind: quantity.Angle, Doc: "crank degrees with both valves open"},
		{Name: "advance", Kind: quantity.Angle, Doc: "how much the camshaft is advanced from even, crank degrees"},
	}
}

// widestLiftGap is the widest gap between lift samples that is still accepted, degrees of crank.
const widestLiftGap = 20

func computeCamTiming(in Args, out *Out) error {
	angles, height := in.List("crank_angle"), in.Num("checking_height")
	given := 0
	var events [2]lobeEvents
	var slopes []lobeSlopes
	for i, side := range []string{"inlet", "exhaust"} {
		if !in.Has(side + "_lift") {
			continue
		}
		given |= 1 << i
		curve, err := liftOf(in, "crank_angle", side+"_lift", angles)
		if err != nil {
			return err
		}
		if events[i], err = curve.lobe(in, out, side, height); err != nil {
			return err
		}
		if out.wantSlopes {
			if s, ok := curve.slopesWithNose(in, side, height); ok {
				slopes = append(slopes, s)
			}
		}
	}
	if len(slopes) == bits.OnesCount(uint(given)) { // of all lobes or of none
		tellSlopes(out, slopes)
	}
	inlet, exhaust := events[0], events[1]
	switch given {
	case 0:
		return Refuse("inlet_lift", "give inlet_lift, exhaust_lift, or both", "no lift is given")
	case 3:
		setCam(out, inlet, exhaust)
	}
	return nil
}

// liftOf builds the curve of a lift and refuses what does not cover the cycle.
func liftOf(in Args, anglesName, liftName string, angles []float64) (*liftCurve, error) {
	lift := in.List(liftName)
	if len(lift) != len(angles) {
		return nil, Refuse(liftName, "give one lift for each angle", "%d lifts for %d angles", len(lift), len(angles))
	}
	curve, ok := newLiftCurve(angles, lift)
	if !ok {
		return nil, Refuse(anglesName, "sample the whole cycle, every 5° or so", "%d samples", len(angles))
	}
	return curve, nil
}

// lobeEvents are one lobe's events in crank degrees after overlap top dead centre, unwrapped about its nose, which lies
// in (−360, 360].
type lobeEvents struct{ opening, closing float64 }

func (e lobeEvents) middle() float64 { return (e.opening + e.closing) / 2 }

// lobe finds and sets what one curve says.
func (c *liftCurve) lobe(in Args, out *Out, side string, height float64) (lobeEvents, error) {
	field := side + "_lift"
	heights := c.heightsOf(in)
	if err := c.coverage(in, out, side, append([]float64{height}, heights...)); err != nil {
		return lobeEvents{}, err
	}
	most, least := c.most, c.least
	if most <= height+sameLift {
		return lobeEvents{}, Refuse(field, "check the unit, the indicator's sense, and the checking height", "the most lift is %.3f mm, not over the checking height of %.3f mm", most, height)
	}
	if least >= height-sameLift {
		return lobeEvents{}, Refuse(field, "zero the indicator on the base circle", "the least lift is %.3f mm, not under the checking height of %.3f mm", least, height)
	}
	at, _ := c.knot(c.nose)
	turn := signed(at, cycle) - at
	opening, closing, flat := c.events(height)
	e := lobeEvents{opening + turn, closing + turn}
	if flat {
		out.Warn("%s: the lift rests at just the checking height beside an event, so the event is not sharp: take another height to compare", side)
	}
	for _, h := range in.List("heights") {
		if h >= most-sameLift || h <= least+sameLift {
			return e, Refuse("heights", "give heights between the base circle and the nose", "%.3f mm is not within the %s lift of %.3f mm", h, side, most)
		}
	}
	if err := c.checkBase(in, out, side, height); err != nil {
		return e, err
	}
	c.setLobe(out, side, e, height, heights, turn)
	c.setNose(in, out, side, turn)
	out.Set(side+"_lift", most)
	return e, nil
}

// heightsOf are the heights at which the middle is taken.
func (c *liftCurve) heightsOf(in Args) []float64 {
	if h := in.List("heights"); len(h) > 0 {
		return h
	}
	return []float64{c.most / 4, c.most / 2, 3 * c.most / 4}
}

// slopesWithNose is how all figures of a lobe move with its samples.
func (c *liftCurve) slopesWithNose(in Args, side string, height float64) (lobeSlopes, bool) {
	l, ok := c.slopesOf(side, height, c.heightsOf(in), !in.Has("heights"))
	angles := in.List("crank_angle")
	if n, fitted := c.fitNose(angles, in.List(side+"_lift")); ok && fitted {
		l.setNose(n, len(angles))
	}
	return l, ok
}

// setLobe sets the figures of one lobe; centres of an exhaust lobe count before top dead centre.
func (c *liftCurve) setLobe(out *Out, side string, e lobeEvents, height float64, heights []float64, turn float64) {
	sign := 1.0
	if side == "inlet" {
		out.Set("inlet_opening", -e.opening)
		out.Set("inlet_closing", e.closing-180)
		out.From("inlet_opening", Before, theTop)
		out.From("inlet_closing", After, theBottom)
	} else {
		sign = -1
		out.Set("exhaust_opening", -e.opening-180)
		out.Set("exhaust_closing", e.closing)
		out.From("exhaust_opening", Before, theBottom)
		out.From("exhaust_closing", After, theTop)
	}
	out.Set(side+"_duration", e.closing-e.opening)
	out.Set(side+"_centre", sign*e.middle())
	if centre := sign * e.middle(); centre < 45 || centre > 180 {
		out.Warn("%s: the lobe centre lies %.0f° from the overlap, where 90° to 130° is usual: is zero at overlap top dead centre, and is this the right valve?", side, centre)
	}
	low, high := height, height
	lowMid, highMid := e.middle(), e.middle()
	mids := make([]float64, len(heights))
	for i, h := range heights {
		o, cl, _ := c.events(h)
		m := (o+cl)/2 + turn
		mids[i] = sign * m
		if h < low {
			low, lowMid = h, m
		}
		if h > high {
			high, highMid = h, m
		}
	}
	out.SetList(side+"_midpoints", mids)
	out.Set(side+"_asymmetry", highMid-lowMid)
}

// setNose sets the centre of the nose with what its curve may be wrong by, and hands its residuals to Run.
func (c *liftCurve) setNose(in Args, out *Out, side string, turn float64) {
	n, ok := c.fitNose(in.List("crank_angle"), in.List(side+"_lift"))
	if !ok {
		out.Warn("%s: fewer than seven good samples above 80 %% of the lift, so the nose is not fitted: sample it more closely", side)
		return
	}
	sign := 1.0
	if side == "exhaust" {
		sign = -1
	}
	figure := side + "_nose"
	out.Set(figure, sign*(n.centre+turn))
	out.ModelError(figure, n.model)
	out.Fit(Fit{Figures: []string{figure}, Residuals: n.residuals, Unknowns: 5,
		Readings: []Measured{{Input: side + "_lift", Member: n.member}},
		Against:  []Measured{{Input: "crank_angle", Member: n.member, Slope: n.slopes}}})
}

// coverage refuses samples that leave out what is asked for: a cycle all round, or one run over the lobe alone.
func (c *liftCurve) coverage(in Args, out *Out, side string, heights []float64) error {
	gaps := c.gaps(widestLiftGap)
	if len(gaps) == 0 {
		return nil
	}
	gap, from := c.widest()
	nothing := fmt.Sprintf("nothing is sampled from %.1f° for %.1f°", wrap(from, cycle), gap)
	if len(gaps) > 1 {
		return Refuse("crank_angle", "sample the rest of the 720° too, or the lobe in one run", "%s, and there are %d such gaps; at most %d° is accepted", nothing, len(gaps), widestLiftGap)
	}
	lowest := slices.Min(heights)
	tolerance := math.Max(3*slices.Max(in.Spread(side+"_lift")), lowest/10)
	// The run begins after the gap and ends before it.
	for _, end := range [][2]int{{gaps[0] + 1, gaps[0] + 2}, {gaps[0], gaps[0] - 1}} {
		at, y := c.knot(end[0])
		_, inner := c.knot(end[1])
		if y >= lowest-sameLift {
			return Refuse("crank_angle", "sample further down that flank, or the whole 720°", "%s, and at %.1f°, where the samples end, the %s lift is still %.3f mm, not under %.3f mm", nothing, wrap(at, cycle), side, y, lowest)
		}
		if y > inner+tolerance {
			return Refuse("crank_angle", "sample the whole 720°", "%s, and at %.1f°, where the samples end, the %s lift rises again to %.3f mm", nothing, wrap(at, cycle), side, y)
		}
	}
	out.Warn("%s: the base circle was not sampled, so its zero is not proved: look at it at some place opposite the nose", side)
	return nil
}

// baseTolerance is what a base circle may read besides zero without being told, mm.
const baseTolerance = 0.01

// checkBase tells what a base circle that does not read zero is worth at the events.
func (c *liftCurve) checkBase(in Args, out *Out, side string, height float64) error {
	if len(c.gaps(widestLiftGap)) > 0 {
		return nil // told already
	}
	base, ok := c.baseCircle()
	if !ok {
		base = c.least
	}
	if math.Abs(base) >= height/2 {
		return Refuse(side+"_lift", "zero the indicator on the base circle", "the base circle reads %.3f mm, half the checking height of %.3f mm or more", base, height)
	}
	if math.Abs(base) <= math.Max(3*slices.Max(in.Spread(side+"_lift")), baseTolerance) {
		return nil
	}
	opening, closing, _ := c.events(height)
	worth := func(at float64) float64 {
		if slope := math.Abs(c.between(at-1, at+1).slope(at)); slope > 0 {
			return math.Abs(base) / slope
		}
		return 0
	}
	out.Warn("%s: the base circle reads %.3f mm, which is worth %.2f° at the opening and %.2f° at the closing: zero the indicator there", side, base, worth(opening), worth(closing))
	return nil
}

// setCam sets what both lobes say together.
func setCam(out *Out, inlet, exhaust lobeEvents) {
	ilc, elc := inlet.middle(), -exhaust.middle()
	lsa := (ilc + elc) / 2
	out.Set("lobe_separation", lsa)
	out.Set("overlap", -inlet.opening+exhaust.closing)
	out.Set("advance", lsa-ilc)
}
