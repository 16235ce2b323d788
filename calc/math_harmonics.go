package calc

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// harmonics is a least-squares fit  y = mean + Σ (cos[k]·cos(order[k]·φ) + sin[k]·sin(order[k]·φ)).
type harmonics struct {
	order    []float64
	mean     float64
	cos, sin []float64
	residual []float64
	rms      float64 // of the residuals, over all points
	worst    float64 // largest residual downwards (y below the fit), ≥ 0
	cond     float64 // condition number of the fit
	basis    *harmonicBasis
}

var errUndetermined = errors.New("the angles do not determine the fit")

// harmonicBasis is a fit's angles and terms, ready for any number of readings at these angles.
type harmonicBasis struct {
	order  []float64
	design [][]float64 // a row an angle: 1, cos, sin, …
	solve  [][]float64 // a row a coefficient: what to multiply the readings with
	cond   float64
}

// newHarmonicBasis prepares a fit. Angles in degrees, not wrapped (an order need not be whole). It fails with
// errUndetermined where there are fewer points than unknowns or the angles tell two terms apart too badly (condition over
// 20: an error of reading could come out twenty times as large).
func newHarmonicBasis(angle []float64, order ...float64) (*harmonicBasis, error) {
	return harmonicBasisWithin(20, angle, order...)
}

// harmonicBasisWithin is newHarmonicBasis with the worst condition that is taken, for a caller that judges by
// amplification itself.
func harmonicBasisWithin(worst float64, angle []float64, order ...float64) (*harmonicBasis, error) {
	n, m := len(angle), 1+2*len(order)
	if n < m {
		return nil, errUndetermined
	}
	b := &harmonicBasis{order: order}
	design := mat.NewDense(n, m, nil)
	for i, a := range angle {
		design.Set(i, 0, 1)
		for k, o := range order {
			s, c := math.Sincos(a * o * math.Pi / 180)
			design.Set(i, 1+2*k, c)
			design.Set(i, 2+2*k, s)
		}
		b.design = append(b.design, design.RawRowView(i))
	}
	var qr mat.QR
	qr.Factorize(design)
	if b.cond = qr.Cond(); !(b.cond < worst) {
		return nil, errUndetermined
	}
	// A fit conditioned so well (up to a few hundred) loses nothing by the normal equations, which serve any number of
	// readings at once.
	var normal mat.SymDense
	normal.SymOuterK(1, design.T())
	var chol mat.Cholesky
	var solve mat.Dense
	if !chol.Factorize(&normal) || chol.SolveTo(&solve, design.T()) != nil {
		return nil, errUndetermined
	}
	for k := range m {
		b.solve = append(b.solve, solve.RawRowView(k))
	}
	return b, nil
}

// fit fits readings, one for each angle.
func (b *harmonicBasis) fit(y []float64) harmonics {
	// About the first reading, so that small form on a large diameter keeps its digits.
	d := slices.Clone(y)
	floats.AddConst(-y[0], d)
	x := make([]float64, len(b.solve))
	for k, row := range b.solve {
		x[k] = floats.Dot(row, d)
	}
	h := harmonics{order: b.order, cond: b.cond, basis: b, residual: d, mean: y[0] + x[0]}
	for k := range b.order {
		h.cos = append(h.cos, x[1+2*k])
		h.sin = append(h.sin, x[2+2*k])
	}
	sum := 0.0
	for i, row := range b.design {
		d[i] -= floats.Dot(row, x)
		sum += d[i] * d[i]
		h.worst = math.Max(h.worst, -d[i])
	}
	h.rms = math.Sqrt(sum / float64(len(y)))
	return h
}

// amplification is how much worse the k-th term is known from these angles than from as many spread evenly over whole
// turns: √(n·λ/2), λ the larger eigenvalue of that term's block of (MᵀM)⁻¹, M the design. 1 for an even full turn. What
// counts of a sector that could not be reached is this, not how wide it is.
func (b *harmonicBasis) amplification(k int) float64 {
	c, s := b.solve[1+2*k], b.solve[2+2*k]
	cc, ss, cs := floats.Dot(c, c), floats.Dot(s, s), floats.Dot(c, s)
	larger := (cc+ss)/2 + math.Hypot((cc-ss)/2, cs)
	return math.Sqrt(float64(len(c)) * larger / 2)
}

