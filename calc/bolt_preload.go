package calc

import "thoud/calc/quantity"

// boltPreload gives the force in a bolt from its measured stretch, which no friction can falsify.
//
//	δ = Σ Lᵢ/(E·Aᵢ)      stiffness k = 1/δ      preload F = k·stretch
//	stress = F/A of the smallest section, which governs      share of proof = stress/proof stress
//	stress area = that of the threaded section (ISO 898-1), the smallest where there are several; absent without one
//
// Lengths in mm, E and stresses in N/mm², force in N, + = tension. A threaded section counts with its stress area.
// Valid while the bolt is elastic and the stretch is of the sections listed: where it is measured over the whole length
// add about half a diameter each for the head and the engaged thread (VDI 2230, from memory). With preload_wanted the
// stretch still to do is given. Refused: no stretch; over the proof stress only warned of, because the force is then
// less than computed and the bolt is scrap. Elasticity (Hooke); series of sections as VDI 2230.
func boltPreload() Method {
	return Method{
		Name: "bolt-preload", Version: 2, Title: "Bolt force from its stretch",
		Inputs: append(boltInputs(),
			Input{Name: "stretch", Kind: quantity.Length, Doc: "length tightened − length free"},
			Input{Name: "proof_stress", Kind: quantity.Stress, Positive: true, Optional: true, Doc: "proof stress of the bolt's class"},
			Input{Name: "preload_wanted", Kind: quantity.Force, Positive: true, Optional: true, Doc: "force wanted"},
		),
		Figures: []Figure{
			{Name: "stress_area", Kind: quantity.Area, Doc: "tensile stress area of the threaded section"},
			{Name: "governing_area", Kind: quantity.Area, Doc: "smallest section, which the stress is reckoned with"},
			{Name: "stiffness", Kind: quantity.Stiffness, Doc: "force for each mm of stretch"},
			{Name: "preload", Kind: quantity.Force, Doc: "force in the bolt"},
			{Name: "stress", Kind: quantity.Stress, Doc: "in the smallest section"},
			{Name: "share_of_proof", Kind: quantity.Number, Doc: "stress as a share of the proof stress"},
			{Name: "governing", Text: true, Choice: true, Doc: "the section that governs"},
			{Name: "stretch_wanted", Kind: quantity.Length, Doc: "stretch that gives the force wanted"},
			{Name: "stretch_left", Kind: quantity.Length, Doc: "stretch still to do, + = tighten"},
		},
		Formula:  "F = stretch / Σ(L/(E·A)); stress = F / smallest area",
		Source:   "Hooke's law, sections in series (VDI 2230 part 1)",
		Cautions: append(boltCautions(), "Seat the ball ends of the micrometer the same way both times."),
		Compute:  computeBoltPreload,
	}
}

func computeBoltPreload(in Args, out *Out) error {
	b, err := readBolt(in)
	if err != nil {
		return err
	}
	stretch := in.Num("stretch")
	if stretch <= 0 {
		return Refuse("stretch", "give the length tightened less the length free", "%.4f mm is no stretch", stretch)
	}
	force := stretch / b.compliance
	if b.threadArea > 0 {
		out.Set("stress_area", b.threadArea)
	}
	out.Set("governing_area", b.area)
	out.Set("stiffness", 1/b.compliance)
	out.Set("preload", force)
	out.Set("stress", force/b.area)
	out.SetText("governing", b.governing)
	if in.Has("proof_stress") {
		share := force / b.area / in.Num("proof_stress")
		out.Set("share_of_proof", share)
		if share > 1 {
			out.Warn("the bolt is past its proof stress in %s: it may have yielded; slacken it, measure its free length, and scrap it if it has grown", b.governing)
		}
	}
	if in.Has("preload_wanted") {
		wanted := in.Num("preload_wanted") * b.compliance
		out.Set("stretch_wanted", wanted)
		out.Set("stretch_left", wanted-stretch)
		a := Adjustment{What: "bolt", Amount: wanted - stretch, Kind: quantity.Length, Direction: "tighten", Answers: []string{"preload", "stretch_left"},
			Words: "{direction} until it is {amount} longer: {figure:stretch_wanted} of stretch in all"}
		if wanted < stretch {
			a.Direction = "slacken"
			a.Words = "{direction} and begin again: it is {amount} longer than wanted, {figure:stretch_wanted} of stretch in all"
		}
		out.Adjust(a)
	}
	return nil
}
