package calc

import (
	"fmt"
	"math"

	"thoud/calc/quantity"
)

// compression gives ratio and squish as measured, and the base plates for a ratio or a squish that is wanted.
//
//	swept V_s = π/4·B²·S            S the piston's true stroke (more than 2R with an offset pin)
//	V_c = chamber + π/4·D_g²·t_g + π/4·B²·deck − dome        ratio = (V_s + V_c)/V_c
//	dome by filling = π/4·B²·h − measured volume, the rim h below the joint face
//	squish = deck + gasket + recess
//	wanted ratio: V_c = V_s/(ratio − 1), plate t = ΔV/(π/4·B²), + = thicker; never thinner than squish_min − squish
//	without ratio_wanted: t = squish_min − squish
//	dynamic ratio = (π/4·B²·d + V_c)/V_c      d = drop at 360° − inlet_closing before firing TDC
//
// With chambers, several cylinders on one joint get one plate: of the stacks with every squish_i + t ≥ squish_min the one with
// the least of the largest |ratio_i − wanted|; without a stock t* solves (greatest + least ratio)/2 = wanted. equalise is the
// greatest less the least clearance volume, to be cut from the smaller chamber; ratios more than 0.1 apart are warned of.
// The dynamic ratio is then that of the cylinder with the highest ratio.
//
// Lengths in mm, volumes in cm³, + deck = piston below. Of the plates in stock the stack nearest to t that keeps
// squish_min is taken; of two equally near the thicker, which gives the lower ratio; then fewest, then thickest first.
// Where plates are given, what stands as then is with that stack, else with t itself. With plate_now the plate that is in takes
// part in the choice: a stack of the same thickness is told to be left, another to be fitted in its place. A base plate acts on the bore
// area; a head gasket on its own bore. Refused: a chamber that the dome fills, a ratio of 1 or less, an inlet closing
// that is not counted from overlap TDC, a stock that cannot keep the squish. The crevice above the top ring is left
// out (a few tenths of a cm³). Plane geometry; common practice.
func compression() Method {
	return Method{
		Name: "compression", Version: 3, Title: "Compression ratio, squish, and the plates for them",
		Inputs: []Input{
			{Name: "bore", Kind: quantity.Length, Positive: true, Doc: "bore"},
			{Name: "stroke", Kind: quantity.Length, Positive: true, Doc: "diameter of the crankpin's circle, 2R"},
			{Name: "deck", Kind: quantity.Length, Optional: true, Doc: "at the pin axis, + = piston below the joint face; or chambers"},
			{Name: "chamber", Kind: quantity.Volume, Positive: true, Optional: true, Doc: "of the head, with valves and plug fitted; or chambers"},
			{Name: "chambers", Shape: Records, Optional: true, Doc: "instead of chamber, deck and dome: those of each cylinder on one joint", Fields: []Input{
				{Name: "name", Shape: Text, Optional: true, Doc: "which cylinder"},
				{Name: "chamber", Kind: quantity.Volume, Positive: true, Doc: "of its head, with valves and plug fitted"},
				{Name: "deck", Kind: quantity.Length, Doc: "at its pin axis, + = piston below the joint face"},
				{Name: "dome", Kind: quantity.Volume, Optional: true, Doc: "of its crown above the rim; negative = a dish"},
			}},
			{Name: "dome", Kind: quantity.Volume, Optional: true, Doc: "of the crown above its rim; negative = a dish"},
			{Name: "filled", Kind: quantity.Volume, Optional: true, Doc: "instead of dome: volume measured above the crown, up to the joint face, with the piston filled_down"},
			{Name: "filled_down", Kind: quantity.Length, Positive: true, Optional: true, Doc: "how far the crown's rim was below the joint face when it was filled"},
			{Name: "gasket_thickness", Kind: quantity.Length, Optional: true, Doc: "of the head gasket, compressed"},
			{Name: "gasket_bore", Kind: quantity.Length, Positive: true, Optional: true, Doc: "hole in the head gasket"},
			{Name: "recess", Kind: quantity.Length, Optional: true, Doc: "depth of the head's squish face below its joint face"},
			{Name: "ratio_wanted", Kind: quantity.Number, Optional: true, Doc: "compression ratio wanted"},
			{Name: "squish_min", Kind: quantity.Length, Optional: true, Doc: "least squish allowed; without ratio_wanted the squish wanted"},
			{Name: "plates", Shape: List, Kind: quantity.Length, Positive: true, Optional: true, Doc: "base plates in stock, each as often as there are of it"},
			{Name: "plate_now", Kind: quantity.Length, Optional: true, Doc: "thickness of what is under the barrel now, out of the stock; the deck was read on it, and what is told takes its place"},
			{Name: "max_plates", Kind: quantity.Number, Optional: true, Doc: "most plates in the joint; any number where not given"},
			{Name: "rod", Kind: quantity.Length, Positive: true, Optional: true, Doc: "length of the connecting rod, for the dynamic ratio"},
			{Name: "pin_offset", Kind: quantity.Length, Optional: true, Doc: "+ to the side towards which the crankpin moves just after top dead centre"},
			{Name: "inlet_closing", Kind: quantity.Angle, Optional: true, Doc: "after overlap TDC: 180° + the angle after bottom dead centre"},
		},
		Figures: []Figure{
			{Name: "dome", Kind: quantity.Volume, Doc: "of the crown above its rim"},
			{Name: "swept", Kind: quantity.Volume, Doc: "swept volume of one cylinder"},
			{Name: "clearance_volume", Kind: quantity.Volume, Doc: "volume above the piston at top dead centre"},
			{Name: "ratio", Kind: quantity.Number, Unit: ": 1", Doc: "compression ratio as it stands"},
			{Name: "squish", Kind: quantity.Length, Doc: "deck + gasket + recess"},
			{Name: "ratios", Kind: quantity.Number, List: true, Unit: ": 1", Doc: "with chambers: ratio of each as it stands"},
			{Name: "squishes", Kind: quantity.Length, List: true, Doc: "with chambers: squish of each as it stands"},
			{Name: "clearance_volumes", Kind: quantity.Volume, List: true, Doc: "with chambers: volume above each piston at top dead centre"},
			{Name: "difference", Kind: quantity.Number, Doc: "with two chambers: ratio of the first less that of the second, as they stand"},
			{Name: "ratio_spread", Kind: quantity.Number, Doc: "with chambers: greatest ratio less least, as they stand"},
			{Name: "equalise", Kind: quantity.Volume, Doc: "with chambers: to cut from the smaller chamber (of several the greatest difference)"},
			{Name: "plate_thickness", Kind: quantity.Length, Doc: "with chambers: thickness of the one plate or stack"},
			{Name: "ratios_then", Kind: quantity.Number, List: true, Unit: ": 1", Doc: "with chambers: ratio of each after the change"},
			{Name: "squishes_then", Kind: quantity.Length, List: true, Doc: "with chambers: squish of each after the change"},
			{Name: "plate_wanted", Kind: quantity.Length, Doc: "to add under the barrel, negative = to take off"},
			{Name: "plates", Kind: quantity.Length, List: true, Choice: true, Doc: "the plates to fit, thickest first"},
			{Name: "ratio_then", Kind: quantity.Number, Unit: ": 1", Doc: "ratio after the change"},
			{Name: "squish_then", Kind: quantity.Length, Doc: "squish after the change"},
			{Name: "remaining_stroke", Kind: quantity.Length, Doc: "piston's way to top dead centre once the inlet is shut"},
			{Name: "dynamic_ratio", Kind: quantity.Number, Unit: ": 1", Doc: "ratio over that way"},
		},
		Formula:  "ratio = (Vs + Vc)/Vc; Vc = chamber + gasket + deck − dome; plate = (Vs/(ratio − 1) − Vc)/(π/4·B²)",
		Source:   "plane geometry; common practice",
		Cautions: []string{"Fuel and paraffin are flammable: fill with coloured water or thin oil, and ventilate.", "A base plate changes pushrod length, valve lash, valve-to-piston clearance and the guide-block clearance: measure them again."},
		Compute:  computeCompression,
	}
}

