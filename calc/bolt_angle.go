package calc

import (
	"math"

	"thoud/calc/quantity"
)

// boltAngle: force and angle of turn of a nut from snug, for blind bolts whose stretch cannot be measured.
//
//	stiffness of the joint k = k_b·k_c/(k_b + k_c) = 1/(δ_b + δ_c)      δ_b = Σ L/(E·A), δ_c = L/(E·A) of the clamped parts
//	preload = snug + pitch·(angle/360)·k
//	angle needed = 360·(preload wanted − snug)/(pitch·k), plus 360·settling/pitch
//	snug from a torque: F_s = T/[P/(2π) + μ_t·d₂/(2·cos α) + μ_f·D_m/2]; angle_low at mu_low (more force, less angle)
//
// Angle in degrees, pitch in mm a turn, forces in N, + = tension. Valid from where the faces lie close (snug) and while
// everything is elastic. settling is what the faces give way when loaded (8 µm where they are few and ground: VDI 2230, from
// memory); it takes k·settling off the force, or is turned in addition. The stiffness of the joint from its geometry is 8 to
// 15 % unsure: give modulus and areas with their u; where the stretch can be read it is the better measure. Refused: an angle
// of zero or less, or of more than a full turn; a preload wanted at or under snug, also at mu_low; one that is over the proof
// stress times the smallest section. Elasticity; VDI 2230 (from memory), ISO 16047 (from memory); the angle for a force
// computed independently, no published example.
func boltAngle() Method {
	force := func(name, doc string) Input {
		return Input{Name: name, Kind: quantity.Force, Optional: true, Doc: doc}
	}
	friction := func(name, doc string) Input {
		return Input{Name: name, Kind: quantity.Number, Optional: true, Doc: doc}
	}
	length := func(name, doc string) Input {
		return Input{Name: name, Kind: quantity.Length, Optional: true, Positive: true, Doc: doc}
	}
	return Method{
		Name: "bolt-angle", Version: 2, Title: "Bolt force and angle of turn",
		Inputs: append(boltInputs(),
			Input{Name: "clamped", Shape: Record, Fields: clampedInputs(), Doc: "the parts that are clamped"},
			Input{Name: "pitch", Kind: quantity.Pitch, Positive: true, Doc: "pitch of the thread"},
			Input{Name: "angle", Kind: quantity.Angle, Optional: true, Doc: "turned from snug; may be left out where preload_wanted is given"},
			force("snug", "force at snug; none where not given"),
			force("preload_wanted", "force wanted, for the angle that gives it"),
			Input{Name: "snug_torque", Kind: quantity.Torque, Optional: true, Positive: true, Doc: "instead of snug: torque it was tightened to, with thread, friction and faces"},
			Input{Name: "thread", Shape: Text, Optional: true, Doc: "thread of the bolt, for the snug force from a torque"},
			friction("mu_thread", "friction in the thread, oiled about 0.10 to 0.14 (common practice)"),
			friction("mu_face", "friction under the head or nut that is turned"),
			friction("mu_low", "lowest friction to be expected, in thread and face"),
			friction("mu_high", "highest friction to be expected"),
			length("face_outer", "outer diameter of the face that is turned"),
			length("face_inner", "its inner diameter: the hole"),
			length("settling", "what the faces give way when loaded, all together"),
			Input{Name: "proof_stress", Kind: quantity.Stress, Optional: true, Positive: true, Doc: "proof stress of the bolt's class"},
			Input{Name: "gasket", Shape: Flag, Optional: true, Doc: "true where a gasket is in the joint"},
		),
		Figures: []Figure{
			{Name: "stiffness", Kind: quantity.Stiffness, Doc: "of bolt and clamped parts together"},
			{Name: "preload", Kind: quantity.Force, Doc: "force in the bolt at angle, before it settles"},
			{Name: "snug", Kind: quantity.Force, Doc: "force at snug"},
			{Name: "angle_needed", Kind: quantity.Angle, Doc: "angle from snug for the force wanted, after settling"},
			{Name: "angle_low", Kind: quantity.Angle, Doc: "the same at mu_low, where snug is more"},
			{Name: "angle_high", Kind: quantity.Angle, Doc: "the same at mu_high, where snug is less"},
			{Name: "settling_loss", Kind: quantity.Force, Doc: "force lost by settling"},
			{Name: "stress", Kind: quantity.Stress, Doc: "in the smallest section, at the force wanted, else at preload"},
			{Name: "share_of_proof", Kind: quantity.Number, Doc: "that as a share of the proof stress"},
		},
		Formula:  "F = snug + pitch·(angle/360)·k; angle = 360·(F − snug)/(pitch·k); k = k_b·k_c/(k_b + k_c)",
		Source:   "Hooke's law, bolt and joint in series; VDI 2230, ISO 16047 (from memory)",
		Cautions: boltCautions(),
		Compute:  computeBoltAngle,
	}
}

// turnedBolt is a bolt that is tightened by an angle from snug.
type turnedBolt struct {
	bolt
	stiffness, pitch  float64
	snug              float64
	snugLow, snugHigh float64 // at the highest and the lowest friction
	bandGiven         bool
	settling          float64
}

