package calc

import (
	"fmt"
	"math"
	"slices"

	"thoud/calc/quantity"
)

// clearanceStops: the least clearance between a valve and the piston, or between two valves, from five to seven stops of the
// crank, at each of which the valve is pushed from its position to contact.
//
//	clearance at a stop = push         curve: polynomial by weighted least squares, cubic from six stops on, quadratic for five
//	weight 1/u², u² = u_push² + (slope·u_angle)², taken anew until it stays
//	least = where the curve's slope is zero and it bends up, inside the stops
//	model: half-width (h/20°)⁴·0.0065 mm (cubic), ·0.022 mm (quadratic), h half the span of the stops
//	sensitivity of the piston's = −drop′(θ*)·cos β, mm a crank degree of advance
//
// Stops in crank degrees, 3° to 6° apart, the least expected in the middle: after the top for an inlet valve, before it for an
// exhaust. A wheel that is wrong by a constant shifts only the place. Refused: fewer than five stops, stops more than 10°
// apart, the least reading at an end stop, no least inside. Warned of: contact at a stop, fewer than two stops on a side of the
// least. With others, each takes over the curve and is pushed at one stop: its least is its push less what the curve is there
// above its own least. Common practice; curve and half-widths computed independently, no published example.
func clearanceStops() Method {
	crank := crankInputs(false)
	for i := range crank {
		crank[i].Optional = true
	}
	return Method{
		Name: "clearance-stops", Version: 2, Title: "Valve clearance pushed at several stops of the crank",
		Inputs: append([]Input{
			{Name: "crank_angle", Shape: List, Kind: quantity.Angle, Most: mostStops, Doc: "crank angle of each stop, 0 at overlap top dead centre"},
			{Name: "push", Shape: List, Kind: quantity.Length, Most: mostStops, Doc: "how far the valve goes by hand from where it stands to contact, at each"},
		}, append(crank, []Input{
			{Name: "valve_angle", Kind: quantity.Angle, Optional: true, Doc: "angle between the valve's axis and the bore's; with stroke and rod for the sensitivity"},
			{Name: "required", Kind: quantity.Length, Optional: true, Positive: true, Doc: "least clearance wanted (0.080 in inlet, 0.100 in exhaust to the piston with steel rods: common practice)"},
			{Name: "others", Shape: Records, Optional: true, Doc: "the same valve of other cylinders on this camshaft, pushed at one stop near the least", Fields: []Input{
				{Name: "name", Shape: Text, Doc: "which cylinder"},
				{Name: "crank_angle", Kind: quantity.Angle, Doc: "its stop, from its own overlap top"},
				{Name: "push", Kind: quantity.Length, Doc: "how far its valve goes by hand to contact there"},
			}},
			{Name: "between", Shape: Text, Enum: []string{"piston", "valves"}, Optional: true, Doc: "what the valve was pushed to; the piston where not given"},
		}...)...),
		Figures: []Figure{
			{Name: "min_clearance", Kind: quantity.Length, Doc: "least clearance"},
			{Name: "at_crank", Kind: quantity.Angle, Doc: "crank angle of it, negative before the top"},
			{Name: "curvature", Kind: quantity.Slope, Doc: "change of the slope there, mm a degree, for each degree"},
			{Name: "sensitivity", Kind: quantity.Slope, Doc: "change of the least clearance a crank degree of advance; to the piston, with stroke, rod and valve_angle"},
			{Name: "others_clearance", Kind: quantity.Length, List: true, Doc: "with others: least clearance of each, by the curve of these stops"},
			{Name: "others_least", Kind: quantity.Length, Doc: "with others: the least of them"},
			{Name: "apart", Kind: quantity.Length, Doc: "with others: greatest less least clearance of all, this one's too"},
			{Name: "rms", Kind: quantity.Length, Scatter: true, Doc: "scatter of the pushes about the curve"},
			{Name: "model_error", Kind: quantity.Length, Scatter: true, Doc: "half-width of what the curve may be wrong by"},
		},
		Formula: "polynomial through the pushes by weighted least squares (cubic from six stops, quadratic for five); least where its slope is zero",
		Source:  "common practice; the curve's error computed independently",
		Cautions: []string{
			"Checking springs for the measurement only: take them out before assembly. Light springs must not hold the valve off its seat.",
			"Push along the stem: askew it reads too long by its cosine, and a worn guide lets the valve tip.",
			"Never force a crank that stops: turn back and find out why.",
		},
		Compute: computeClearanceStops,
	}
}

