package calc

import "thoud/calc/quantity"

// boltHeat gives the force in a bolt when bolt and clamped parts are hot.
//
//	mismatch = (α_c·ΔT_c − α_b·ΔT_b)·L              + = the clamped parts grow more
//	stiffness = 1/(δ_b + δ_c)      rise = mismatch·stiffness      hot preload = cold preload + rise
//	share of load φ = δ_c/(δ_b + δ_c)               of an outside load, the part that the bolt feels
//	proof limit = proof stress · smallest section   over_proof = hot preload − proof limit, + = too much
//
// L is the grip; lengths in mm, force in N, rises of temperature in K, expansion in 1/K. A waist lowers the rise and
// the share, but its own section is smaller: the proof limit is taken there. Elastic; even temperatures. A joint that
// goes slack when hot is warned of. Form as VDI 2230 part 1 (thermal change of preload).
func boltHeat() Method {
	heat := []Input{
		{Name: "alpha", Kind: quantity.Expansion, Doc: "coefficient of expansion"},
		{Name: "rise", Kind: quantity.Difference, Doc: "rise of temperature from cold"},
	}
	return Method{
		Name: "bolt-heat", Version: 1, Title: "Bolt force when hot",
		Inputs: append(boltInputs(),
			Input{Name: "clamped", Shape: Record, Fields: append(clampedInputs(), heat...), Doc: "the parts that are clamped"},
			Input{Name: "bolt", Shape: Record, Fields: heat, Doc: "the bolt"},
			Input{Name: "cold_preload", Kind: quantity.Force, Positive: true, Doc: "force in the cold bolt"},
			Input{Name: "proof_stress", Kind: quantity.Stress, Positive: true, Optional: true, Doc: "proof stress of the bolt's class"},
		),
		Figures: []Figure{
			{Name: "mismatch", Kind: quantity.Length, Doc: "how much more the clamped parts grow"},
			{Name: "stiffness", Kind: quantity.Stiffness, Doc: "of bolt and clamped parts together"},
			{Name: "rise", Kind: quantity.Force, Doc: "what the heat adds"},
			{Name: "hot_preload", Kind: quantity.Force, Doc: "force in the hot bolt"},
			{Name: "proof_limit", Kind: quantity.Force, Doc: "force at the proof stress in the smallest section"},
			{Name: "over_proof", Kind: quantity.Force, Doc: "hot preload − proof limit, + = too much"},
			{Name: "share_of_load", Kind: quantity.Number, Doc: "part of an outside load that the bolt feels"},
		},
		Formula:  "rise = (αc·ΔTc − αb·ΔTb)·L/(δb + δc); share = δc/(δb + δc)",
		Source:   "VDI 2230 part 1 (thermal change of preload)",
		Cautions: append(boltCautions(), "Never retighten hot."),
		Compute:  computeBoltHeat,
	}
}

func computeBoltHeat(in Args, out *Out) error {
	b, err := readBolt(in)
	if err != nil {
		return err
	}
	c, s := in.Rec("clamped"), in.Rec("bolt")
	mismatch := (c.Num("alpha")*c.Num("rise") - s.Num("alpha")*s.Num("rise")) * c.Num("length")
	parts := clampedCompliance(c)
	k := 1 / (b.compliance + parts)
	hot := in.Num("cold_preload") + mismatch*k
	out.Set("mismatch", mismatch)
	out.Set("stiffness", k)
	out.Set("rise", mismatch*k)
	out.Set("hot_preload", hot)
	out.Set("share_of_load", parts*k)
	if hot <= 0 {
		out.Warn("the joint is slack when hot")
	}
	if in.Has("proof_stress") {
		limit := in.Num("proof_stress") * b.area
		out.Set("proof_limit", limit)
		out.Set("over_proof", hot-limit)
		if hot > limit {
			out.Warn("hot, the bolt is past its proof stress in %s", b.governing)
		}
	}
	return nil
}
