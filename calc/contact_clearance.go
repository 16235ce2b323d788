package calc

import (
	"math"

	"thoud/calc/quantity"
)

// contactClearance: a guide block is pushed by the turning lobes to the point of contact and stays there; one reading
// of its protrusion against the cylinder's joint face gives where contact is, and so where the block must stand.
//
//	σ = −1 where protrusion is read on the cam side, +1 where an outside face is read
//	contact = protrusion (one), or the plateau after the last increase over a full turn (list, outside only)
//	target  = contact + σ·clearance
//	move    = σ·(target − now)            + = away from the cam
//	clearance now   = σ·(now − contact)
//	built clearance = clearance + joint at assembly − joint at contact
//
// Lengths in mm. Refused: a block that was never touched (start within the uncertainty of the contact reading), a list
// read on the cam side, a list that does not cover the turn. Once seated on its cone the block is only ground, never
// driven. Plane geometry; the transfer itself is common practice.
func contactClearance() Method {
	return Method{
		Name: "contact-clearance", Version: 1, Title: "Guide-block clearance by contact transfer",
		Inputs: []Input{
			{Name: "protrusion", Shape: List, Kind: quantity.Length, Doc: "protrusion against the joint face, one reading after the lobes have pushed the block, or a list over the turn (side \"outside\" only)"},
			{Name: "crank_angle", Shape: List, Kind: quantity.Angle, Optional: true, Doc: "crank angle of each reading of a list"},
			{Name: "clearance", Kind: quantity.Length, Positive: true, Doc: "running clearance wanted between block and lobe"},
			{Name: "side", Shape: Text, Enum: []string{"cam", "outside"}, Optional: true, Doc: "the face read: \"cam\" (usual) or \"outside\", where the reading grows as the block moves away from the cam"},
			{Name: "start", Kind: quantity.Length, Optional: true, Doc: "protrusion before the camshaft was turned"},
			{Name: "now", Kind: quantity.Length, Optional: true, Doc: "protrusion as the block stands now; the contact reading where not given"},
			{Name: "joint_at_contact", Kind: quantity.Length, Optional: true, Doc: "thickness in the cylinder joint when contact was read"},
			{Name: "joint_at_assembly", Kind: quantity.Length, Optional: true, Doc: "thickness in the cylinder joint as it will be built"},
			{Name: "seated", Shape: Flag, Optional: true, Doc: "true once the block sits on its cone: from then on it is ground, never driven"},
		},
		Figures: []Figure{
			{Name: "contact", Kind: quantity.Length, Doc: "reading at contact"},
			{Name: "target", Kind: quantity.Length, Doc: "reading at which the block has the wanted clearance"},
			{Name: "clearance_now", Kind: quantity.Length, Doc: "clearance as the block stands"},
			{Name: "move", Kind: quantity.Length, Doc: "still to move, + = away from the cam"},
			{Name: "grind", Kind: quantity.Length, Doc: "to grind off the cam side (seated only)"},
			{Name: "built_clearance", Kind: quantity.Length, Doc: "clearance with the joint as it will be built"},
		},
		Formula:  "target = contact + s·clearance; move = s·(target − now); s = −1 on the cam side, +1 outside",
		Source:   "plane geometry; contact transfer is common practice",
		Cautions: []string{"Turn the camshaft by hand only; stop at the first resistance.", "Glasses on when a block is moved with a drift or tapped.", "Warm a case evenly, gloves on; read only when everything is cold."},
		Compute:  computeContactClearance,
	}
}

func computeContactClearance(in Args, out *Out) error {
	readings := in.List("protrusion")
	sigma := -1.0
	if in.TextOr("side", "cam") == "outside" {
		sigma = 1
	}
	if len(readings) == 0 {
		return Refuse("protrusion", "read the protrusion at contact", "no reading")
	}
	contact := readings[0]
	if len(readings) > 1 {
		var err error
		if contact, err = contactPlateau(in, sigma); err != nil {
			return err
		}
	}
	if in.Has("start") {
		// The lobes push the block away from the cam, never towards it.
		doubt := math.Max(2*math.Hypot(in.U("start"), listU(in, "protrusion")), 1e-9)
		if pushed := sigma * (contact - in.Num("start")); pushed < -doubt {
			return Refuse("start", "check which face is read, nip the block and repeat the turn", "from %.4f mm to %.4f mm the block went towards the cam, which the lobes cannot do", in.Num("start"), contact)
		} else if pushed <= doubt {
			return Refuse("start", "stand the block prouder on the cam side, turn the camshaft one full turn and read again",
				"the block stands where it started (%.4f mm), so the lobes never touched it", contact)
		}
	}
	clearance := in.Num("clearance")
	target := contact + sigma*clearance
	now := in.NumOr("now", contact)
	move := sigma * (target - now)
	out.Set("contact", contact)
	out.Set("target", target)
	out.Set("clearance_now", sigma*(now-contact))
	out.Set("move", move)
	// What is built follows from the clearance as it stands, once it has been set; before that from the wanted one.
	standing := clearance
	if in.Has("now") {
		standing = sigma * (now - contact)
	}
	out.Set("built_clearance", standing+in.Num("joint_at_assembly")-in.Num("joint_at_contact"))
	if in.Flag("seated") {
		return grindSeated(move, out)
	}
	out.Set("grind", 0)
	a := Adjustment{What: "block", Amount: move, Kind: quantity.Length, Direction: "away", Words: "move the block {amount} {direction}"}
	if move < 0 {
		a.Direction = "towards"
	}
	out.Adjust(a)
	return nil
}

func grindSeated(move float64, out *Out) error {
	out.Set("grind", math.Max(move, 0))
	a := Adjustment{What: "block", Amount: math.Max(move, 0), Kind: quantity.Length, Direction: "grind", Words: "{direction} {amount} off the cam side"}
	if move < 0 {
		a.Words = "leave it: the block sits on its cone and has more clearance than asked for; where that is too much, only another block or a new seat helps"
		a.Direction = "none"
	}
	out.Adjust(a)
	return nil
}

// contactPlateau finds where the readings of an outside face stop growing over one full turn of the camshaft.
func contactPlateau(in Args, sigma float64) (float64, error) {
	readings, angles := in.List("protrusion"), in.List("crank_angle")
	if sigma < 0 {
		return 0, Refuse("side", "give one reading, taken after a full turn of the camshaft", "a list of readings over the turn can only be taken on an outside face")
	}
	if len(angles) != len(readings) {
		return 0, Refuse("crank_angle", "give one angle for each reading", "%d angles for %d readings", len(angles), len(readings))
	}
	if gap := widestGap(angles, 720); gap > 60 {
		return 0, Refuse("crank_angle", "turn on and read through the whole 720° of crank", "the widest gap is %.0f°, at most 60° is accepted", gap)
	}
	contact := readings[0]
	for _, r := range readings {
		contact = math.Max(contact, r)
	}
	if last := readings[len(readings)-1]; contact-last > math.Max(2*listU(in, "protrusion"), 0.01) {
		return 0, Refuse("protrusion", "nip the block a little more and repeat the turn", "the block went back %.3f mm after contact", contact-last)
	}
	return contact, nil
}