// Bounds of the stops.
const (
	fewestStops   = 5
	cubicStops    = 6
	mostStops     = 100
	widestStop    = 10
	cubicModel    = 0.0065 // mm at 20° of half span
	quadModel     = 0.022
	modelAt       = 20
	weightRepeats = 30
)

func computeClearanceStops(in Args, out *Out) error {
	x, y, err := readStops(in)
	if err != nil {
		return err
	}
	degree, model := 3, cubicModel
	if len(x) < cubicStops {
		degree, model = 2, quadModel
	}
	p, err := fitStops(in, degree, x, y)
	if err != nil {
		return Refuse("crank_angle", "push at five stops or more, 3° to 6° apart", "%s do not determine a curve", plurals(len(x), "stop"))
	}
	at, ok := lowestFlat(p)
	if !ok {
		return Refuse("push", "push on further round, or again: the clearances should fall and rise again", "the curve through the stops has no least inside them")
	}
	least, _, bend := p.at(at)
	out.Set("min_clearance", least)
	out.Set("at_crank", at)
	out.From("at_crank", After, theTop)
	out.Set("curvature", bend)
	width := model * math.Pow(p.half/modelAt, 4)
	out.Set("model_error", width)
	out.ModelError("min_clearance", width)
	stopsFit(in, out, p, x, y)
	if err := stopsSensitivity(in, out, at); err != nil {
		return err
	}
	warnStops(out, x, y, at)
	if err := otherStops(in, out, p, x, least, width); err != nil || !in.Has("required") {
		return err
	}
	short := in.Num("required") - least
	what, words := "valve pocket", "{direction} the valve pocket by {amount} along the valve's axis, or move the timing; measure again"
	if in.Text("between") == "valves" {
		what, words = "valves", "{amount} too little between the valves at {figure:at_crank}: spread the lobe centres, or sink a seat; measure again"
	}
	a := Adjustment{What: what, Amount: short, Kind: quantity.Length, Direction: "deepen", Answers: []string{"min_clearance"}, Words: words}
	if what == "valves" {
		a.Direction = "part"
	}
	if short <= 1e-9 {
		a.Amount, a.Direction, a.Words = 0, "none", "leave it: {figure:min_clearance} is enough"
	}
	out.Adjust(a)
	return nil
}

// otherStops takes over the curve for other cylinders: their pistons and cams are alike, so that their curves differ by what
// their pockets differ.
func otherStops(in Args, out *Out, p polynomial, x []float64, least, width float64) error {
	others := in.Recs("others")
	if len(others) == 0 {
		return nil
	}
	all := []float64{least}
	for i, r := range others {
		at := nearest(r.Num("crank_angle"), (slices.Min(x)+slices.Max(x))/2, 360)
		if at < slices.Min(x)-1e-9 || at > slices.Max(x)+1e-9 {
			return Refuse(fmt.Sprintf("others[%d].crank_angle", i), "push it at one of the stops of the first cylinder", "%.1f° lies outside of them", at)
		}
		curve, _, _ := p.at(at)
		c := r.Num("push") - (curve - least)
		all = append(all, c)
		if short := in.Num("required") - c; in.Has("required") && short > 1e-9 {
			name := plainName(r.Text("name"))
			out.Adjust(Adjustment{What: "valve pocket of " + name, Amount: short, Kind: quantity.Length, Direction: "deepen", Answers: []string{"others_least"},
				Words: "{direction} the valve pocket of " + name + " by {amount} along the valve's axis; measure again"})
		}
	}
	out.SetList("others_clearance", all[1:])
	out.Set("others_least", slices.Min(all[1:]))
	out.Set("apart", slices.Max(all)-slices.Min(all))
	out.ModelError("others_least", width)
	return nil
}

