package calc

import "thoud/calc/quantity"

// boltAngle gives the force gained by turning a nut through an angle from snug: for blind bolts whose stretch cannot be
// measured.
//
//	stiffness of the joint k = k_b·k_c/(k_b + k_c) = 1/(δ_b + δ_c)      δ_b = Σ L/(E·A), δ_c = L/(E·A) of the clamped parts
//	preload = snug + pitch·(angle/360)·k
//
// Angle in degrees, pitch in mm a turn, force in N, + = tension. Valid from where the faces lie close (snug) and while
// everything is elastic. Refused: an angle of zero or less, or of more than a full turn. Elasticity; common practice.
func boltAngle() Method {
	return Method{
		Name: "bolt-angle", Version: 1, Title: "Bolt force from an angle of turn",
		Inputs: append(boltInputs(),
			Input{Name: "clamped", Shape: Record, Fields: clampedInputs(), Doc: "the parts that are clamped"},
			Input{Name: "pitch", Kind: quantity.Pitch, Positive: true, Doc: "pitch of the thread"},
			Input{Name: "angle", Kind: quantity.Angle, Doc: "turned from snug"},
			Input{Name: "snug", Kind: quantity.Force, Optional: true, Doc: "force at snug; none where not given"},
		),
		Figures: []Figure{
			{Name: "stiffness", Kind: quantity.Stiffness, Doc: "of bolt and clamped parts together"},
			{Name: "preload", Kind: quantity.Force, Doc: "force in the bolt"},
		},
		Formula:  "F = snug + pitch·(angle/360)·k_b·k_c/(k_b + k_c)",
		Source:   "Hooke's law, bolt and joint in series; common practice",
		Cautions: boltCautions(),
		Compute:  computeBoltAngle,
	}
}

func computeBoltAngle(in Args, out *Out) error {
	b, err := readBolt(in)
	if err != nil {
		return err
	}
	angle := in.Num("angle")
	if angle <= 0 || angle > 360 {
		return Refuse("angle", "give the angle turned from snug, up to 360°", "%g°", angle)
	}
	if in.Num("snug") < 0 {
		return Refuse("snug", "give the force at snug, 0 or more", "%g N", in.Num("snug"))
	}
	k := 1 / (b.compliance + clampedCompliance(in.Rec("clamped")))
	out.Set("stiffness", k)
	out.Set("preload", in.Num("snug")+in.Num("pitch")*angle/360*k)
	return nil
}
