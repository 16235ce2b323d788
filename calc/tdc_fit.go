package calc

import (
	"math"
	"slices"

	"thoud/calc/quantity"
)

// tdcFit: top dead centre by least squares from piston readings either side of it.
//
//	reading = c₀ + s·drop(φ − φ_T)        unknown φ_T and c₀; s = +1 where the display grows as the piston falls
//	weights 1/(u_y² + (slope·u_φ)²) of the stated independent uncertainties; all alike where none is stated
//
// φ in degrees of the encoder, growing in the running direction; readings in mm along the bore. u_tdc is the standard
// uncertainty of φ_T from the scatter about the fit; U of the figures is the larger of this and of what is stated.
// Readings of the other turning direction are fitted apart; backlash
// = tdc_reverse − tdc, the lost motion, + = the wheel trails the crank, as a wheel with play does; tdc is that of the
// running direction. A backlash below zero beyond its uncertainty is warned of: the lists are exchanged, or the wheel counts
// backwards. Without sense the sign is the one
// that fits. Best with readings 15° to 45° from the top on both sides: at the top the piston dwells. Refused: fewer than
// three readings, readings of one side only, a sense that the readings contradict. Gauss–Newton on the slider-crank.
func tdcFit() Method {
	return Method{
		Name: "tdc-fit", Version: 2, Title: "Top dead centre by least squares",
		Inputs: append(crankInputs(false),
			Input{Name: "crank_angle", Shape: List, Kind: quantity.Angle, Doc: "encoder angles, crank turned in the running direction"},
			Input{Name: "reading", Shape: List, Kind: quantity.Length, Doc: "indicator on the piston at each, along the bore"},
			Input{Name: "sense", Kind: quantity.Number, Optional: true, Doc: "1 where the display grows as the piston falls, -1 where it shrinks; found from the readings where not given"},
			Input{Name: "reverse_crank_angle", Shape: List, Kind: quantity.Angle, Optional: true, Doc: "encoder angles, crank turned backwards"},
			Input{Name: "reverse_reading", Shape: List, Kind: quantity.Length, Optional: true, Doc: "indicator at each of those"},
		),
		Figures: []Figure{
			{Name: "tdc", Kind: quantity.Angle, Doc: "encoder angle at top dead centre, running direction"},
			{Name: "u_tdc", Kind: quantity.Angle, Scatter: true, Doc: "standard uncertainty of it from the scatter of the readings"},
			{Name: "rms", Kind: quantity.Length, Scatter: true, Doc: "scatter of the readings about the fit"},
			{Name: "reading_at_tdc", Kind: quantity.Length, Doc: "what the indicator shows at top dead centre"},
			{Name: "tdc_reverse", Kind: quantity.Angle, Doc: "encoder angle at top dead centre, turned backwards"},
			{Name: "backlash", Kind: quantity.Angle, Doc: "tdc_reverse less tdc: lost motion between wheel and piston, + = the wheel trails"},
		},
		Formula: "least squares of reading = c0 ± drop(φ − φT) in c0 and φT; drop of the slider-crank",
		Source:  "plane geometry of the slider-crank; least squares",
		Cautions: []string{
			"Plugs out, gearbox in neutral, ignition off; turn by hand from the crank nut only.",
			"Come to every reading in one direction; take the indicator out before the engine is turned over.",
			"The indicator must stand along the bore: through an inclined plug hole it needs its cosine.",
		},
		Compute: computeTDCFit,
	}
}