// readStops gives the stops with their angles about the top, in the order read.
func readStops(in Args) (x, y []float64, err error) {
	x, y = in.List("crank_angle"), in.List("push")
	if len(x) != len(y) {
		return nil, nil, Refuse("push", "give one push for each stop", "%s for %s", plurals(len(y), "push"), plurals(len(x), "stop"))
	}
	if n := distinctAngles(x); n < fewestStops {
		return nil, nil, Refuse("crank_angle", "push at five stops or more, 3° to 6° apart", "%d different stops", n)
	}
	about := signed(circularMean(x), 360)
	order := make([]int, len(x))
	for i := range x {
		x[i], order[i] = nearest(x[i], about, 360), i
	}
	slices.SortFunc(order, func(a, b int) int {
		if x[a] < x[b] {
			return -1
		}
		return 1
	})
	least := order[0]
	for k, i := range order {
		if k > 0 && x[i]-x[order[k-1]] > widestStop+1e-9 {
			return nil, nil, Refuse("crank_angle", "push at stops in between as well", "from %.1f° to %.1f° no stop was taken, at most %d° are accepted", x[order[k-1]], x[i], widestStop)
		}
		if y[i] < y[least] {
			least = i
		}
	}
	if least == order[0] || least == order[len(order)-1] {
		return nil, nil, Refuse("crank_angle", "push on further round on that side", "the least of the pushes, %.3f mm, is at an end stop, %.1f°", y[least], x[least])
	}
	return x, y, nil
}

// fitStops fits with weights from the pushes' own uncertainty and, by the slope, that of the angles.
func fitStops(in Args, degree int, x, y []float64) (polynomial, error) {
	p, err := fitPolynomial(degree, x, y, nil)
	uy, ux := in.Spread("push"), in.Spread("crank_angle")
	slope := make([]float64, len(x))
	for range weightRepeats {
		if err != nil {
			return p, err
		}
		moved := 0.0
		for i := range x {
			_, s, _ := p.at(x[i])
			moved, slope[i] = math.Max(moved, math.Abs(s-slope[i])), s
		}
		if moved < 1e-13 {
			break
		}
		p, err = fitPolynomial(degree, x, y, weights(uy, ux, slope))
	}
	return p, err
}

// lowestFlat is the lowest place inside where the curve lies flat and bends up.
func lowestFlat(p polynomial) (at float64, ok bool) {
	low := math.Inf(1)
	for _, x := range p.flats() {
		if y, _, bend := p.at(x); bend > 0 && y < low {
			low, at, ok = y, x, true
		}
	}
	return at, ok
}

// stopsFit hands the residuals to Run.
func stopsFit(in Args, out *Out, p polynomial, x, y []float64) {
	f := Fit{Figures: []string{"min_clearance", "at_crank", "curvature", "sensitivity"}, Unknowns: len(p.c), Readings: []Measured{{Input: "push"}}}
	slopes := make([]float64, len(x))
	squares := 0.0
	for i := range x {
		fitted, s, _ := p.at(x[i])
		f.Residuals = append(f.Residuals, y[i]-fitted)
		slopes[i] = s
		squares += sq(y[i] - fitted)
	}
	f.Against = []Measured{{Input: "crank_angle", Slope: slopes}}
	out.Fit(f)
	if n := len(x) - len(p.c); n > 0 {
		out.Set("rms", math.Sqrt(squares/float64(n)))
	}
}

func stopsSensitivity(in Args, out *Out, at float64) error {
	if in.Text("between") == "valves" || !in.Has("stroke") && !in.Has("rod") && !in.Has("valve_angle") {
		return nil
	}
	for _, name := range []string{"stroke", "rod", "valve_angle"} {
		if !in.Has(name) {
			return Need(name, "stroke, rod and valve_angle together, for the sensitivity")
		}
	}
	c, err := crankOf(in)
	if err != nil {
		return err
	}
	b := in.Num("valve_angle")
	if b < 0 || b >= mostValveAngle {
		return Refuse("valve_angle", "give the angle between valve and bore, half the included angle of a symmetric head", "%.1f° is no valve angle", b)
	}
	out.Set("sensitivity", -c.slope(at)*cosDeg(b))
	return nil
}

func warnStops(out *Out, x, y []float64, at float64) {
	before := 0
	for i := range x {
		if x[i] < at {
			before++
		}
		if y[i] <= 0 {
			out.Warn("contact at the stop of %.1f°: do not turn the crank through", x[i])
		}
	}
	if after := len(x) - before; min(before, after) < 2 {
		out.Warn("only one stop on one side of the least: push at one more there")
	}
}
