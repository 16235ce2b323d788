package calc

import (
	"math"

	"thoud/calc/quantity"
)

// ringGap: how much to file from a ring's ends, for the bore it will run in. The gap is read with the ring pushed square
// down a place of known bore and transferred to the narrowest place of its travel, where the gap is least.
//
//	gap at narrowest = gap − π·(bore at gap − narrowest bore)        the ring's length does not change
//	target           = factor·narrowest bore, or as given
//	file off         = target − gap at narrowest                     + = remove, both ends together
//	hot gap          = gap after filing + π·D·(α_bore·ΔT_bore − α_ring·ΔT_ring)
//
// Lengths in mm, D the narrowest bore. Valid for a plain cut across the ring. Refused: a gap already over 1.5 times the
// target, a hot gap that closes, a "narrowest" bore wider than the one the gap was read in. Plane geometry; the factors
// (0.004 of the bore as a rule) are common practice and the ring maker's figure goes before them.
func ringGap() Method {
	return Method{
		Name: "ring-gap", Version: 1, Title: "Ring end gap: how much to file",
		Inputs: []Input{
			{Name: "gap", Kind: quantity.Length, Positive: true, Doc: "end gap as read, ring square in the bore"},
			{Name: "bore_at_gap", Kind: quantity.Length, Positive: true, Doc: "bore where the gap was read"},
			{Name: "narrowest_bore", Kind: quantity.Length, Positive: true, Doc: "narrowest bore the ring passes in its travel"},
			{Name: "factor", Kind: quantity.Number, Optional: true, Positive: true, Doc: "gap wanted as a fraction of the bore (0.004 = four thou an inch); this or target_gap"},
			{Name: "target_gap", Kind: quantity.Length, Optional: true, Positive: true, Doc: "gap wanted at the narrowest bore; this or factor"},
			{Name: "alpha_ring", Kind: quantity.Expansion, Optional: true, Positive: true, Doc: "expansion of the ring, for the hot gap"},
			{Name: "alpha_bore", Kind: quantity.Expansion, Optional: true, Positive: true, Doc: "expansion of the cylinder, for the hot gap"},
			{Name: "ring_rise", Kind: quantity.Difference, Optional: true, Doc: "how much hotter the ring runs than when it was read"},
			{Name: "bore_rise", Kind: quantity.Difference, Optional: true, Doc: "how much hotter the cylinder runs than when it was read"},
		},
		Figures: []Figure{
			{Name: "gap_at_narrowest", Kind: quantity.Length, Doc: "gap the ring would have at the narrowest bore as it is now"},
			{Name: "target_gap", Kind: quantity.Length, Doc: "gap wanted at the narrowest bore"},
			{Name: "file_off", Kind: quantity.Length, Doc: "to file from the ends together; negative = already wider than wanted"},
			{Name: "hot_gap", Kind: quantity.Length, Doc: "gap left running hot, after filing"},
		},
		Formula: "file off = target − (gap − π·(bore at gap − narrowest bore)); hot gap = gap + π·D·(α_bore·ΔT_bore − α_ring·ΔT_ring)",
		Source:  "plane geometry; gap factors are common practice, the ring maker's figure goes before them",
		Cautions: []string{
			"Rings are sharp and snap: expander, gloves, glasses.",
			"File dust is not for lungs or bearings: file away from the engine and wash the ring.",
			"File from the face inwards and square; keep each ring with its own bore.",
		},
		Compute: computeRingGap,
	}
}

// mostOverGap is how far over its target a gap may be before the ring is the wrong one (common practice).
const mostOverGap = 1.5

func computeRingGap(in Args, out *Out) error {
	gap, at, narrow := in.Num("gap"), in.Num("bore_at_gap"), in.Num("narrowest_bore")
	if margin := math.Max(6*math.Hypot(in.U("bore_at_gap"), in.U("narrowest_bore")), 1e-6); narrow-at > margin {
		return Refuse("narrowest_bore", "measure the bore over the whole travel and give its narrowest place",
			"%.4f mm is wider than the %.4f mm where the gap was read", narrow, at)
	}
	target, err := ringTarget(in, narrow)
	if err != nil {
		return err
	}
	here := gap - math.Pi*(at-narrow)
	if here > mostOverGap*target {
		return Refuse("gap", "do not file it; take a ring of the next oversize, or one made for this bore",
			"%.4f mm at the narrowest bore is already more than 1.5 times the %.4f mm wanted", here, target)
	}
	file := target - here
	if here <= 0 {
		out.Warn("the ends of the ring would butt at the narrowest bore: do not push it there before it is filed")
	}
	out.Set("gap_at_narrowest", here)
	out.Set("target_gap", target)
	out.Set("file_off", file)
	if err := ringHot(in, out, here+math.Max(file, 0), narrow); err != nil {
		return err
	}
	a := Adjustment{What: "ring ends", Amount: file, Kind: quantity.Length, Direction: "file", Answers: []string{"gap_at_narrowest", "file_off"}, Words: "{direction} {amount} off the ring's ends, both together, for a gap of {figure:target_gap} at the narrowest bore"}
	if file <= 1e-9 {
		a.Amount, a.Direction, a.Words = 0, "none", "leave the ring: its gap is {figure:gap_at_narrowest} at the narrowest bore, {figure:target_gap} is wanted"
	}
	out.Adjust(a)
	return nil
}

func ringTarget(in Args, narrow float64) (float64, error) {
	switch {
	case in.Has("factor") && in.Has("target_gap"):
		return 0, Refuse("target_gap", "give one of them", "factor and target_gap are both given (%g and %.4f mm)", in.Num("factor"), in.Num("target_gap"))
	case in.Has("target_gap"):
		return in.Num("target_gap"), nil
	case in.Has("factor"):
		f := in.Num("factor")
		if f > 0.05 {
			return 0, Refuse("factor", "give it as a fraction of the bore: four thou an inch is 0.004", "%g of the bore is no ring gap", f)
		}
		return f * narrow, nil
	}
	return 0, Refuse("target_gap", "give the gap wanted, or the factor of the bore", "neither target_gap nor factor is given")
}

// ringHot sets the hot gap where all four of its inputs are there; some of them alone are refused.
func ringHot(in Args, out *Out, gap, bore float64) error {
	given, missing := 0, ""
	for _, name := range []string{"alpha_bore", "bore_rise", "alpha_ring", "ring_rise"} {
		if in.Has(name) {
			given++
		} else {
			missing = name
		}
	}
	if given == 0 {
		return nil
	}
	if missing != "" {
		return Refuse(missing, "give both expansions and both rises, or none of them", "the hot gap needs it")
	}
	grown := math.Pi * bore * (in.Num("alpha_bore")*in.Num("bore_rise") - in.Num("alpha_ring")*in.Num("ring_rise"))
	hot := gap + grown
	if hot <= 0 {
		return Refuse("hot_gap", "ask for a gap of more than the ring grows", "%.4f mm cold closes by %.4f mm hot: the ends would butt", gap, -grown)
	}
	out.Set("hot_gap", hot)
	return nil
}
