package calc

import (
	"math"
	"slices"

	"thoud/calc/quantity"
)

// contactClearance: a guide block is pushed by the turning lobes to the point of contact and stays there; one reading
// of its protrusion against the cylinder's joint face gives where contact is, and so where the block must stand.
//
//	σ = −1 where protrusion is read on the cam side, +1 where an outside face is read
//	contact = protrusion (one), or the mean of the plateau after the last increase over a full turn (list, outside only)
//	target  = contact + σ·clearance
//	move    = σ·(target − now)            + = away from the cam
//	clearance now   = σ·(now − contact)
//	built clearance = clearance + joint at assembly − joint at contact
//
// Lengths in mm. A list stands in the order of turning. Its plateau is found from its own scatter (see findPlateau), and
// the scatter decides whether the block went back: a fall of more than 0.01 mm and of five standard deviations is
// refused, a smaller one that still stands out is warned of and what was read before it counts. A block that stands
// inside contact (now below it) has no clearance: it is told that the lobe pushes it, and the clearance is 0, not
// negative. Refused: a block that was never touched (start within the uncertainty of the contact reading), a list read on
// the cam side, a list that does not cover the turn. Once seated on its cone the block is only ground, never driven.
// Plane geometry; the transfer itself is common practice; the plateau computed independently, no published example.
func contactClearance() Method {
	return Method{
		Name: "contact-clearance", Version: 2, Title: "Guide-block clearance by contact transfer",
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
			{Name: "clearance_now", Kind: quantity.Length, Doc: "clearance as the block stands; 0 where it stands inside contact"},
			{Name: "move", Kind: quantity.Length, Doc: "still to move, + = away from the cam"},
			{Name: "grind", Kind: quantity.Length, Doc: "to grind off the cam side (seated only)"},
			{Name: "contact_readings", Kind: quantity.Number, Choice: true, Unit: "readings", Doc: "of a list: how many readings the contact is the mean of"},
			{Name: "contact_from", Kind: quantity.Angle, Choice: true, Doc: "of a list: crank angle of the first of them"},
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
	contact, p := readings[0], plateau{}
	if len(readings) > 1 {
		var err error
		if p, err = contactPlateau(in, sigma, out); err != nil {
			return err
		}
		contact = p.level
	}
	if in.Has("start") {
		// The lobes push the block away from the cam, never towards it.
		margin := math.Max(2*math.Hypot(in.U("start"), listU(in, "protrusion")), 1e-9)
		if pushed := sigma * (contact - in.Num("start")); pushed < -margin {
			return Refuse("start", "check which face is read, nip the block and repeat the turn", "from %.4f mm to %.4f mm the block went towards the cam, which the lobes cannot do", in.Num("start"), contact)
		} else if pushed <= margin {
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
	standingNow := sigma * (now - contact)
	if margin := math.Max(coverage95*math.Hypot(in.U("now"), listU(in, "protrusion")), 1e-9); standingNow < -margin {
		out.Warn("the block stands %.3f mm inside contact: there is no clearance, and the lobe pushes it when the camshaft is turned", -standingNow)
	}
	if p.to > 0 {
		p.setFit(in, out, sigma, standingNow > 0)
	}
	standingNow = math.Max(standingNow, 0)
	out.Set("clearance_now", standingNow)
	out.Set("move", move)
	// What is built follows from the clearance as it stands, once it has been set; before that from the wanted one.
	standing := clearance
	if in.Has("now") {
		standing = standingNow
	}
	out.Set("built_clearance", standing+in.Num("joint_at_assembly")-in.Num("joint_at_contact"))
	if in.Flag("seated") {
		return grindSeated(move, out)
	}
	out.Set("grind", 0)
	a := Adjustment{What: "block", Amount: move, Kind: quantity.Length, Direction: "away", Answers: blockFigures(), Words: "move the block {amount} {direction}"}
	if move < 0 {
		a.Direction = "towards"
	}
	out.Adjust(a)
	return nil
}

// blockFigures are those that say whether the block may stay where it is.
func blockFigures() []string { return []string{"clearance_now", "built_clearance", "move", "grind"} }

func grindSeated(move float64, out *Out) error {
	out.Set("grind", math.Max(move, 0))
	a := Adjustment{What: "block", Amount: math.Max(move, 0), Kind: quantity.Length, Direction: "grind", Answers: blockFigures(), Words: "{direction} {amount} off the cam side"}
	if move < 0 {
		a.Words = "leave it: the block sits on its cone and has more clearance than asked for; where that is too much, only another block or a new seat helps"
		a.Direction = "none"
	}
	out.Adjust(a)
	return nil
}

// setFit says which readings the contact is the mean of, so that Run holds their scatter against what is stated, and how
// the figures follow them.
func (p plateau) setFit(in Args, out *Out, sigma float64, clear bool) {
	readings, m := in.List("protrusion"), p.to-p.from
	out.Set("contact_readings", float64(m))
	out.Set("contact_from", in.List("crank_angle")[p.from])
	f := Fit{Figures: []string{"contact", "target", "clearance_now", "move", "grind", "built_clearance"}, Unknowns: 1}
	at := make([]int, m)
	up, down := make([]float64, len(readings)), make([]float64, len(readings))
	for i := range at {
		at[i] = p.from + i
		f.Residuals = append(f.Residuals, readings[at[i]]-p.level)
		up[at[i]], down[at[i]] = 1/float64(m), -sigma/float64(m)
	}
	f.Readings = []Measured{{Input: "protrusion", Member: at}}
	out.Fit(f)
	s := out.Slopes("protrusion")
	if s == nil {
		return
	}
	s.Set("contact", up)
	s.Set("target", up)
	if !in.Has("now") {
		return // what is still to move is the clearance wanted, whatever the contact
	}
	s.Set("move", up)
	if clear {
		s.Set("clearance_now", down)
		s.Set("built_clearance", down)
	}
	if in.Flag("seated") && sigma*(p.level+sigma*in.Num("clearance")-in.Num("now")) > 0 {
		s.Set("grind", up)
	}
}

// Rules of a list of readings over the turn.
const (
	widestContactGap = 60   // between two readings, degrees of crank
	leastFall        = 0.01 // a fall of less is never taken for the block going back, mm
	clearFall        = 5    // nor is one of fewer standard deviations: at four, one honest turn in five thousand was refused
	clearSpike       = 6    // two readings in a row so many standard deviations over the plateau stood at contact
	fewAtContact     = 5    // a plateau of fewer readings wants more of the turn
)

// contactPlateau finds where the readings of an outside face stop growing over one full turn of the camshaft.
func contactPlateau(in Args, sigma float64, out *Out) (plateau, error) {
	readings, angles := in.List("protrusion"), in.List("crank_angle")
	if sigma < 0 {
		return plateau{}, Refuse("side", "give one reading, taken after a full turn of the camshaft", "a list of readings over the turn can only be taken on an outside face")
	}
	if len(angles) != len(readings) {
		return plateau{}, Refuse("crank_angle", "give one angle for each reading", "%d angles for %d readings", len(angles), len(readings))
	}
	if gap := widestGap(angles, cycle); gap > widestContactGap {
		return plateau{}, Refuse("crank_angle", "turn on and read through the whole 720° of crank", "the widest gap is %.0f°, at most %d° is accepted", gap, widestContactGap)
	}
	p := findPlateau(readings, slices.Max(in.Spread("protrusion")))
	m := float64(p.to - p.from)
	wentBack := func(fall float64) error {
		return Refuse("protrusion", "nip the block a little more and repeat the turn", "the block went back %.3f mm after contact", fall)
	}
	high := p.highestBefore(readings, fewAtContact)
	if least := math.Max(leastFall, stepLimit*p.noise*math.Sqrt(1.0/fewAtContact+1/m)); high-p.level > least {
		return plateau{}, wentBack(high - p.level)
	}
	if high := p.highestPair(readings); high-p.level > math.Max(leastFall, clearSpike*p.noise) {
		return plateau{}, wentBack(high - p.level)
	}
	if p.fell > 0 {
		after := float64(len(readings) - p.to)
		if p.fell > math.Max(leastFall, clearFall*p.noise*math.Sqrt(1/m+1/after)) {
			return plateau{}, wentBack(p.fell)
		}
		out.Warn("the block went back by %.4f mm after contact; what was read before it counts", p.fell)
	}
	if p.to-p.from < fewAtContact {
		out.Warn("only %d readings after the last push: turn on and read more of them", p.to-p.from)
	}
	return p, nil
}
