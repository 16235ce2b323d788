package calc

import (
	"math"

	"thoud/calc/quantity"
)

// tdcStop: top dead centre from the two angles at which the piston meets a positive stop (or the same drop), turned
// forwards and backwards.
//
//	midpoint     = middle of the short arc between the two, computed round the circle
//	offset error = (after − before)/2 of the stop's drop: how late the midpoint lies with an offset pin
//	TDC          = midpoint − offset error         wheel correction = −TDC, to add to every reading
//
// Degrees of the wheel, growing in the running direction; the answer is signed where a reading is negative, else 0 to
// 360. With a pin offset the drop is the stop's, or follows from the arc where it is not given. Refused: an arc too
// short to tell top dead centre or so long that two are possible. Plane geometry.
func tdcStop() Method {
	return Method{
		Name: "tdc-stop", Version: 1, Title: "Top dead centre by a positive stop",
		Inputs: append([]Input{
			{Name: "forward", Kind: quantity.Angle, Doc: "wheel at the stop, turned in the running direction"},
			{Name: "back", Kind: quantity.Angle, Doc: "wheel at the stop, turned backwards"},
		}, append(crankInputs(true),
			Input{Name: "stop_drop", Kind: quantity.Length, Optional: true, Positive: true, Doc: "drop of the piston at the stop"})...),
		Figures: []Figure{
			{Name: "midpoint", Kind: quantity.Angle, Doc: "wheel reading half-way between the two"},
			{Name: "tdc", Kind: quantity.Angle, Doc: "wheel reading at top dead centre"},
			{Name: "offset_error", Kind: quantity.Angle, Doc: "how late the midpoint lies because of the pin's offset"},
			{Name: "wheel_correction", Kind: quantity.Angle, Doc: "to add to every reading of the wheel, −180 to 180°"},
			{Name: "arc", Kind: quantity.Angle, Doc: "short arc between the two"},
		},
		Formula: "TDC = middle of the short arc − (degrees after − degrees before)/2 at the stop's drop; correction = −TDC",
		Source:  "plane geometry; the positive stop is common practice",
		Cautions: []string{
			"Plugs out, gearbox in neutral, ignition off; fit the stop before the crank is touched.",
			"Bring the piston up to the stop gently by hand; never with the starter.",
			"Take the stop out before the engine is turned over.",
		},
		Compute: computeTDCStop,
	}
}

// The arcs between which a stop tells top dead centre: shorter lies in the dwell, longer leaves two middles possible.
const (
	leastStopArc = 4
	mostStopArc  = 176
	dwellArc     = 20 // below, a hundredth of a millimetre is worth a tenth of a degree or more
)

func computeTDCStop(in Args, out *Out) error {
	forward, back := in.Num("forward"), in.Num("back")
	half := signed(back-forward, 360) / 2
	arc := 2 * math.Abs(half)
	if arc < leastStopArc {
		return Refuse("back", "set the stop lower, or, on a wheel that counts both ways from zero, give the reading before top dead centre as negative",
			"%.2f° and %.2f° are only %.2f° apart", forward, back, arc)
	}
	if arc > mostStopArc {
		return Refuse("back", "set the stop nearer to the top", "%.2f° and %.2f° are %.0f° apart, so that top and bottom cannot be told apart", forward, back, arc)
	}
	if arc < dwellArc {
		out.Warn("the stop is within %.0f° of top dead centre, where the piston hardly moves: set it lower", arc/2)
	}
	form := signedForm(forward, back)
	middle := forward + half
	late, err := offsetError(in, out, arc)
	if err != nil {
		return err
	}
	tdc := form(middle - late)
	correction := -signed(middle-late, 360)
	out.Set("midpoint", form(middle))
	out.Set("arc", arc)
	out.Set("offset_error", late)
	out.Set("tdc", tdc)
	out.Set("wheel_correction", correction)
	a := Adjustment{What: "degree wheel", Amount: correction, Kind: quantity.Angle, Direction: "add", Answers: []string{"wheel_correction"},
		Words: "{direction} {amount} to every reading of the wheel, or move the pointer until the stop reads the same on both sides"}
	if correction < 0 {
		a.Direction = "subtract"
		a.Words = "{direction} {amount} from every reading of the wheel, or move the pointer until the stop reads the same on both sides"
	}
	if math.Abs(correction) < 1e-9 {
		a.Direction, a.Words = "none", "leave the wheel: it reads zero at top dead centre"
	}
	out.Adjust(a)
	return nil
}

// offsetError is (after − before)/2 at the stop, 0 without an offset.
func offsetError(in Args, out *Out, arc float64) (float64, error) {
	if !in.Has("stroke") || !in.Has("rod") {
		for _, name := range []string{"pin_offset", "stop_drop"} {
			if in.Has(name) {
				return 0, Refuse(name, "give stroke and rod too, or leave it out", "it needs stroke and rod to be of use")
			}
		}
		return 0, nil
	}
	c, err := crankOf(in)
	if err != nil {
		return 0, err
	}
	drop := c.dropOfArc(arc)
	if in.Has("stop_drop") {
		drop = in.Num("stop_drop")
		if err := c.checkDrop("stop_drop", drop); err != nil {
			return 0, err
		}
	}
	before, after := c.sides(drop)
	if off := before + after - arc; math.Abs(off) > 3 {
		out.Warn("a drop of %.3f mm makes an arc of %.1f°, the wheel shows %.1f°: did the stop or the wheel move?", drop, before+after, arc)
	}
	return (after - before) / 2, nil
}
