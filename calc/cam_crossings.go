package calc

import (
	"fmt"
	"math"
	"slices"

	"thoud/calc/quantity"
)

// camCrossings: cam timing from a wheel read by eye, at the heights where the lift rises through and falls through.
//
//	θ = wheel − tdc (+ lash, read against the running direction)      wheel growing in the running direction
//	duration D = (closing − opening) mod 360                          middle m = θ_opening + D/2, in 0 … 360 (inlet) or
//	                                                                  −180 … 180 (exhaust), so a wheel of 360° is enough
//	opening = m − D/2, closing = m + D/2: before and after the dead centres as cam-timing gives them
//	centre = Σ m/u² / Σ 1/u²                 asymmetry = slope of m on height · (highest − lowest height), + = later higher up
//	u_θ² = r²/12 + (u_h/slope)²              r the step read, slope of the flank from the neighbouring heights
//
// Heights in mm of lift, angles in degrees. Zero the indicator on the base circle; come to every height in the running
// direction and never turn back to it. The dead centre is common to all: it is in the centre and the events, and not in the
// duration and the asymmetry. A wrong zero of the indicator leaves the middles nearly alone, as both flanks move apart: trust
// the centre before the duration. Scatter is about the line m = a + b·height. Refused: lists of unequal length; a higher
// height that does not lie inside a lower one by more than three times what is read; durations outside 90° … 345°; one flank
// read against the other. One height has no slope: then only the wheel's step counts, which is warned of. Common practice; the
// uncertainty computed independently, no published example.
func camCrossings() Method {
	return Method{
		Name: "cam-crossings", Version: 1, Title: "Cam timing with a wheel read by eye",
		Inputs: []Input{
			{Name: "heights", Shape: List, Most: mostHeights, Kind: quantity.Length, Positive: true, Doc: "lifts at which the wheel was read"},
			{Name: "opening", Shape: List, Most: mostHeights, Kind: quantity.Angle, Doc: "wheel where the lift rises through each height"},
			{Name: "closing", Shape: List, Most: mostHeights, Kind: quantity.Angle, Doc: "wheel where it falls through each height"},
			{Name: "tdc", Kind: quantity.Angle, Doc: "wheel at overlap top dead centre"},
			{Name: "valve", Shape: Text, Enum: []string{"inlet", "exhaust"}, Doc: "which valve"},
			{Name: "checking_height", Kind: quantity.Length, Positive: true, Optional: true, Doc: "the height whose events are given, one of heights; the first where not given"},
			{Name: "resolution", Kind: quantity.Angle, Positive: true, Optional: true, Doc: "step to which the wheel is read"},
			{Name: "approach", Shape: Text, Enum: []string{"running", "against", "mixed"}, Optional: true, Doc: "direction in which the heights were come to; running where not given"},
			{Name: "lash", Kind: quantity.Angle, Optional: true, Doc: "lost motion of the camshaft's drive in crank degrees; counted where the heights were come to against the running direction"},
		},
		Figures: []Figure{
			{Name: "opening", Kind: quantity.Angle, Doc: "opening at the checking height: inlet before top, exhaust before bottom dead centre"},
			{Name: "closing", Kind: quantity.Angle, Doc: "closing there: inlet after bottom, exhaust after top dead centre"},
			{Name: "duration", Kind: quantity.Angle, Doc: "crank degrees open at the checking height"},
			{Name: "durations", Kind: quantity.Angle, List: true, Doc: "the same at each height"},
			{Name: "centres", Kind: quantity.Angle, List: true, Doc: "middle at each height: inlet after, exhaust before top dead centre"},
			{Name: "centre", Kind: quantity.Angle, Doc: "lobe centre from all heights: inlet after, exhaust before top dead centre"},
			{Name: "asymmetry", Kind: quantity.Angle, Doc: "drift of the middle from the lowest height to the highest, + = later"},
			{Name: "scatter", Kind: quantity.Angle, Scatter: true, Doc: "scatter of the middles about their line; from three heights on"},
		},
		Formula: "duration = closing − opening; middle = opening + duration/2 − tdc; centre = weighted mean of the middles",
		Source:  "common practice; uncertainty computed independently",
		Cautions: []string{
			"Turn by hand in the running direction only, plugs out; stop at the first resistance: a valve may meet the piston.",
			"Look along the pointer, not from the side. Read top dead centre again at the end: if the wheel slipped, all over again.",
			"Light springs and no lash, or the lift is not the cam's.",
		},
		Uncertainty: crossingUncertainty,
		Compute:     computeCamCrossings,
	}
}

// Bounds of what is a lobe read by eye.
const (
	shortestLobe = 90
	longestLobe  = 345
	mostHeights  = 100
	coarseWheel  = 1.0
)

