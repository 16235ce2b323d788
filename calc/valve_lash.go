package calc

import (
	"fmt"
	"math"

	"thoud/calc/quantity"
)

// valveLash: how far to turn a lash adjuster.
//
//	turns = (lash − target)/pitch            adjuster at the valve
//	turns = (lash − target)/(pitch·ratio)    adjuster at the pushrod, ratio = valve arm/pushrod arm
//
// + = tighten, which takes lash away; degrees = 360·turns, flats = 6·turns for a hexagon, 4 for a square. Lash is
// measured at the valve, on the base circle. Refused: an adjuster at the pushrod without the rocker's ratio, a negative
// lash. Plane geometry; thread pitches BS 811 for 26 threads an inch.
func valveLash() Method {
	return Method{
		Name: "valve-lash", Version: 1, Title: "Valve lash: how far to turn the adjuster",
		Inputs: []Input{
			{Name: "lash", Kind: quantity.Length, Doc: "lash at the valve as measured"},
			{Name: "target", Kind: quantity.Length, Doc: "lash wanted at the valve"},
			{Name: "pitch", Kind: quantity.Pitch, Positive: true, Doc: "pitch of the adjuster's thread"},
			{Name: "adjuster", Shape: Text, Enum: []string{"valve", "pushrod"}, Optional: true, Doc: "end of the rocker the adjuster is at; the valve where not given"},
			{Name: "ratio", Kind: quantity.Number, Optional: true, Positive: true, Doc: "valve arm/pushrod arm of the rocker; for an adjuster at the pushrod"},
			{Name: "flats", Kind: quantity.Number, Optional: true, Positive: true, Doc: "flats of the adjuster: 6 (where not given) or 4"},
		},
		Figures: []Figure{
			{Name: "turns", Kind: quantity.Number, Unit: "turns", Doc: "turns, + = tighten"},
			{Name: "degrees", Kind: quantity.Angle, Doc: "degrees, + = tighten"},
			{Name: "flats", Kind: quantity.Number, Unit: "flats", Doc: "flats, + = tighten"},
			{Name: "direction", Text: true, Doc: "tighten, slacken or none"},
		},
		Formula: "turns = (lash − target)/pitch at the valve end, (lash − target)/(pitch·ratio) at the pushrod end",
		Source:  "plane geometry; pitch of cycle threads by BS 811",
		Cautions: []string{
			"Engine cold, plugs out; set a valve on its base circle only, not on a ramp.",
			"Tightening the lock nut pulls the screw: measure again after locking.",
			"A dished tip makes a feeler read too small.",
		},
		Compute: computeValveLash,
	}
}

func computeValveLash(in Args, out *Out) error {
	lash, target, flats := in.Num("lash"), in.Num("target"), in.NumOr("flats", 6)
	for _, name := range []string{"lash", "target"} {
		if in.Num(name) < 0 {
			return Refuse(name, "give the gap at the valve", "%.4f mm is no gap", in.Num(name))
		}
	}
	if flats != 4 && flats != 6 {
		return Refuse("flats", "give 6 for a hexagon or 4 for a square", "%g flats", flats)
	}
	per := in.Num("pitch")
	if in.TextOr("adjuster", "valve") == "pushrod" {
		if !in.Has("ratio") {
			return Refuse("ratio", "give valve arm/pushrod arm of the rocker", "an adjuster at the pushrod needs it")
		}
		per *= in.Num("ratio")
	}
	if lash == 0 {
		out.Warn("no lash at all: the valve may be held open; slacken until there is some and measure again")
	}
	turns := (lash - target) / per
	out.Set("turns", turns)
	out.Set("degrees", 360*turns)
	out.Set("flats", flats*turns)
	a := Adjustment{What: "adjuster", Amount: flats * turns, Kind: quantity.Number, Unit: "flats", Direction: "tighten", Answers: []string{"flats", "turns", "degrees"}}
	switch {
	case math.Abs(lash-target) < 1e-9:
		a.Direction, a.Words = "none", "leave the adjuster: the lash is as wanted"
	case turns < 0:
		a.Direction = "slacken"
	}
	if a.Words == "" {
		a.Words = fmt.Sprintf("{direction} the adjuster by {amount} (%.0f flats a turn), lock it and measure again", flats)
	}
	out.SetText("direction", a.Direction)
	out.Adjust(a)
	return nil
}
