package calc

import (
	"fmt"
	"math"

	"thoud/calc/quantity"
)

// valveSpring: rate, loads and coil-bind margin of a valve's springs, and the shim for a wanted seat load.
//
//	rate   k = G·d⁴/(8·D³·n), D = outside − wire (EN 13906-1), or (F₂ − F₁)/(L₁ − L₂), or as given
//	load   F = k·(free − height); seat at the fitted height, open at fitted − lift; loads of a nest add
//	solid  = total coils·wire, ends ground          margin = fitted − lift − solid, the least of a nest counts
//	shim t: load + Σk·t, margin − t                  shim for load = (seat wanted − seat)/Σk
//
// Lengths in mm, forces in N; lift is the valve's, net of lash; shim + adds load. One shim under the nest raises every
// spring of it. A load wanted is a least load: from a stock the thinnest stack is taken that reaches it and leaves the
// margin, of several as thin the one of fewest pieces. Refused: a load that needs more shim than the margin leaves,
// naming the spring that limits it; a stock that cannot reach it; a spring whose rate cannot be had.
func valveSpring() Method {
	perSpring := func(name string, kind quantity.Kind, doc string) Figure {
		return Figure{Name: name, Kind: kind, List: true, Doc: doc}
	}
	return Method{
		Name: "valve-spring", Version: 2, Title: "Valve springs: load, coil bind and shims",
		Inputs: []Input{
			{Name: "springs", Shape: Records, Fields: springInputs(), Doc: "the springs of one valve, outer first"},
			{Name: "lift", Kind: quantity.Length, Positive: true, Doc: "lift of the valve, net of lash"},
			{Name: "shims", Shape: List, Kind: quantity.Length, Optional: true, Positive: true, Doc: "shims in stock"},
			{Name: "seat_wanted", Kind: quantity.Force, Optional: true, Positive: true, Doc: "least load wanted with the valve shut, all springs together"},
			{Name: "margin_wanted", Kind: quantity.Length, Optional: true, Positive: true, Doc: "least coil-bind margin wanted (0.060 in: common practice)"},
		},
		Figures: []Figure{
			perSpring("rate", quantity.Stiffness, "rate of each spring"),
			perSpring("solid", quantity.Length, "height of each with all coils touching"),
			perSpring("margin", quantity.Length, "travel left to coil bind at full lift, each spring"),
			perSpring("index", quantity.Number, "mean coil diameter/wire of each"),
			perSpring("least_gaps", quantity.Length, "sum of gaps that EN 13906-1 asks of a cold-coiled spring under moving load, at full lift"),
			{Name: "total_rate", Kind: quantity.Stiffness, Doc: "rate of all springs together"},
			{Name: "seat", Kind: quantity.Force, Doc: "load with the valve shut"},
			{Name: "open", Kind: quantity.Force, Doc: "load at full lift"},
			{Name: "shim", Kind: quantity.Length, Doc: "shim to add; negative = to take out"},
			{Name: "pieces", Kind: quantity.Length, List: true, Choice: true, Doc: "the shims of the stock that make it, thickest first"},
			{Name: "seat_then", Kind: quantity.Force, Doc: "load with the valve shut, with it"},
			{Name: "open_then", Kind: quantity.Force, Doc: "load at full lift, with it"},
			{Name: "margin_then", Kind: quantity.Length, Doc: "least coil-bind margin, with it"},
			{Name: "shim_for_load", Kind: quantity.Length, Doc: "shim that gives just the load wanted"},
			{Name: "shim_for_margin", Kind: quantity.Length, Doc: "most shim that leaves the margin wanted"},
			{Name: "limiting", Text: true, Doc: "spring that binds first"},
		},
		Formula: "k = G·d⁴/(8·D³·n); load = k·(free − height); margin = fitted − lift − solid; shim for load = (seat wanted − seat)/Σk",
		Source:  "EN 13906-1 (rate, sum of gaps); margins are common practice",
		Cautions: []string{
			"Springs and collets fly: face shield, compressor square on, nobody in line, release slowly.",
			"The rate goes with the fourth power of the wire: measure it bare of paint.",
			"Look that guide, seal and rocker clear the collar at full lift before the coils do.",
		},
		Compute: computeValveSpring,
	}
}

// usualMargin is the coil-bind margin below which there is a warning where none is asked for: 0.060 in, common practice.
const usualMargin = 0.060 * 25.4

// springNest is the springs of one valve together.
type springNest struct {
	springs    []coilSpring
	rate       float64
	seat       float64
	loadsKnown bool
	margin     float64 // least
	limiting   string
	bindKnown  bool
}

func computeValveSpring(in Args, out *Out) error {
	n, err := nestOf(in, out)
	if err != nil {
		return err
	}
	lift := in.Num("lift")
	out.Set("total_rate", n.rate)
	if n.loadsKnown {
		out.Set("seat", n.seat)
		out.Set("open", n.seat+n.rate*lift)
	}
	if n.bindKnown {
		out.SetText("limiting", n.limiting)
	}
	if in.Has("margin_wanted") {
		if !n.bindKnown {
			return Refuse("margin_wanted", "give fitted height and solid height (or total_coils and wire) of every spring", "the margin is not known")
		}
		out.Set("shim_for_margin", n.margin-in.Num("margin_wanted"))
	}
	if !in.Has("seat_wanted") {
		n.warn(in, out)
		return nil
	}
	if !n.loadsKnown {
		return Refuse("seat_wanted", "give fitted height and free length (or a load with its height) of every spring", "the seat load is not known")
	}
	return n.shim(in, out)
}

