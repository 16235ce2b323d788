package calc

import (
	"math"

	"thoud/calc/quantity"
)

// boltTorque gives the torque for a wanted force, and how far the force may be off because friction is only guessed.
//
//	T = F·[P/(2π) + μ_t·d₂/(2·cos α) + μ_f·D_m/2]      α = 30° (55° threads 27.5°), D_m = mean of the face's diameters
//	preload_low, preload_high: the force that this torque gives at mu_high and mu_low in both places
//
// With yield the largest force that keeps tension and torsion together at 90 % of it, and its torque:
//
//	F = A₀·0.9·R_p/√(1 + 3·[1.5·(d₂/d₀)·(P/(π·d₂) + μ_t/cos 30°)]²)      d₀ = stress diameter
//
// Force in N, torque in N·m, lengths in mm. A waisted bolt is governed by its waist: use bolt-preload. Refused: friction
// of zero or less or of more than 1, faces that do not lie around one another. VDI 2230 part 1.
func boltTorque() Method {
	return Method{
		Name: "bolt-torque", Version: 1, Title: "Torque for a bolt force",
		Inputs: []Input{
			{Name: "thread", Shape: Text, Doc: "\"M10x1.25\", \"5/16-24 UNF\""},
			{Name: "preload", Kind: quantity.Force, Positive: true, Doc: "force wanted"},
			{Name: "mu_thread", Kind: quantity.Number, Doc: "friction in the thread, oiled about 0.10 to 0.14 (common practice)"},
			{Name: "mu_face", Kind: quantity.Number, Doc: "friction under the head or nut that is turned"},
			{Name: "face_outer", Kind: quantity.Length, Positive: true, Doc: "outer diameter of the face that is turned"},
			{Name: "face_inner", Kind: quantity.Length, Positive: true, Doc: "its inner diameter: the hole"},
			{Name: "mu_low", Kind: quantity.Number, Optional: true, Doc: "lowest friction to be expected, in thread and face"},
			{Name: "mu_high", Kind: quantity.Number, Optional: true, Doc: "highest friction to be expected"},
			{Name: "yield", Kind: quantity.Stress, Positive: true, Optional: true, Doc: "0.2 % yield stress of the bolt"},
		},
		Figures: []Figure{
			{Name: "pitch_diameter", Kind: quantity.Length, Doc: "of the thread"},
			{Name: "torque", Kind: quantity.Torque, Doc: "torque for the force wanted"},
			{Name: "preload_low", Kind: quantity.Force, Doc: "force at that torque with the highest friction"},
			{Name: "preload_high", Kind: quantity.Force, Doc: "force at that torque with the lowest friction"},
			{Name: "preload_limit", Kind: quantity.Force, Doc: "force that uses 90 % of the yield stress while tightening"},
			{Name: "torque_limit", Kind: quantity.Torque, Doc: "torque for that force"},
		},
		Formula:  "T = F·[P/2π + μt·d2/(2 cos α) + μf·Dm/2]",
		Source:   "VDI 2230 part 1",
		Cautions: boltCautions(),
		Compute:  computeBoltTorque,
	}
}

func computeBoltTorque(in Args, out *Out) error {
	t, err := parseThread("thread", in.Text("thread"))
	if err != nil {
		return err
	}
	if err := checkFriction(in); err != nil {
		return err
	}
	face, err := meanFace(in, t)
	if err != nil {
		return err
	}
	arm := func(thread, under float64) float64 { return t.torqueArm(thread, under, face) }
	muThread, muFace := in.Num("mu_thread"), in.Num("mu_face")
	torque := in.Num("preload") * arm(muThread, muFace)
	out.Set("pitch_diameter", t.pitchDiameter())
	out.Set("torque", torque/1000)
	low, high := in.NumOr("mu_low", math.Min(muThread, muFace)), in.NumOr("mu_high", math.Max(muThread, muFace))
	if low > high {
		return Refuse("mu_low", "give the lower friction as mu_low", "%g is over mu_high, %g", low, high)
	}
	if in.Has("mu_low") || in.Has("mu_high") {
		out.Set("preload_low", torque/arm(high, high))
		out.Set("preload_high", torque/arm(low, low))
	}
	if in.Has("yield") {
		limit := t.tighteningLimit(in.Num("yield"), muThread)
		out.Set("preload_limit", limit)
		out.Set("torque_limit", limit*arm(muThread, muFace)/1000)
		if in.Num("preload") > limit {
			out.Warn("the force wanted is more than this thread takes while it is tightened: at most 90 %% of yield, %.1f kN", limit/1000)
		}
	}
	out.Adjust(Adjustment{What: "bolt", Amount: torque / 1000, Kind: quantity.Torque, Direction: "tighten", Words: "{direction} to {amount}, in steps and smoothly"})
	return nil
}

// checkFriction refuses what is no coefficient of friction.
func checkFriction(in Args) error {
	for _, name := range []string{"mu_thread", "mu_face", "mu_low", "mu_high"} {
		if mu := in.Num(name); in.Has(name) && (mu <= 0 || mu > 1) {
			return Refuse(name, "give a friction between 0 and 1, as 0.12", "%g", mu)
		}
	}
	return nil
}

// meanFace is the mean diameter of the face that is turned.
func meanFace(in Args, t screw) (float64, error) {
	outer, inner := in.Num("face_outer"), in.Num("face_inner")
	if inner >= outer {
		return 0, Refuse("face_inner", "give the hole, which is smaller than the face", "%.3f mm is not smaller than face_outer, %.3f mm", inner, outer)
	}
	if inner < t.minorDiameter() {
		return 0, Refuse("face_inner", "give the diameter of the hole", "the thread does not go through %.3f mm", inner)
	}
	return (outer + inner) / 2, nil
}

// torqueArm is torque over force, mm: the thread's slope, its friction, and that of a face of this mean diameter.
func (t screw) torqueArm(thread, under, face float64) float64 {
	return t.pitch/(2*math.Pi) + thread*t.pitchDiameter()/(2*math.Cos(t.form.flank*math.Pi/180)) + under*face/2
}

// tighteningLimit is the force at which tension and the torsion of tightening together use 90 % of the yield stress.
func (t screw) tighteningLimit(yield, mu float64) float64 {
	d0, d2 := t.stressDiameter(), t.pitchDiameter()
	twist := 1.5 * d2 / d0 * (t.pitch/(math.Pi*d2) + mu/math.Cos(t.form.flank*math.Pi/180))
	return t.stressArea() * 0.9 * yield / math.Sqrt(1+3*twist*twist)
}
