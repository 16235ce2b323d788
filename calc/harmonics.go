package calc

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// harmonics is a least-squares fit  y = mean + Σ (cos[k]·cos(order[k]·φ) + sin[k]·sin(order[k]·φ)).
type harmonics struct {
	order    []float64
	mean     float64
	cos, sin []float64
	rms      float64 // of the residuals, over all points
	worst    float64 // largest residual downwards (y below the fit), ≥ 0
	cond     float64 // condition number of the fit
}

var errUndetermined = errors.New("the angles do not determine the fit")

// fitHarmonics fits by QR. Angles in degrees, not wrapped (an order need not be whole). It fails with errUndetermined
// where there are fewer points than unknowns or the angles tell two terms apart too badly (condition over 20: an error of
// reading could come out twenty times as large).
func fitHarmonics(angle, y []float64, order ...float64) (harmonics, error) {
	n, m := len(y), 1+2*len(order)
	if n < m {
		return harmonics{}, errUndetermined
	}
	design := mat.NewDense(n, m, nil)
	for i, a := range angle {
		design.Set(i, 0, 1)
		for k, o := range order {
			s, c := math.Sincos(a * o * math.Pi / 180)
			design.Set(i, 1+2*k, c)
			design.Set(i, 2+2*k, s)
		}
	}
	var qr mat.QR
	qr.Factorize(design)
	h := harmonics{order: order, cond: qr.Cond()}
	if !(h.cond < 20) {
		return h, errUndetermined
	}
	var x mat.VecDense
	if err := qr.SolveVecTo(&x, false, mat.NewVecDense(n, y)); err != nil {
		return h, errUndetermined
	}
	h.mean = x.AtVec(0)
	for k := range order {
		h.cos = append(h.cos, x.AtVec(1+2*k))
		h.sin = append(h.sin, x.AtVec(2+2*k))
	}
	sum := 0.0
	for i, a := range angle {
		r := y[i] - h.at(a)
		sum += r * r
		h.worst = math.Max(h.worst, -r)
	}
	h.rms = math.Sqrt(sum / float64(n))
	return h, nil
}

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

// peak is the angle, in [0, 360/order), at which the k-th term is greatest.
func (h harmonics) peak(k int) float64 {
	return wrap(math.Atan2(h.sin[k], h.cos[k])*180/math.Pi/h.order[k], 360/h.order[k])
}

// nearest gives the angle that is x on a circle of the given period and lies within half a turn of ref.
func nearest(x, ref, period float64) float64 { return x - period*math.Round((x-ref)/period) }
