package calc

import (
	"math"
	"slices"
)

// dropPoints are the readings of one turning direction, with what a fit weighs them by.
type dropPoints struct {
	crank    sliderCrank
	phi, r   []float64
	uPhi, uR []float64
}

// same reports whether a fit of either gives the same bits.
func (p dropPoints) same(q dropPoints) bool {
	return p.crank == q.crank && sameBits(p.phi, q.phi) && sameBits(p.r, q.r) && sameBits(p.uPhi, q.uPhi) && sameBits(p.uR, q.uR)
}

func sameBits(a, b []float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return math.Float64bits(x) == math.Float64bits(y) })
}

// dropFit is one fit of the model.
type dropFit struct {
	tdc, c0, sense, rms, u float64
	nearest, farthest      float64 // of the readings from the top, degrees
	residuals, slopes      []float64
}

// dropFitter fits the readings of one turning direction, once in every computation of a Run. It keeps what it was asked
// last: a computation that moves a reading of the other direction asks for the same fit again, and one that moves a reading
// of this direction leaves its angles. What it gives is the same to the last bit as without.
type dropFitter struct {
	known bool
	asked dropPoints
	best  dropFit
	other dropFit
	fits  bool

	angles []float64 // that basis is for
	basis  *harmonicBasis
	w      []float64
	solver twoUnknowns
}

// both fits with either sense and gives the better one first; false where neither fits.
func (d *dropFitter) both(p dropPoints) (best, other dropFit, fits bool) {
	if d.known && d.asked.same(p) {
		return d.best, d.other, d.fits
	}
	start, known := d.start(p)
	best, other = dropFit{rms: math.Inf(1)}, dropFit{rms: math.Inf(1)}
	for _, sense := range []float64{1, -1} {
		at := start
		if known && sense > 0 {
			at += 180
		}
		f, ok := d.fit(p, sense, at)
		if !ok {
			continue
		}
		fits = true
		if f.rms < best.rms {
			best, other = f, best
		} else {
			other = f
		}
	}
	d.known, d.asked, d.best, d.other, d.fits = true, p, best, other, fits
	return best, other, fits
}

// start is where the readings are highest by their first harmonic, which the piston's movement nearly is. Too narrow a range
// for three unknowns is not known so: the middle of the readings is near enough for either sense.
func (d *dropFitter) start(p dropPoints) (at float64, known bool) {
	if d.angles == nil || !sameBits(d.angles, p.phi) {
		d.angles = nil
		d.basis, _ = newHarmonicBasis(p.phi, 1)
		d.angles = p.phi
	}
	if d.basis == nil {
		return circularMean(p.phi), false
	}
	return d.basis.fit(p.r).peak(0), true
}

// fit is Gauss–Newton from a start, weights and all anew in every step.
func (d *dropFitter) fit(p dropPoints, sense, start float64) (dropFit, bool) {
	n := len(p.phi)
	kept := make([]float64, 2*n)
	f := dropFit{sense: sense, tdc: start, residuals: kept[:n:n], slopes: kept[n:]}
	d.solver.rows(n)
	if len(d.w) != n {
		d.w = make([]float64, n)
	}
	for range 50 {
		for i, phi := range p.phi {
			drop, slope := p.crank.dropAndSlope(phi - f.tdc)
			f.residuals[i] = p.r[i] - sense*drop
			f.slopes[i] = slope
		}
		weigh(d.w, p.uR, p.uPhi, f.slopes)
		f.c0 = weightedMean(f.residuals, d.w)
		for i, w := range d.w {
			f.residuals[i] -= f.c0
			root := math.Sqrt(w)
			d.solver.set(i, root, -sense*f.slopes[i]*root, f.residuals[i]*root)
		}
		more, step, ok := d.solver.solve()
		if !ok {
			return f, false
		}
		f.c0 += more
		f.tdc += max(-30, min(30, step))
		if math.Abs(step) < 1e-10 {
			f.spread(d.w)
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