// crossingUncertainty gives every reading of the wheel its step, and what the uncertainty of its height is worth on that flank.
func crossingUncertainty(in Args, add func(list string, member int, c Component)) {
	step := in.Num("resolution") / math.Sqrt(12)
	heights, uh := in.List("heights"), in.Spread("heights")
	for _, list := range []string{"opening", "closing"} {
		w := in.List(list)
		for i := range w {
			add(list, i, Component{Name: "resolution", U: step})
		}
		if len(w) != len(heights) {
			continue
		}
		for i, slope := range flankSlopes(heights, w) {
			if slope > 0 {
				add(list, i, Component{Name: "height", U: uh[i] / slope})
			}
		}
	}
}

// flankSlopes is how steep a flank is at each height, mm a degree: from the neighbouring heights; 0 where there is one only.
func flankSlopes(heights, wheel []float64) []float64 {
	order := byHeight(heights)
	slopes := make([]float64, len(heights))
	for k, i := range order {
		lo, hi := order[max(k-1, 0)], order[min(k+1, len(order)-1)]
		if turned := math.Abs(signed(wheel[hi]-wheel[lo], 360)); turned > 0 {
			slopes[i] = (heights[hi] - heights[lo]) / turned
		}
	}
	return slopes
}

func byHeight(heights []float64) []int {
	order := make([]int, len(heights))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case heights[a] < heights[b]:
			return -1
		case heights[a] > heights[b]:
			return 1
		}
		return 0
	})
	return order
}

// crossing is what one height says: crank degrees after overlap top dead centre.
type crossing struct {
	height, middle, duration float64
	u                        float64 // of one reading of the wheel, 0 unknown
}

func computeCamCrossings(in Args, out *Out) error {
	cs, err := readCrossings(in)
	if err != nil {
		return err
	}
	checked, err := checkedHeight(in, cs)
	if err != nil {
		return err
	}
	sign := 1.0
	if in.Text("valve") == "exhaust" {
		sign = -1
	}
	var centres, durations []float64
	for _, c := range cs {
		centres, durations = append(centres, sign*c.middle), append(durations, c.duration)
	}
	c := cs[checked]
	opening, closing := c.middle-c.duration/2, c.middle+c.duration/2
	if sign > 0 {
		out.Set("opening", -opening)
		out.Set("closing", closing-180)
		out.From("opening", Before, theTop)
		out.From("closing", After, theBottom)
	} else {
		out.Set("opening", -opening-180)
		out.Set("closing", closing)
		out.From("opening", Before, theBottom)
		out.From("closing", After, theTop)
	}
	out.Set("duration", c.duration)
	out.SetList("durations", durations)
	out.SetList("centres", centres)
	line := fitMiddles(cs)
	out.Set("centre", sign*line.mean)
	if len(cs) > 1 {
		out.Set("asymmetry", line.slope*line.span)
	}
	line.fit(out, len(cs))
	warnCrossings(in, out, sign*line.mean, line, len(cs))
	return nil
}

func readCrossings(in Args) ([]crossing, error) {
	heights, opening, closing := in.List("heights"), in.List("opening"), in.List("closing")
	if len(opening) != len(heights) || len(closing) != len(heights) {
		return nil, Refuse("opening", "give the wheel at the rise and at the fall through each height", "%s, %s of the rise, %s of the fall", plurals(len(heights), "height"), plurals(len(opening), "reading"), plurals(len(closing), "reading"))
	}
	lash := 0.0
	switch in.TextOr("approach", "running") {
	case "against":
		if !in.Has("lash") {
			return nil, Need("lash", "the lost motion of the camshaft's drive, as the heights were come to against the running direction")
		}
		lash = in.Num("lash")
		if math.Abs(lash) > 45 {
			return nil, Refuse("lash", "measure it with the crank, turning to and fro", "%.1f° is no lost motion of a camshaft's drive", lash)
		}
	case "mixed":
		return nil, Refuse("approach", "read both flanks again in the running direction", "with one flank come to the other way round the duration is wrong by the lash and the centre by half of it")
	}
	uo, uc := in.Spread("opening"), in.Spread("closing")
	var cs []crossing
	for i, h := range heights {
		c := crossing{height: h, duration: wrap(closing[i]-opening[i], 360), u: math.Max(uo[i], uc[i])}
		if c.duration < shortestLobe || c.duration > longestLobe {
			return nil, Refuse("closing", "check which reading is of the rise and which of the fall", "at %.3f mm the valve would be open for %.1f°, %d° to %d° are answered", h, c.duration, shortestLobe, longestLobe)
		}
		m := opening[i] + lash - in.Num("tdc") + c.duration/2
		if c.middle = wrap(m, 360); in.Text("valve") == "exhaust" {
			c.middle = signed(m, 360)
		}
		cs = append(cs, c)
	}
	return cs, nested(cs)
}

