package calc

import (
	"math"

	"thoud/calc/quantity"
)

// balance gives the bob weight of a crankshaft whose pistons move together (360° twin, single), its balance factor as
// found, and the holes that bring it to the factor wanted.
//
//	m_rec = n·(piston + pin + rings + clips + small end)      m_rot = n·(big end + bearing)
//	bob weight W = m_rot + B·m_rec                            the total at the crankpin
//	factor now, rods left on, w hung at the small ends:  B = (w + n·small end)/m_rec
//	remove = (B − B_wanted)·m_rec·R/(r·cos ψ)                 + = remove from the counterweight, negative = add
//
// With each, the parts of every cylinder are weighed by themselves: bob weights W_i = rot_i + B·rec_i, W their sum, and lighten
// is by how much the reciprocating and the rotating parts of each are over the lightest. They are made equal before the
// factor is drilled; a difference of more than 1 g is warned of.
//
// Masses in g of one cylinder each, n cylinders (2 where not given); w in all; R crank radius, r radius of the holes, ψ
// their angle from the counterweight's line, in pairs either side. Each hole takes remove/holes: its full depth for a
// drill with point angle drill_angle (118° where not given, 180° a flat bottom), and its depth to the tip. Where metal
// is to be added the depth is that of a plug of plug_density in place of the metal (density). Refused: each beside piston, a
// factor outside 0…1, holes 90° or more from the counterweight's line, holes without drill and density. The factor is the builder's
// choice (parallel twins 50–90 %, common practice). Statics; common practice. Not for a 180° crank.
func balance() Method {
	return Method{
		Name: "balance", Version: 2, Title: "Balance factor, bob weight and drilling",
		Inputs: append(cylinderMasses(true), []Input{
			{Name: "each", Shape: Records, Optional: true, Doc: "instead of the masses above: those of each cylinder of the crank", Fields: append([]Input{
				{Name: "name", Shape: Text, Optional: true, Doc: "which cylinder"},
			}, cylinderMasses(false)...)},
			{Name: "cylinders", Kind: quantity.Number, Optional: true, Doc: "cylinders on the crank; 2 where not given"},
			{Name: "hung", Kind: quantity.Mass, Optional: true, Doc: "weight hung at the small ends, in all, that stands still anywhere"},
			{Name: "factor_wanted", Kind: quantity.Number, Optional: true, Doc: "balance factor, 0.62 for 62 %"},
			{Name: "crank_radius", Kind: quantity.Length, Positive: true, Optional: true, Doc: "half the stroke"},
			{Name: "hole_radius", Kind: quantity.Length, Positive: true, Optional: true, Doc: "crank axis to the holes"},
			{Name: "hole_angle", Kind: quantity.Angle, Optional: true, Doc: "of the holes from the counterweight's line"},
			{Name: "holes", Kind: quantity.Number, Optional: true, Doc: "number of holes, shared by the cheeks"},
			{Name: "drill", Kind: quantity.Length, Positive: true, Optional: true, Doc: "diameter of the drill"},
			{Name: "drill_angle", Kind: quantity.Angle, Optional: true, Doc: "point angle of the drill; 118° where not given, 180° flat"},
			{Name: "density", Kind: quantity.Density, Positive: true, Optional: true, Doc: "of the counterweight, steel about 7.85 g/cm3"},
			{Name: "plug_density", Kind: quantity.Density, Positive: true, Optional: true, Doc: "of the heavy metal pressed in where metal is to be added"},
		}...),
		Figures: []Figure{
			{Name: "reciprocating", Kind: quantity.Mass, Doc: "of all cylinders"},
			{Name: "rotating", Kind: quantity.Mass, Doc: "of all cylinders"},
			{Name: "bob_weights", Kind: quantity.Mass, List: true, Doc: "with each: what hangs on each crankpin, for the factor wanted"},
			{Name: "difference", Kind: quantity.Mass, Doc: "with each of two cylinders: reciprocating mass of the first less that of the second"},
			{Name: "reciprocating_each", Kind: quantity.Mass, List: true, Doc: "with each: of each cylinder"},
			{Name: "rotating_each", Kind: quantity.Mass, List: true, Doc: "with each: of each cylinder"},
			{Name: "lighten", Kind: quantity.Mass, List: true, Doc: "with each: to take off the reciprocating parts of each"},
			{Name: "lighten_rotating", Kind: quantity.Mass, List: true, Doc: "with each: to take off the big end of each"},
			{Name: "bob_weight", Kind: quantity.Mass, Doc: "at the crankpin, for the factor wanted"},
			{Name: "factor_now", Kind: quantity.Number, Doc: "balance factor as found"},
			{Name: "remove", Kind: quantity.Mass, Doc: "at the hole radius, negative = add"},
			{Name: "per_hole", Kind: quantity.Mass, Doc: "of it in each hole"},
			{Name: "depth_full", Kind: quantity.Length, Doc: "depth of the full diameter"},
			{Name: "depth_to_tip", Kind: quantity.Length, Doc: "depth to the drill's tip"},
			{Name: "action", Text: true, Choice: true, Doc: "remove, add or leave"},
		},
		Formula:  "W = m_rot + B·m_rec; B = (hung + Σ small ends)/m_rec; remove = (B − B wanted)·m_rec·R/(r·cos ψ)",
		Source:   "statics; common practice",
		Cautions: []string{"On knife edges the crank rolls: stops at both ends, chocks. It is heavy: lift with both hands.", "Drill with the crank clamped and the journals wrapped; swarf out of every oilway."},
		Compute:  computeBalance,
	}
}