// chamberVolumes is one cylinder: volumes in cm³, squish in mm, area of the bore in mm².
type chamberVolumes struct {
	name                                 string // of several
	swept, clearance, area, squish, dome float64
}

// with gives the cylinder with a plate of t mm under it.
func (c chamberVolumes) with(t float64) chamberVolumes {
	c.clearance += c.area * t / 1000
	c.squish += t
	return c
}

func (c chamberVolumes) ratio() float64 { return (c.swept + c.clearance) / c.clearance }

func computeCompression(in Args, out *Out) error {
	cs, err := readChambers(in)
	if err != nil {
		return err
	}
	out.Set("swept", cs[0].swept)
	if in.Has("chambers") {
		cs.set(out)
	} else {
		out.Set("dome", cs[0].dome)
		out.Set("clearance_volume", cs[0].clearance)
		out.Set("ratio", cs[0].ratio())
		out.Set("squish", cs[0].squish)
	}
	for _, c := range cs {
		if c.squish <= 0 {
			out.Warn("squish%s is %.2f mm: the piston meets the head", c.of(), c.squish)
		}
	}
	if in.Has("inlet_closing") {
		if err := dynamicRatio(in, cs.highest(), out); err != nil {
			return err
		}
	}
	if !in.Has("ratio_wanted") && !in.Has("squish_min") {
		if in.Has("plates") {
			return Refuse("plates", "give ratio_wanted or squish_min", "plates are listed but nothing is asked for")
		}
		return nil
	}
	return choosePlates(in, cs, out)
}