func computeBoltAngle(in Args, out *Out) error {
	b, err := readTurnedBolt(in)
	if err != nil {
		return err
	}
	out.Set("stiffness", b.stiffness)
	if in.Has("snug") || in.Has("snug_torque") {
		out.Set("snug", b.snug)
	}
	if in.Has("settling") {
		out.Set("settling_loss", b.stiffness*b.settling)
	}
	force := 0.0
	switch {
	case in.Has("angle"):
		angle := in.Num("angle")
		if angle <= 0 || angle > 360 {
			return Refuse("angle", "give the angle turned from snug, up to 360°", "%g°", angle)
		}
		force = b.snug + b.pitch*angle/360*b.stiffness
		out.Set("preload", force)
	case !in.Has("preload_wanted"):
		return Refuse("angle", "give the angle turned from snug, or preload_wanted", "it is missing")
	}
	if in.Has("preload_wanted") {
		if force, err = b.angleFor(in, out); err != nil {
			return err
		}
	}
	out.Set("stress", force/b.area)
	if in.Has("proof_stress") {
		share := force / b.area / in.Num("proof_stress")
		out.Set("share_of_proof", share)
		if share > 0.9 {
			out.Warn("%.0f %% of the proof stress in %s: an angle is not known well enough to go so near", 100*share, b.governing)
		}
	}
	if in.Flag("gasket") {
		out.Warn("with a gasket in the joint its stiffness is not that of the parts: go by torque, or by stretch")
	}
	return nil
}

func readTurnedBolt(in Args) (turnedBolt, error) {
	var t turnedBolt
	var err error
	if t.bolt, err = readBolt(in); err != nil {
		return t, err
	}
	t.pitch, t.settling = in.Num("pitch"), in.Num("settling")
	t.stiffness = 1 / (t.compliance + clampedCompliance(in.Rec("clamped")))
	if in.Num("snug") < 0 {
		return t, Refuse("snug", "give the force at snug, 0 or more", "%g N", in.Num("snug"))
	}
	t.snug = in.Num("snug")
	if !in.Has("snug_torque") {
		t.snugLow, t.snugHigh = t.snug, t.snug
		return t, nil
	}
	if in.Has("snug") {
		return t, Refuse("snug_torque", "give snug or snug_torque", "both are given")
	}
	return t, t.snugFromTorque(in)
}

// snugFromTorque finds the force at snug from its torque, and its band over the friction to be expected.
func (t *turnedBolt) snugFromTorque(in Args) error {
	for _, name := range []string{"thread", "mu_thread", "mu_face", "face_outer", "face_inner"} {
		if !in.Has(name) {
			return Refuse(name, "give thread, mu_thread, mu_face, face_outer and face_inner with snug_torque, or the force snug", "it is missing")
		}
	}
	if err := checkFriction(in); err != nil {
		return err
	}
	thread, err := parseThread("thread", in.Text("thread"))
	if err != nil {
		return err
	}
	if math.Abs(thread.pitch-t.pitch) > 0.01*thread.pitch {
		return Refuse("pitch", "give the pitch of the thread", "%.4f mm is not the pitch of %s, %.4f mm", t.pitch, in.Text("thread"), thread.pitch)
	}
	face, err := meanFace(in, thread)
	if err != nil {
		return err
	}
	force := func(inThread, under float64) float64 {
		return 1000 * in.Num("snug_torque") / thread.torqueArm(inThread, under, face)
	}
	muT, muF := in.Num("mu_thread"), in.Num("mu_face")
	t.snug = force(muT, muF)
	low, high := in.NumOr("mu_low", math.Min(muT, muF)), in.NumOr("mu_high", math.Max(muT, muF))
	if low > high {
		return Refuse("mu_low", "give the lower friction as mu_low", "%g is over mu_high, %g", low, high)
	}
	t.bandGiven = in.Has("mu_low") || in.Has("mu_high")
	t.snugHigh, t.snugLow = force(low, low), force(high, high)
	return nil
}

// angleFor sets the angle for the force wanted, and gives that force.
func (t turnedBolt) angleFor(in Args, out *Out) (float64, error) {
	wanted := in.Num("preload_wanted")
	if wanted <= 0 {
		return 0, Refuse("preload_wanted", "give the force wanted", "%g N", wanted)
	}
	if most := math.Max(t.snug, t.snugHigh); wanted <= most {
		return 0, Refuse("preload_wanted", "tighten to a lower snug torque, or ask for more", "%.0f N is not more than the %.0f N there may be at snug", wanted, most)
	}
	if proof := in.Num("proof_stress") * t.area; in.Has("proof_stress") && wanted > proof {
		return 0, Refuse("preload_wanted", "ask for less, or take a stronger bolt", "%.0f N is over the %.0f N of the proof stress in %s", wanted, proof, t.governing)
	}
	angle := func(snug float64) float64 { return 360 * ((wanted-snug)/(t.pitch*t.stiffness) + t.settling/t.pitch) }
	needed := angle(t.snug)
	if worst := angle(math.Min(t.snug, t.snugLow)); worst > 360 {
		return 0, Refuse("preload_wanted", "check pitch, sections and clamped parts: so soft a joint is not tightened by an angle", "it would take %.0f°", worst)
	}
	out.Set("angle_needed", needed)
	if t.bandGiven {
		out.Set("angle_low", angle(t.snugHigh))
		out.Set("angle_high", angle(t.snugLow))
	}
	if t.snug > wanted/2 {
		out.Warn("snug is more than half of the force wanted, so the angle says little: begin from a lower snug torque")
	}
	a := Adjustment{What: "bolt", Amount: needed, Kind: quantity.Angle, Direction: "tighten", Answers: []string{"preload"}, Words: "{direction} by {amount} from snug"}
	if in.Has("angle") {
		a.Amount = needed - in.Num("angle")
		a.Words = "{direction} by {amount} more: {figure:angle_needed} from snug in all"
		if a.Amount < 0 {
			a.Direction, a.Words = "slacken", "{direction} and begin again from snug: {figure:angle_needed} in all, it was turned {amount} too far"
		}
	}
	out.Adjust(a)
	return wanted, nil
}
