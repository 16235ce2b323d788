package calc

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

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
	f, err := fitDirection(in, c, "crank_angle", "reading", in.Num("sense"))
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
	r, err := fitDirection(in, c, "reverse_crank_angle", "reverse_reading", f.sense)
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

// dropFit is one fit of the model.
type dropFit struct {
	tdc, c0, sense, rms, u float64
	nearest, farthest      float64 // of the readings from the top, degrees
	residuals, slopes      []float64
}

// declare lets the residuals be held against what was stated.
func (f dropFit) declare(out *Out, angles, readings string, figures ...string) {
	out.Fit(Fit{Figures: figures, Residuals: f.residuals, Unknowns: 2, Readings: []Measured{{Input: readings}}, Against: []Measured{{Input: angles, Slope: f.slopes}}})
}

func fitDirection(in Args, c sliderCrank, anglesName, readingsName string, sense float64) (dropFit, error) {
	phi, r := in.List(anglesName), in.List(readingsName)
	if len(phi) != len(r) {
		return dropFit{}, Refuse(readingsName, "give one reading for each angle", "%d readings for %d angles", len(r), len(phi))
	}
	if sense != 0 && sense != 1 && sense != -1 {
		return dropFit{}, Refuse("sense", "give 1 where the display grows as the piston falls, -1 where it shrinks", "%g is neither", sense)
	}
	if n := distinctAngles(phi); n < 3 {
		return dropFit{}, Refuse(anglesName, "read the piston at three angles at least, better ten, on both sides of the top", "%d different angles", n)
	}
	best, other, ok := dropFit{rms: math.Inf(1)}, dropFit{rms: math.Inf(1)}, false
	for _, s := range []float64{1, -1} {
		f, fits := fitDrop(c, phi, r, s, in.Spread(anglesName), in.Spread(readingsName))
		if !fits {
			continue
		}
		ok = true
		if f.rms < best.rms {
			best, other = f, best
		} else {
			other = f
		}
	}
	if !ok {
		return best, Refuse(readingsName, "check stroke, rod and the unit of the readings, and read on both sides of the top", "the readings do not follow the piston of this crank")
	}
	if sense != 0 && best.sense != sense && best.rms < other.rms/3 {
		return best, Refuse("sense", "turn the sign of sense, or read again", "given as %g, but the readings say %g", sense, best.sense)
	}
	if sense != 0 && best.sense != sense {
		best = other
	}
	return best, best.check(anglesName, phi, r)
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

// fitDrop is Gauss–Newton from the first harmonic of the readings, which the piston's movement nearly is.
func fitDrop(c sliderCrank, phi, r []float64, sense float64, uPhi, uR []float64) (dropFit, bool) {
	f := dropFit{sense: sense}
	start, err := fitHarmonics(phi, r, 1)
	if err != nil {
		// Too narrow a range for three unknowns: the middle of the readings is near enough.
		f.tdc = circularMean(phi)
	} else {
		f.tdc = start.peak(0)
		if sense > 0 {
			f.tdc += 180
		}
	}
	n := len(phi)
	a, b := mat.NewDense(n, 2, nil), mat.NewVecDense(n, nil)
	f.residuals, f.slopes = make([]float64, n), make([]float64, n)
	var w []float64
	var qr mat.QR
	var x mat.VecDense
	for range 50 {
		for i, p := range phi {
			f.residuals[i] = r[i] - sense*c.drop(p-f.tdc)
			f.slopes[i] = c.slope(p - f.tdc)
		}
		w = weights(uR, uPhi, f.slopes)
		f.c0 = weightedMean(f.residuals, w)
		for i := range phi {
			f.residuals[i] -= f.c0
			root := math.Sqrt(w[i])
			a.Set(i, 0, root)
			a.Set(i, 1, -sense*f.slopes[i]*root)
			b.SetVec(i, f.residuals[i]*root)
		}
		qr.Factorize(a)
		if qr.SolveVecTo(&x, false, b) != nil {
			return f, false
		}
		step := x.AtVec(1)
		f.c0 += x.AtVec(0)
		f.tdc += math.Max(-30, math.Min(30, step))
		if math.Abs(step) < 1e-10 {
			f.spread(w)
			return f, finite(f.u)
		}
	}
	return f, false
}

func weightedMean(x, w []float64) float64 {
	sum, all := 0.0, 0.0
	for i := range x {
		sum, all = sum+w[i]*x[i], all+w[i]
	}
	return sum / all
}

// spread sets rms = √(Σ residual²/n) and u from the covariance of the fit with n − 2 degrees of freedom.
func (f *dropFit) spread(w []float64) {
	n := float64(len(w))
	mean := weightedMean(f.slopes, w)
	plain, sum, across := 0.0, 0.0, 0.0
	for i, d := range f.residuals {
		k := f.slopes[i] - mean
		plain, sum, across = plain+d*d, sum+w[i]*d*d, across+w[i]*k*k
	}
	f.rms = math.Sqrt(plain / n)
	f.u = math.Sqrt(sum / (n - 2) / across)
}