// readChambers reads the one cylinder, or every cylinder of chambers.
func readChambers(in Args) (chamberSet, error) {
	if !in.Has("chambers") {
		for _, name := range []string{"chamber", "deck"} {
			if !in.Has(name) {
				return nil, Refuse(name, "give it, or chambers with those of every cylinder", "it is missing")
			}
		}
		c, err := readChamber(in, in, "")
		return chamberSet{c}, err
	}
	for _, name := range []string{"chamber", "deck", "dome", "filled", "filled_down"} {
		if in.Has(name) {
			return nil, Refuse(name, "give it in chambers alone", "it is given beside chambers")
		}
	}
	recs := in.Recs("chambers")
	if len(recs) > mostCylinders {
		return nil, Refuse("chambers", "give those of one engine", "%d chambers, at most %d are taken", len(recs), mostCylinders)
	}
	var cs chamberSet
	for i, r := range recs {
		c, err := readChamber(in, r, fmt.Sprintf("chambers[%d].", i))
		if err != nil {
			return nil, err
		}
		c.name = plainName(r.TextOr("name", fmt.Sprintf("cylinder %d", i+1)))
		cs = append(cs, c)
	}
	return cs, nil
}

// readChamber reads a cylinder: what is alike for all from in, its own chamber, deck and dome from part.
func readChamber(in, part Args, path string) (chamberVolumes, error) {
	bore, stroke := in.Num("bore"), in.Num("stroke")
	gasket := in.Num("gasket_thickness")
	if gasket < 0 {
		return chamberVolumes{}, Refuse("gasket_thickness", "give the compressed thickness, 0 or more", "%.3f mm", gasket)
	}
	if gasket > 0 && !in.Has("gasket_bore") {
		return chamberVolumes{}, Refuse("gasket_bore", "give the diameter of the hole in the gasket", "it is missing, and the gasket has a thickness")
	}
	if in.Has("rod") {
		crank, err := crankOf(in)
		if err != nil {
			return chamberVolumes{}, err
		}
		stroke = crank.stroke()
	} else if in.Num("pin_offset") != 0 {
		return chamberVolumes{}, Refuse("rod", "give the length of the rod: with an offset pin the stroke depends on it", "it is missing")
	}
	c := chamberVolumes{area: math.Pi / 4 * bore * bore, squish: part.Num("deck") + gasket + in.Num("recess")}
	c.swept = c.area * stroke / 1000
	c.dome = part.Num("dome")
	if in.Has("filled") != in.Has("filled_down") || in.Has("filled") && in.Has("dome") {
		return c, Refuse("filled", "give dome, or filled and filled_down", "dome, filled and filled_down do not go together so")
	}
	if in.Has("filled") {
		c.dome = c.area*in.Num("filled_down")/1000 - in.Num("filled")
	}
	c.clearance = part.Num("chamber") - c.dome + (c.area*part.Num("deck")+math.Pi/4*square(in.Num("gasket_bore"))*gasket)/1000
	if c.clearance <= 0 {
		return c, Refuse(path+"dome", "check chamber, dome and deck, and their signs", "nothing is left above the piston: %.2f cm³", c.clearance)
	}
	return c, nil
}

