package calc

import (
	"math"

	"thoud/calc/quantity"
)

// keyOffset: the step of an offset (Woodruff) key that turns a wheel against its shaft.
//
//	step = (D/2)·sin δ, at the shaft's surface; along the surface (D/2)·δ
//	δ    = correction/2 on the camshaft, the whole correction on the crankshaft (crank degrees)
//
// The correction is given, or asked of several lobes of the camshaft as cam-correction does (lobes, rule); it is kept within
// most_advance and most_retard, which is warned of.
//
// + advances the camshaft. To advance, a camshaft key has its shaft half ahead of its wheel half in the running
// direction of that shaft, so that the camshaft runs ahead of its wheel; a crankshaft key its wheel half, so that the
// pinion runs ahead of the crank. Refused: δ of 15° and more, where no key is left. Plane geometry.
func keyOffset() Method {
	return Method{
		Name: "key-offset", Version: 2, Title: "Offset key for a cam correction",
		Inputs: append([]Input{
			{Name: "shaft_diameter", Kind: quantity.Length, Positive: true, Doc: "diameter of the shaft at the key"},
			{Name: "correction_crank", Kind: quantity.Angle, Optional: true, Doc: "correction in crank degrees, + = advance the camshaft; or lobes"},
			{Name: "shaft", Shape: Text, Enum: []string{"camshaft", "crankshaft"}, Doc: "shaft the key is in"},
		}, lobeInputs()...),
		Figures: append([]Figure{
			{Name: "correction", Kind: quantity.Angle, Doc: "correction that the key makes, crank degrees, + = advance"},
			{Name: "step", Kind: quantity.Length, Doc: "step between the halves of the key, square to its side, + = advances"},
			{Name: "step_arc", Kind: quantity.Length, Doc: "the same along the shaft's surface"},
			{Name: "shaft_angle", Kind: quantity.Angle, Doc: "angle between wheel and shaft, in that shaft's degrees"},
			{Name: "leads", Text: true, Doc: "which half of the key is ahead in that shaft's running direction"},
		}, lobeFigures()...),
		Formula: "step = (D/2)·sin δ; δ = correction/2 on the camshaft, correction on the crankshaft",
		Source:  "plane geometry",
		Cautions: []string{
			"Check the handedness against the running direction of that very shaft: a wheel in between turns it about.",
			"Measure lobe centre and valve-to-piston clearance again with the key fitted, turning by hand.",
			"A stepped key is weaker than a plain one: keep the corner between the halves rounded.",
		},
		Compute: computeKeyOffset,
	}
}

// mostKeyAngle is where an offset key ends (common practice: offset keys are sold to about 5°).
const mostKeyAngle = 15

// leastKey is the least step that a key is filed and measured to, half a thou in mm (common practice).
const leastKey = 0.0127

func computeKeyOffset(in Args, out *Out) error {
	ask, err := askedOf(in, func() (float64, error) { return in.Num("correction_crank"), nil }, "correction_crank")
	if err != nil {
		return err
	}
	least, most, err := allowedTurn(in)
	if err != nil {
		return err
	}
	crank := math.Max(least, math.Min(most, ask.crank))
	if crank != ask.crank {
		out.Warn("%.1f° of crank are asked for, and only %.1f° are allowed", ask.crank, crank)
	}
	out.Set("correction", crank)
	ask.setFigures(out, crank)
	delta, ahead, behind := crank, "wheel half", "shaft half"
	if in.Text("shaft") == "camshaft" {
		delta, ahead, behind = delta/2, behind, ahead
	}
	if math.Abs(delta) >= mostKeyAngle {
		return Refuse("correction_crank", "move the wheel by a tooth or a keyway first and make a key for the rest", "%.2f° at the shaft is too much for a key", delta)
	}
	if math.Abs(delta) > 5 {
		out.Warn("%.1f° at the shaft leaves little of a key: a keyway or a tooth is better", math.Abs(delta))
	}
	r := in.Num("shaft_diameter") / 2
	step := r * math.Sin(radians(delta))
	out.Set("step", step)
	out.Set("step_arc", r*radians(delta))
	out.Set("shaft_angle", delta)
	a := Adjustment{What: "key", Amount: step, Kind: quantity.Length, Direction: advanceWord(delta), Least: leastKey}
	switch a.Direction {
	case "none":
		out.SetText("leads", "neither half")
		a.Words = "fit a plain key"
	case "advance":
		out.SetText("leads", ahead)
		a.Words = keyWords(ahead, behind, in.Text("shaft"))
	case "retard":
		out.SetText("leads", behind)
		a.Words = keyWords(behind, ahead, in.Text("shaft"))
	}
	out.Adjust(a)
	return nil
}

func keyWords(leads, follows, shaft string) string {
	return "{direction}: make a key with a step of {amount}, its " + leads + " ahead of its " + follows + " in the running direction of the " + shaft
}