func nestOf(in Args, out *Out) (springNest, error) {
	n := springNest{loadsKnown: true, bindKnown: true, margin: math.Inf(1)}
	var rate, solid, margin, index, gaps []float64
	for i, rec := range in.Recs("springs") {
		s, err := springOf(rec, i)
		if err != nil {
			return n, err
		}
		n.springs = append(n.springs, s)
		n.rate += s.rate
		rate = append(rate, s.rate)
		if s.solid > 0 {
			solid = append(solid, s.solid)
		}
		if s.index > 0 {
			index = append(index, s.index)
		}
		if s.leastGaps > 0 {
			gaps = append(gaps, s.leastGaps)
		}
		n.loadsKnown = n.loadsKnown && s.loadKnown && s.fitted > 0
		n.bindKnown = n.bindKnown && s.solid > 0 && s.fitted > 0
		n.seat += s.load(s.fitted)
		left := s.fitted - in.Num("lift") - s.solid
		margin = append(margin, left)
		if left < n.margin {
			n.margin, n.limiting = left, s.name
		}
		if s.rateOther != "" {
			out.Warn("%s: %.2f N/mm by %s, but %s: one of the measurements is wrong", s.name, s.rate, s.rateFrom, s.rateOther)
		}
	}
	if len(n.springs) == 0 {
		return n, Refuse("springs", "give the springs of one valve", "no spring")
	}
	out.SetList("rate", rate)
	all := func(name string, xs []float64) {
		if len(xs) == len(n.springs) {
			out.SetList(name, xs)
		}
	}
	all("solid", solid)
	all("index", index)
	all("least_gaps", gaps)
	if n.bindKnown {
		out.SetList("margin", margin)
	}
	return n, nil
}

func (n springNest) warn(in Args, out *Out) {
	switch least := in.NumOr("margin_wanted", usualMargin); {
	case !n.bindKnown:
		out.Warn("coil bind is not checked: fitted and solid height are not known for every spring")
	case n.margin <= 0:
		out.Warn("%s binds: %.3f mm before full lift", n.limiting, -n.margin)
	case n.margin < least:
		out.Warn("%s has only %.3f mm left to coil bind, %.3f mm is wanted", n.limiting, n.margin, least)
	}
}

// shim finds the shim for the load and sets what it gives.
func (n springNest) shim(in Args, out *Out) error {
	exact := (in.Num("seat_wanted") - n.seat) / n.rate
	out.Set("shim_for_load", exact)
	limit := math.Inf(1)
	if n.bindKnown {
		limit = n.margin - in.Num("margin_wanted")
	}
	if exact > limit+1e-9 {
		return Refuse("seat_wanted", "take a stiffer or a longer spring, or ask for less",
			"it needs %.3f mm of shim, but %s leaves only %.3f mm before its coil-bind margin is used up", exact, n.limiting, limit)
	}
	shim := exact
	a := Adjustment{What: "shims", Kind: quantity.Length, Direction: "fit", Answers: []string{"seat"}, Guards: []string{"open", "margin"}, Words: "{direction} {amount} of shim under the springs: {figure:seat_then} with the valve shut, {figure:open_then} at full lift"}
	switch {
	case exact < -1e-9:
		a.Direction = "remove"
		a.Words = "{direction} {amount} of shim from under the springs, if there is so much: {figure:seat_then} with the valve shut"
	case in.Has("shims"):
		pieces, err := thinnestSprings(in, exact, limit)
		if err != nil {
			return err
		}
		shim = 0
		for _, p := range pieces {
			shim += p
		}
		out.SetList("pieces", pieces)
		out.WarnNear("seat_then", in.Num("seat_wanted"), "the load with these shims is over the one wanted by less than it is known to: it may be short of it")
		a.Pieces = pieces
		a.Words = "{direction} {amount} of shim under the springs, {pieces}: {figure:seat_then} with the valve shut, {figure:open_then} at full lift"
	}
	if math.Abs(shim) < 1e-9 {
		a.Direction, a.Words = "none", "fit no shim: the load is {figure:seat_then} with the valve shut"
	}
	a.Amount = shim
	seat := n.seat + n.rate*shim
	out.Set("shim", shim)
	out.Set("seat_then", seat)
	out.Set("open_then", seat+n.rate*in.Num("lift"))
	if n.bindKnown {
		out.Set("margin_then", n.margin-shim)
	}
	n.margin -= shim
	n.warn(in, out)
	out.Adjust(a)
	return nil
}

// thinnestSprings chooses from the stock the thinnest stack of at least a thickness and not over the limit.
func thinnestSprings(in Args, want, limit float64) ([]float64, error) {
	shims := in.List("shims")
	if len(shims) > maxShims {
		return nil, Refuse("shims", "list those that could be fitted", "%d shims, at most %d are searched", len(shims), maxShims)
	}
	ask := stackAsk{want: counts(want), least: counts(want), max: len(shims), most: math.MaxInt64}
	if limit < 1e6 {
		ask.most = max(counts(limit), ask.least)
	}
	for _, s := range shims {
		if counts(s) <= 0 {
			return nil, Refuse("shims", "give the thickness as measured", "a shim of %g mm is thinner than can be measured", s)
		}
		ask.pieces = append(ask.pieces, counts(s))
	}
	found, ok, err := ask.best()
	if err != nil {
		return nil, Refuse("shims", "check the unit of the shims and the load wanted", "%v is not searched", err)
	}
	if !ok {
		most := "any"
		if limit < 1e6 {
			most = fmt.Sprintf("%.3f mm", limit)
		}
		return nil, Refuse("shims", "add other thicknesses to the stock, or ask for less load", "no stack of these makes the %.3f mm that the load needs, at most %s", want, most)
	}
	pieces := make([]float64, 0, len(found.index))
	for _, i := range found.index {
		pieces = append(pieces, shims[i])
	}
	return pieces, nil
}