func dynamicRatio(in Args, c chamberVolumes, out *Out) error {
	closing := in.Num("inlet_closing")
	if closing <= 180 || closing >= 360 {
		return Refuse("inlet_closing", "count it from overlap TDC: 65° after bottom dead centre is 245°", "%g° is not between bottom dead centre (180°) and firing TDC (360°)", closing)
	}
	if !in.Has("rod") {
		return Refuse("rod", "give the length of the rod", "it is missing, and the dynamic ratio needs it")
	}
	crank, err := crankOf(in)
	if err != nil {
		return err
	}
	left := crank.drop(closing - 360)
	out.Set("remaining_stroke", left)
	out.Set("dynamic_ratio", (c.area*left/1000+c.clearance)/c.clearance)
	return nil
}

// choosePlates finds the change of thickness under the barrel and the plates for it.
func choosePlates(in Args, cs chamberSet, out *Out) error {
	now := in.Num("plate_now")
	if now < 0 || now > 0 && !in.Has("plates") {
		return Refuse("plate_now", "give the thickness under the barrel now, 0 or more, and plates", "%g mm", now)
	}
	least := math.Inf(-1)
	if in.Has("squish_min") {
		least = in.Num("squish_min") - cs.leastSquish().squish
	}
	t := least
	if in.Has("ratio_wanted") {
		ratio := in.Num("ratio_wanted")
		if ratio <= 1 {
			return Refuse("ratio_wanted", "give a ratio as 10.5", "%g", ratio)
		}
		t = cs.thicknessFor(ratio)
		if t < least {
			t = least
			out.Warn("the ratio wanted would leave less squish%s than squish_min: the squish governs", cs.leastSquish().of())
		}
	}
	out.Set("plate_wanted", t)
	if cs.with(t).smallest() <= 0 {
		return Refuse("squish_min", "check squish_min, deck and gasket", "taking %.3f mm off leaves nothing above the piston", -t)
	}
	a := signedAdjustment("base plate", t, "add", "take_off", "{direction} {amount} under the barrel")
	if t < 0 {
		a.Words = "{direction} {amount} at the barrel's base"
	}
	if in.Has("plates") && (t > 0 || now > 0) {
		pieces, err := platesFor(in, cs.with(-now), t+now, least+now)
		if err != nil {
			return err
		}
		t = thickness(pieces) - now
		out.SetList("plates", pieces)
		a = plateOrder(in, cs, pieces, now)
	}
	then := cs.with(t)
	if in.Has("chambers") {
		then.setThen(out, t+now)
	} else {
		out.Set("ratio_then", then[0].ratio())
		out.Set("squish_then", then[0].squish)
	}
	if t != 0 {
		a.warn("this changes pushrod length, valve lash, valve-to-piston clearance and the guide-block clearance: measure them again")
	}
	a.Answers = []string{"ratio", "squish", "ratios", "squishes"}
	out.Adjust(a)
	return nil
}

