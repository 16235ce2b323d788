package calc

import "thoud/calc/quantity"

// camEvents: durations, lobe centres, separation, overlap and advance from quoted valve events.
//
//	duration = opening + 180 + closing
//	inlet centre (ATDC) = duration/2 − IVO      exhaust centre (BTDC) = duration/2 − EVC
//	separation (cam degrees) = (inlet + exhaust centre)/2     overlap = IVO + EVC     advance = separation − inlet centre
//
// Crank degrees: IVO before and EVC after top dead centre, IVC after and EVO before bottom dead centre; all at one
// checking height. A centre half-way between events is the nose only of a symmetric lobe. Refused: a duration that no
// valve has, one exhaust event without the other. Common practice.
func camEvents() Method {
	return Method{
		Name: "cam-events", Version: 1, Title: "Cam timing from quoted events",
		Inputs: []Input{
			{Name: "inlet_opening", Kind: quantity.Angle, Doc: "inlet opens, degrees before top dead centre (negative = after)"},
			{Name: "inlet_closing", Kind: quantity.Angle, Doc: "inlet closes, degrees after bottom dead centre"},
			{Name: "exhaust_opening", Kind: quantity.Angle, Optional: true, Doc: "exhaust opens, degrees before bottom dead centre"},
			{Name: "exhaust_closing", Kind: quantity.Angle, Optional: true, Doc: "exhaust closes, degrees after top dead centre (negative = before)"},
		},
		Figures: append([]Figure{
			{Name: "inlet_duration", Kind: quantity.Angle, Doc: "crank degrees open"},
			{Name: "exhaust_duration", Kind: quantity.Angle, Doc: "crank degrees open"},
			{Name: "inlet_centre", Kind: quantity.Angle, Doc: "lobe centre, degrees after top dead centre"},
			{Name: "exhaust_centre", Kind: quantity.Angle, Doc: "lobe centre, degrees before top dead centre"},
		}, camFigures()...),
		Formula: "duration = opening + 180 + closing; inlet centre = duration/2 − IVO; exhaust centre = duration/2 − EVC; separation = (inlet + exhaust centre)/2; overlap = IVO + EVC; advance = separation − inlet centre",
		Source:  "common practice (three texts give the same algebra)",
		Cautions: []string{
			"Events are good only with the checking height they were quoted at, and at the place they were measured.",
			"Check valve-to-piston clearance before a camshaft is turned through its cycle.",
		},
		Compute: computeCamEvents,
	}
}

func computeCamEvents(in Args, out *Out) error {
	inlet, err := quotedLobe(in, out, "inlet", -in.Num("inlet_opening"), in.Num("inlet_closing")+180)
	if err != nil {
		return err
	}
	out.Set("inlet_centre", inlet.middle())
	switch opening, closing := in.Has("exhaust_opening"), in.Has("exhaust_closing"); {
	case !opening && !closing:
		return nil
	case !closing:
		return Refuse("exhaust_closing", "give both exhaust events or none", "exhaust_opening is given without it")
	case !opening:
		return Refuse("exhaust_opening", "give both exhaust events or none", "exhaust_closing is given without it")
	}
	exhaust, err := quotedLobe(in, out, "exhaust", -in.Num("exhaust_opening")-180, in.Num("exhaust_closing"))
	if err != nil {
		return err
	}
	out.Set("exhaust_centre", -exhaust.middle())
	setCam(out, inlet, exhaust)
	return nil
}

func quotedLobe(in Args, out *Out, side string, opening, closing float64) (lobeEvents, error) {
	e := lobeEvents{opening, closing}
	if d := closing - opening; d <= 0 || d >= 540 {
		return e, Refuse(side+"_opening", "check the events and where each is counted from", "%.1f° and %.1f° make a duration of %.1f°, which no valve has", in.Num(side+"_opening"), in.Num(side+"_closing"), d)
	}
	out.Set(side+"_duration", closing-opening)
	return e, nil
}