// nested refuses a height that does not lie inside every lower one.
func nested(cs []crossing) error {
	heights := make([]float64, len(cs))
	for i, c := range cs {
		heights[i] = c.height
	}
	order := byHeight(heights)
	for k, i := range order[1:] {
		low, high := cs[order[k]], cs[i]
		least := 3 * math.Max(low.u, high.u)
		shift := signed(high.middle-low.middle, 360)
		for _, inside := range []struct {
			by   float64
			what string
		}{{(low.duration-high.duration)/2 + shift, "opening"}, {(low.duration-high.duration)/2 - shift, "closing"}} {
			if !(inside.by > least) {
				return Refuse(inside.what, "read the two heights again, or leave one out",
					"at %.3f mm the flank stands %.2f° inside that of %.3f mm, which is not more than the wheel is read to (%.2f°)", high.height, inside.by, low.height, least)
			}
		}
	}
	return nil
}

func checkedHeight(in Args, cs []crossing) (int, error) {
	if !in.Has("checking_height") {
		return 0, nil
	}
	h := in.Num("checking_height")
	for i, c := range cs {
		if math.Abs(c.height-h) <= 1e-6*h {
			return i, nil
		}
	}
	return 0, Refuse("checking_height", "read the wheel at the checking height too, or give one of heights", "%.4f mm is none of the heights", h)
}

// middleLine is the line through the middles: m = mean + slope·(height − where).
type middleLine struct {
	mean, slope, span float64
	residuals         []float64
	scatter           float64
	uSlope            float64 // standard uncertainty of the slope, 0 unknown
}

// fitMiddles is the weighted line; the centre is the weighted mean. A middle is as uncertain as a reading, over √2.
func fitMiddles(cs []crossing) middleLine {
	known := true
	for _, c := range cs {
		known = known && c.u > 0
	}
	weight := func(c crossing) float64 {
		if !known {
			return 1
		}
		return 2 / (c.u * c.u)
	}
	var l middleLine
	sum, where, low, high := 0.0, 0.0, math.Inf(1), 0.0
	first := cs[0].middle // middles are near one another, so they are taken about the first, across 0 as well
	for _, c := range cs {
		w := weight(c)
		sum += w
		where += w * c.height
		l.mean += w * signed(c.middle-first, 360)
		low, high = math.Min(low, c.height), math.Max(high, c.height)
	}
	where, l.mean, l.span = where/sum, l.mean/sum, high-low
	sxx, sxy := 0.0, 0.0
	for _, c := range cs {
		w := weight(c)
		sxx += w * sq(c.height-where)
		sxy += w * (c.height - where) * (signed(c.middle-first, 360) - l.mean)
	}
	if sxx > 0 {
		l.slope = sxy / sxx
		if known {
			l.uSlope = 1 / math.Sqrt(sxx)
		}
	}
	squares := 0.0
	for _, c := range cs {
		r := signed(c.middle-first, 360) - l.mean - l.slope*(c.height-where)
		l.residuals = append(l.residuals, r)
		squares += r * r
	}
	l.mean += first
	if n := len(cs) - 2; n > 0 {
		l.scatter = math.Sqrt(squares / float64(n))
	}
	return l
}

// fit hands the residuals to Run.
func (l middleLine) fit(out *Out, n int) {
	if n < 3 {
		return
	}
	out.Set("scatter", l.scatter)
	half := make([]float64, n)
	for i := range half {
		half[i] = 0.5
	}
	out.Fit(Fit{Figures: []string{"centre", "asymmetry"}, Residuals: l.residuals, Unknowns: 2,
		Readings: []Measured{{Input: "opening", Slope: half}, {Input: "closing", Slope: half}}})
}

func warnCrossings(in Args, out *Out, centre float64, l middleLine, n int) {
	if centre < 90 || centre > 130 {
		out.Warn("the lobe centre lies %.0f° from the overlap, where 90° to 130° is usual: is the wheel's top dead centre that of the overlap, and is this the right valve?", centre)
	}
	if n == 1 {
		out.Warn("one height only: its own uncertainty is not in U, and nothing shows whether the lobe leans; read two heights more")
	}
	if in.Num("resolution") > coarseWheel {
		out.Warn("the wheel is read to %s only: a larger wheel, or interpolate between the marks", fmt.Sprintf("%.1f°", in.Num("resolution")))
	}
	margin := coverage95 * l.uSlope * l.span
	if l.uSlope > 0 && math.Abs(l.slope*l.span) > margin {
		out.Warn("the lobe leans: its middle drifts by %.2f° from the lowest height to the highest; compare at the heights the cam card names", l.slope*l.span)
	}
}