// plateOrder tells the plates to fit, beside what is under the barrel now.
func plateOrder(in Args, cs chamberSet, pieces []float64, now float64) Adjustment {
	then := ": ratio {figure:ratio_then}, squish {figure:squish_then}"
	if in.Has("chambers") {
		then = ": ratios {figure:ratios_then}, squish {figure:squishes_then}"
	}
	a := Adjustment{What: "base plate", Kind: quantity.Length, Amount: thickness(pieces), Pieces: pieces, Direction: "fit", Words: "{direction} {pieces} under " + cs.barrels() + then}
	switch {
	case now > 0 && math.Abs(thickness(pieces)-now) < plateAlike:
		a.Amount, a.Direction, a.Words = 0, "none", "leave the plate under "+cs.barrels()+then
	case len(pieces) == 0 && now > 0:
		a.Amount, a.Direction, a.Words = now, "take_out", "{direction} the plate of {amount} under "+cs.barrels()+then
	case len(pieces) == 0:
		a.Direction, a.Words = "none", "fit no plate"+then
	case now > 0:
		a.Words = "{direction} {pieces} under " + cs.barrels() + " in place of the plate there" + then
	}
	return a
}

// thickness is that of a stack.
func thickness(pieces []float64) float64 {
	sum := 0.0
	for _, p := range pieces {
		sum += p
	}
	return sum
}

// plateAlike is how near, in mm, two stacks are one and the same: a tenth of a micrometre.
const plateAlike = 1e-4

// platesFor chooses the stack for a thickness. One cylinder takes the nearest; for several the nearest below and the nearest
// above are compared by what they leave, as the largest error of a ratio falls to its least and rises again.
func platesFor(in Args, cs chamberSet, t, least float64) ([]float64, error) {
	stock := in.List("plates")
	pieces := func(index []int) []float64 {
		out := make([]float64, 0, len(index))
		for _, i := range index {
			out = append(out, stock[i])
		}
		return out
	}
	if !in.Has("chambers") || !in.Has("ratio_wanted") {
		index, err := platesFrom(in, t, least, math.Inf(1))
		return pieces(index), err
	}
	above, errAbove := platesFrom(in, t, math.Max(t, least), math.Inf(1))
	below, errBelow := platesFrom(in, t, least, t)
	if errAbove != nil && errBelow != nil {
		_, err := platesFrom(in, t, least, math.Inf(1))
		if err == nil {
			err = errAbove
		}
		return nil, err
	}
	off := func(index []int) float64 {
		return cs.with(thickness(pieces(index))).worst(in.Num("ratio_wanted"))
	}
	switch {
	case errBelow != nil:
		return pieces(above), nil
	case errAbove != nil:
		return pieces(below), nil
	}
	if a, b := off(above), off(below); a < b-1e-9 || a <= b+1e-9 && len(above) < len(below) {
		return pieces(above), nil
	}
	return pieces(below), nil
}

// platesFrom finds the stack nearest to t within least … most.
func platesFrom(in Args, t, least, most float64) ([]int, error) {
	stock := in.List("plates")
	if len(stock) > maxShims {
		return nil, Refuse("plates", "list those that could be fitted", "%d plates, at most %d are searched", len(stock), maxShims)
	}
	ask := stackAsk{want: counts(t), most: math.MaxInt64, max: len(stock), thick: true}
	if !math.IsInf(least, 0) {
		ask.least = max(0, counts(least))
	}
	if !math.IsInf(most, 0) {
		ask.most = counts(most)
	}
	if in.Has("max_plates") {
		n := in.Num("max_plates")
		if n != math.Trunc(n) || n < 1 {
			return nil, Refuse("max_plates", "give a whole number, 1 or more", "%g", n)
		}
		ask.max = int(math.Min(n, float64(len(stock))))
	}
	for _, p := range stock {
		if counts(p) <= 0 {
			return nil, Refuse("plates", "give the thickness as measured", "a plate of %g mm is thinner than can be measured", p)
		}
		ask.pieces = append(ask.pieces, counts(p))
	}
	found, ok, err := ask.best()
	if err != nil {
		return nil, Refuse("plates", "check their units", "%v is not searched", err)
	}
	if !ok {
		return nil, Refuse("plates", "add thicker plates to the stock", "no stack of at most %d of them gives the %.3f mm that squish_min needs", ask.max, least)
	}
	return found.index, nil
}