func computeTDCFit(in Args, out *Out) error {
	c, err := crankOf(in)
	if err != nil {
		return err
	}
	angles := in.List("crank_angle")
	f, err := fitDirection(in, out, c, "crank_angle", "reading", in.Num("sense"))
	if err != nil {
		return err
	}
	form := signedForm(append(angles, in.List("reverse_crank_angle")...)...)
	out.Set("tdc", form(f.tdc))
	out.Set("rms", f.rms)
	out.Set("reading_at_tdc", f.c0)
	out.Set("u_tdc", f.u)
	f.warn(out)
	f.declare(out, "crank_angle", "reading", "tdc", "reading_at_tdc", "backlash")
	if !in.Has("reverse_crank_angle") && !in.Has("reverse_reading") {
		return nil
	}
	r, err := fitDirection(in, out, c, "reverse_crank_angle", "reverse_reading", f.sense)
	if err != nil {
		return err
	}
	out.Set("tdc_reverse", form(r.tdc))
	backlash := signed(r.tdc-f.tdc, 360)
	out.Set("backlash", backlash)
	if margin := coverage95 * math.Hypot(f.u, r.u); backlash < -margin {
		out.Warn("backlash: %.2f° says that the wheel runs ahead of the crank: are the two lists exchanged, or does the wheel count against the running direction?", backlash)
	}
	r.declare(out, "reverse_crank_angle", "reverse_reading", "tdc_reverse", "backlash")
	return nil
}

// declare lets the residuals be held against what was stated.
func (f dropFit) declare(out *Out, angles, readings string, figures ...string) {
	out.Fit(Fit{Figures: figures, Residuals: f.residuals, Unknowns: 2, Readings: []Measured{{Input: readings}}, Against: []Measured{{Input: angles, Slope: f.slopes}}})
}

func fitDirection(in Args, out *Out, c sliderCrank, anglesName, readingsName string, sense float64) (dropFit, error) {
	p := dropPoints{c, in.List(anglesName), in.List(readingsName), in.Spread(anglesName), in.Spread(readingsName)}
	if len(p.phi) != len(p.r) {
		return dropFit{}, Refuse(readingsName, "give one reading for each angle", "%d readings for %d angles", len(p.r), len(p.phi))
	}
	if sense != 0 && sense != 1 && sense != -1 {
		return dropFit{}, Refuse("sense", "give 1 where the display grows as the piston falls, -1 where it shrinks", "%g is neither", sense)
	}
	if n := distinctAngles(p.phi); n < 3 {
		return dropFit{}, Refuse(anglesName, "read the piston at three angles at least, better ten, on both sides of the top", "%d different angles", n)
	}
	best, other, fits := out.dropsOf(anglesName).both(p)
	if !fits {
		return best, Refuse(readingsName, "check stroke, rod and the unit of the readings, and read on both sides of the top", "the readings do not follow the piston of this crank")
	}
	if sense != 0 && best.sense != sense && best.rms < other.rms/3 {
		return best, Refuse("sense", "turn the sign of sense, or read again", "given as %g, but the readings say %g", sense, best.sense)
	}
	if sense != 0 && best.sense != sense {
		best = other
	}
	return best, best.check(anglesName, p.phi, p.r)
}

// check refuses what the readings do not determine.
func (f *dropFit) check(name string, phi, r []float64) error {
	before, after := 0.0, 0.0
	f.nearest = 360
	for _, p := range phi {
		x := signed(p-f.tdc, 360)
		before, after = math.Max(before, -x), math.Max(after, x)
		f.nearest = math.Min(f.nearest, math.Abs(x))
	}
	f.farthest = math.Max(before, after)
	if math.Min(before, after) < 5 {
		return Refuse(name, "read between 15° and 45° on both sides of the top", "the readings reach from %.1f° before the top to %.1f° after it", before, after)
	}
	if span := slices.Max(r) - slices.Min(r); f.rms > span/10 {
		return Refuse("reading", "check stroke, rod and the unit of the readings, and that the indicator stood on the piston all the time", "the readings scatter by %.3f mm about the piston's movement, of %.3f mm in all", f.rms, span)
	}
	return nil
}

func (f dropFit) warn(out *Out) {
	if f.farthest > 60 {
		out.Warn("readings up to %.0f° from the top: an error of stroke or rod counts there, 15° to 45° is best", f.farthest)
	}
	if f.farthest < 12 {
		out.Warn("all readings are within %.0f° of the top, where the piston hardly moves: read between 15° and 45°", f.farthest)
	}
}
