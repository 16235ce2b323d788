package calc

import (
	"math"

	"thoud/calc/quantity"
)

// coneSeat says how a cone-point screw sits in a spotted seat with a pilot hole.
//
//	drilled surfaces at radius r   seat h − r/tan α      pilot bottom h_p − r/tan α_p      (α half the point angle)
//	screw cone at radius r         z − r/tan β           z depth of its sharp apex, r from the tip flat to the cone's base
//	apex depth z = the least of
//	    h − r/tan α + r/tan β          at the pilot rim (or the edge of the tip flat) and at the cone's outer edge
//	    h_p − r/tan α_p + r/tan β      at the tip flat and at the pilot's radius: bottoms
//	    r_m/tan β                      at the mouth, where the cone is wider than the seat there
//	radius of the seat at the face r_m = min(seat drill/2, h·tan α)
//	pilot needed                   h − r_p/tan α + r_p/tan β, deeper for the tip flat
//
// Depths in mm from the hole's mouth to the drills' tips; diameters in mm; point angles are whole angles. Wanted: the cone on
// the pilot's rim with air under its tip. The drilled seat ends at the face: where the drill did not go in to its full
// diameter the seat is as wide as the point made it, and where that is not wider than the pilot there is no seat and the
// cone rests on the pilot's mouth, which is warned of. Refused: a pilot wider than the seat drill. Plane geometry, computed independently.
// Point angles by ASME B18.3 and BS 2470: 90°, 118° for short screws; ISO 4027: 90°, 120° for short ones (from memory).
func coneSeat() Method {
	return Method{
		Name: "cone-seat", Version: 2, Title: "Seat of a cone-point screw",
		Inputs: []Input{
			{Name: "seat_drill", Kind: quantity.Length, Positive: true, Doc: "diameter of the drill that spots the seat"},
			{Name: "seat_depth", Kind: quantity.Length, Positive: true, Doc: "depth of the seat at the drill's tip"},
			{Name: "pilot_drill", Kind: quantity.Length, Positive: true, Optional: true, Doc: "diameter of the pilot; none where not given"},
			{Name: "pilot_depth", Kind: quantity.Length, Positive: true, Optional: true, Doc: "depth of the pilot at its tip"},
			{Name: "thread", Shape: Text, Optional: true, Doc: "of the screw, for its diameter"},
			{Name: "screw_diameter", Kind: quantity.Length, Positive: true, Optional: true, Doc: "instead of the thread"},
			{Name: "seat_angle", Kind: quantity.Angle, Optional: true, Doc: "point angle of the seat drill, 118° where not given"},
			{Name: "pilot_angle", Kind: quantity.Angle, Optional: true, Doc: "point angle of the pilot drill, 118° where not given"},
			{Name: "cone_angle", Kind: quantity.Angle, Optional: true, Doc: "angle of the screw's cone, 90° where not given"},
			{Name: "tip_flat", Kind: quantity.Length, Optional: true, Doc: "diameter of the flat at the tip, 0 where not given"},
			{Name: "cone_base", Kind: quantity.Length, Positive: true, Optional: true, Doc: "diameter where the cone ends; the screw's where not given"},
		},
		Figures: []Figure{
			{Name: "seat_diameter", Kind: quantity.Length, Doc: "diameter of the drilled seat at the face"},
			{Name: "apex_depth", Kind: quantity.Length, Doc: "depth of the cone's sharp apex, screwed home"},
			{Name: "tip_depth", Kind: quantity.Length, Doc: "depth of its tip flat"},
			{Name: "contact_diameter", Kind: quantity.Length, Doc: "circle on which the cone bears"},
			{Name: "tip_to_pilot_bottom", Kind: quantity.Length, Doc: "air under the tip"},
			{Name: "min_pilot_depth", Kind: quantity.Length, Doc: "the pilot must be deeper than this"},
			{Name: "bottoms", Flag: true, Doc: "the tip touches first: the screw feels tight and the block is loose"},
			{Name: "seats_on", Text: true, Doc: "where the cone bears"},
			{Name: "stand_off", Kind: quantity.Length, Doc: "how far the cone is held off the pilot's rim, along the screw; 0 when seated on it"},
			{Name: "flank_gap", Kind: quantity.Length, Doc: "the same square to the flank"},
			{Name: "thread_entry", Kind: quantity.Length, Doc: "how deep the full screw diameter goes in, negative = it stays outside"},
		},
		Formula:  "apex depth = min over the contact radii of (drilled depth − r/tan α + r/tan β)",
		Source:   "plane geometry; point angles ASME B18.3, BS 2470, ISO 4027",
		Cautions: []string{"Clamp the case for drilling; glasses on; swarf out of the oilways before assembly.", "Threadlocking compound and solvents: air."},
		Compute:  computeConeSeat,
	}
}

// coneJob holds the geometry: radii, depths and cotangents of the half angles.
type coneJob struct {
	seatR, seatH, pilotR, pilotH, tipR, baseR, screwR float64
	seatC, pilotC, coneC, coneHalf                    float64
}