func computeBalance(in Args, out *Out) error {
	if in.Num("hung") < 0 {
		return Refuse("hung", "give its mass, 0 or more", "%g g", in.Num("hung"))
	}
	cylinders, err := crankMassesOf(in)
	if err != nil {
		return err
	}
	rec, rot, small := 0.0, 0.0, 0.0
	for _, c := range cylinders {
		rec, rot, small = rec+c.rec, rot+c.rot, small+c.small
	}
	out.Set("reciprocating", rec)
	out.Set("rotating", rot)
	wanted := in.Num("factor_wanted")
	if in.Has("factor_wanted") {
		if wanted <= 0 || wanted > 1 {
			return Refuse("factor_wanted", "give it as a share, 0.62 for 62 %", "%g", wanted)
		}
		out.Set("bob_weight", rot+wanted*rec)
	}
	if in.Has("each") {
		setEach(in, cylinders, out)
	}
	if !in.Has("hung") {
		return nil
	}
	now := (in.Num("hung") + small) / rec
	out.Set("factor_now", now)
	if !in.Has("factor_wanted") || !in.Has("crank_radius") && !in.Has("hole_radius") {
		return nil
	}
	return balanceHoles(in, (now-wanted)*rec, out)
}

// balanceHoles turns the mass to take off at the crankpin's radius into holes.
func balanceHoles(in Args, atPin float64, out *Out) error {
	for _, name := range []string{"crank_radius", "hole_radius"} {
		if !in.Has(name) {
			return Refuse(name, "give crank_radius and hole_radius together", "it is missing")
		}
	}
	angle := in.Num("hole_angle")
	if math.Abs(angle) >= 90 {
		return Refuse("hole_angle", "drill on the counterweight's side, less than 90° from its line", "%g°", angle)
	}
	remove := atPin * in.Num("crank_radius") / (in.Num("hole_radius") * math.Cos(angle*math.Pi/180))
	out.Set("remove", remove)
	a := Adjustment{What: "counterweight", Amount: remove, Kind: quantity.Mass, Direction: "remove", Answers: []string{"factor_now", "remove"}, Words: "{direction} {amount} from the counterweight at the holes' radius"}
	switch {
	case math.Abs(remove) < leastDrilling:
		a.Direction, a.Words = "none", "leave it: the factor is as wanted"
		out.SetText("action", "leave")
	case remove < 0:
		a.Direction, a.Words = "add", "{direction} {amount} of heavy metal to the counterweight at the holes' radius"
		out.SetText("action", "add")
	default:
		out.SetText("action", "remove")
	}
	if in.Has("holes") {
		if err := drillHoles(in, remove, &a, out); err != nil {
			return err
		}
	}
	if angle != 0 {
		a.warn("drill in pairs, the same angle either side of the counterweight's line")
	}
	out.Adjust(a)
	return nil
}

// drillHoles finds how deep each hole goes.
func drillHoles(in Args, remove float64, a *Adjustment, out *Out) error {
	holes := in.Num("holes")
	if holes != math.Trunc(holes) || holes < 1 {
		return Refuse("holes", "give a whole number of holes", "%g", holes)
	}
	out.Set("per_hole", remove/holes)
	if !in.Has("drill") {
		return nil
	}
	if !in.Has("density") {
		return Refuse("density", "give the density of the counterweight, steel about 7.85 g/cm3", "it is missing, and a depth needs it")
	}
	density := in.Num("density")
	if remove < 0 {
		if !in.Has("plug_density") {
			a.warn("metal is to be added: give plug_density for the depth of the plugs")
			return nil
		}
		density = in.Num("plug_density") - density
		if density <= 0 {
			return Refuse("plug_density", "use a metal heavier than the counterweight", "%g g/cm³ is not heavier than %g g/cm³", in.Num("plug_density"), in.Num("density"))
		}
	}
	point := in.NumOr("drill_angle", 118)
	if point <= 0 || point > 180 {
		return Refuse("drill_angle", "give the drill's point angle, 118° usual, 180° for a flat bottom", "%g°", point)
	}
	full, tip := drillDepth(1000*math.Abs(remove)/holes/density, in.Num("drill"), point)
	out.Set("depth_full", full)
	out.Set("depth_to_tip", tip)
	if tip > 4*in.Num("drill") {
		a.warn("%.0f mm is deep for this drill: more or larger holes", tip)
	}
	switch a.Direction {
	case "remove":
		a.Words += ": {figure:per_hole} in each hole, drilled {figure:depth_full} full, {figure:depth_to_tip} to the tip"
	case "add":
		a.Words += ": plugs in holes drilled {figure:depth_full} full, {figure:depth_to_tip} to the tip"
	}
	return nil
}

// drillDepth is how deep a hole of that volume (mm³) is: its full diameter, and to the tip of the point. A hole that is
// all point has no full diameter.
func drillDepth(volume, drill, point float64) (full, tip float64) {
	area := math.Pi / 4 * drill * drill
	cone := 0.0
	if point < 180 {
		cone = drill / 2 / math.Tan(point/2*math.Pi/180)
	}
	full = volume/area - cone/3
	if full < 0 {
		return 0, cone * math.Cbrt(volume/(area*cone/3))
	}
	return full, full + cone
}