// Bounds of amplification: over the first a result is warned of, over the second it is refused.
const (
	muchAmplified    = 1.5
	tooMuchAmplified = 3
	// singular is the condition number of a fit that is as good as undetermined.
	singular = 300
)

// at is the fitted value at an angle in degrees.
func (h harmonics) at(angle float64) float64 {
	y := h.mean
	for k, o := range h.order {
		s, c := math.Sincos(angle * o * math.Pi / 180)
		y += h.cos[k]*c + h.sin[k]*s
	}
	return y
}

// amplitude of the k-th term.
func (h harmonics) amplitude(k int) float64 { return math.Hypot(h.cos[k], h.sin[k]) }

// amplitudeU is the standard uncertainty of the k-th term's amplitude for readings of unit variance: √(vᵀCv), C = (MᵀM)⁻¹
// and v the direction of its phase.
func (h harmonics) amplitudeU(k int) float64 {
	c, s := 1.0, 0.0
	if a := h.amplitude(k); a > 0 {
		c, s = h.cos[k]/a, h.sin[k]/a
	}
	sum := 0.0
	for i, x := range h.basis.solve[1+2*k] {
		v := c*x + s*h.basis.solve[2+2*k][i]
		sum += v * v
	}
	return math.Sqrt(sum)
}

// byAngle gives how each coefficient (mean, cos, sin, …) follows each angle, per degree: C·(m′·r − m·y′) with m the row of an
// angle, r its residual, y′ the curve's slope there and C = (MᵀM)⁻¹. How they follow each reading is basis.solve.
func (h harmonics) byAngle(angle []float64) [][]float64 {
	b := h.basis
	out := make([][]float64, len(b.solve))
	inverse := make([][]float64, len(b.solve))
	for k := range b.solve {
		out[k] = make([]float64, len(angle))
		for l := range b.solve {
			inverse[k] = append(inverse[k], floats.Dot(b.solve[k], b.solve[l]))
		}
	}
	v := make([]float64, len(b.solve))
	for i, row := range b.design {
		bend := h.slope(angle[i])
		v[0] = -bend
		for k, o := range b.order {
			w := o * math.Pi / 180
			c, s := row[1+2*k], row[2+2*k]
			v[1+2*k] = -w*s*h.residual[i] - c*bend
			v[2+2*k] = w*c*h.residual[i] - s*bend
		}
		for k := range out {
			out[k][i] = floats.Dot(inverse[k], v)
		}
	}
	return out
}

// combined is Σ share·row over rows of slopes.
func combined(rows [][]float64, shares ...float64) []float64 {
	out := make([]float64, len(rows[0]))
	for k, s := range shares {
		floats.AddScaled(out, s, rows[k])
	}
	return out
}

// slopes are the derivatives at angles, per degree.
func (h harmonics) slopes(angle []float64) []float64 {
	out := make([]float64, len(angle))
	for i, a := range angle {
		out[i] = h.slope(a)
	}
	return out
}

// slope is the derivative of the fit, per degree.
func (h harmonics) slope(angle float64) float64 {
	d := 0.0
	for k, o := range h.order {
		s, c := math.Sincos(angle * o * math.Pi / 180)
		d += o * (h.sin[k]*c - h.cos[k]*s)
	}
	return d * math.Pi / 180
}

// peak is the angle, in [0, 360/order), at which the k-th term is greatest.
func (h harmonics) peak(k int) float64 {
	return wrap(math.Atan2(h.sin[k], h.cos[k])*180/math.Pi/h.order[k], 360/h.order[k])
}

// nearest gives the angle that is x on a circle of the given period and lies within half a turn of ref.
func nearest(x, ref, period float64) float64 { return x - period*math.Round((x-ref)/period) }