func computeConeSeat(in Args, out *Out) error {
	j, err := coneJobOf(in)
	if err != nil {
		return err
	}
	// On the seat: the surface and the cone are both straight, so the first touch is at an end of their common stretch.
	mouth := j.mouth()
	inner, outer := math.Max(j.pilotR, j.tipR), math.Min(j.baseR, mouth)
	seat := func(r float64) float64 { return j.seatH - r*j.seatC + r*j.coneC }
	pilot := func(r float64) float64 { return j.pilotH - r*j.pilotC + r*j.coneC }
	rim := seat(inner)
	if inner >= mouth { // no seat is left beside the pilot or the flat: they end at the face
		rim = inner * j.coneC
	}
	z, contact, on, bottoms := math.Inf(1), 0.0, "", false
	touch := func(depth, r float64, what string, bad bool) {
		if depth < z-1e-9 {
			z, contact, on, bottoms = depth, r, what, bad
		}
	}
	switch {
	case inner >= mouth && j.tipR > j.pilotR:
		touch(rim, inner, "edge of the tip flat", true)
	case inner >= mouth && j.baseR >= inner:
		touch(rim, inner, "mouth of the pilot", false)
		out.Warn("seats_on: the seat was not drilled to its diameter, it would be %.3f mm wide at the face and the pilot is %.3f mm: the cone rests on the pilot's mouth; drill the seat deeper", 2*mouth, 2*j.pilotR)
	case inner <= outer:
		what := "pilot rim"
		switch {
		case math.Abs(j.seatC-j.coneC) < 1e-9:
			touch(rim, outer, "flank", false)
			what = ""
		case j.pilotR == 0 && j.tipR == 0:
			touch(rim, inner, "tip", true)
		case j.tipR > j.pilotR:
			touch(rim, inner, "edge of the tip flat", true)
		default:
			touch(rim, inner, what, false)
		}
		if j.baseR > mouth {
			touch(mouth*j.coneC, mouth, "mouth of the hole", false)
		} else {
			touch(seat(outer), outer, "outer edge", false)
		}
	}
	if j.tipR < j.pilotR {
		edge := math.Min(j.pilotR, j.baseR)
		touch(pilot(j.tipR), j.tipR, "pilot bottom", true)
		touch(pilot(edge), edge, "pilot bottom", true)
	}
	tip := z - j.tipR*j.coneC
	out.Set("seat_diameter", 2*mouth)
	out.Set("apex_depth", z)
	out.Set("tip_depth", tip)
	out.Set("contact_diameter", 2*contact)
	if j.pilotR > 0 {
		out.Set("tip_to_pilot_bottom", j.pilotH-j.tipR*j.pilotC-tip)
		out.Set("min_pilot_depth", rim-j.tipR*j.coneC+j.tipR*j.pilotC)
	} else {
		out.Set("tip_to_pilot_bottom", j.seatH-j.tipR*j.seatC-tip)
	}
	out.SetFlag("bottoms", bottoms)
	out.SetText("seats_on", on)
	standOff := math.Max(0, rim-z)
	out.Set("stand_off", standOff)
	out.Set("flank_gap", standOff*sinDeg(j.coneHalf))
	out.Set("thread_entry", z-j.screwR*j.coneC)
	warnConeSeat(out, on, bottoms, z-j.screwR*j.coneC)
	return nil
}

// mouth is the radius of the drilled seat at the face: the drill's, or as far as its point went in.
func (j coneJob) mouth() float64 { return math.Min(j.seatR, j.seatH/j.seatC) }

func coneJobOf(in Args) (coneJob, error) {
	j := coneJob{seatR: in.Num("seat_drill") / 2, seatH: in.Num("seat_depth"), pilotR: in.Num("pilot_drill") / 2, pilotH: in.Num("pilot_depth"), tipR: in.Num("tip_flat") / 2}
	switch {
	case in.Has("thread") && in.Has("screw_diameter"):
		return j, &InputError{"screw_diameter", "a value beside the thread", "one or the other"}
	case in.Has("thread"):
		t, err := parseThread("thread", in.Text("thread"))
		if err != nil {
			return j, err
		}
		j.screwR = t.diameter / 2
	case in.Has("screw_diameter"):
		j.screwR = in.Num("screw_diameter") / 2
	default:
		return j, Need("screw_diameter", "the screw's diameter or its thread: a screw larger than the seat lands on the hole's mouth")
	}
	if in.Has("pilot_drill") != in.Has("pilot_depth") {
		return j, Need("pilot_depth", "pilot_drill and pilot_depth together, or neither")
	}
	j.baseR = in.NumOr("cone_base", 2*j.screwR) / 2
	for _, a := range []struct {
		name string
		def  float64
		to   *float64
	}{{"seat_angle", 118, &j.seatC}, {"pilot_angle", 118, &j.pilotC}, {"cone_angle", 90, &j.coneC}} {
		angle := in.NumOr(a.name, a.def)
		if !(angle >= 20 && angle <= 175) {
			return j, Refuse(a.name, "give the whole angle of the point", "%.1f° is no point angle", angle)
		}
		*a.to = 1 / tanDeg(angle/2)
		j.coneHalf = angle / 2
	}
	if j.tipR < 0 || j.tipR >= j.baseR {
		return j, Refuse("tip_flat", "measure the flat at the tip", "%.3f mm does not lie between 0 and the cone's base", 2*j.tipR)
	}
	if j.pilotR >= j.seatR {
		return j, Refuse("pilot_drill", "use a pilot smaller than the seat drill", "%.3f mm leaves no seat under a drill of %.3f mm", 2*j.pilotR, 2*j.seatR)
	}
	if j.baseR > 2*j.screwR {
		return j, Refuse("cone_base", "measure the cone's base", "%.3f mm is wider than the screw", 2*j.baseR)
	}
	return j, nil
}

func warnConeSeat(out *Out, on string, bottoms bool, entry float64) {
	if bottoms {
		out.Warn("seats_on: it bottoms on the %s: drill the pilot deeper, the screw would feel tight and hold nothing", on)
	}
	if on == "mouth of the hole" || on == "outer edge" {
		out.Warn("seats_on: the cone bears on the %s, not on the pilot rim", on)
	}
	if entry > 0 {
		out.Warn("thread_entry: the thread goes %.3f mm into the seat drilling, which must be at least as wide as the thread", entry)
	}
}
