package calc

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Scatter is the standard deviation of one small sample, with its degrees of freedom.
type Scatter struct {
	S   float64
	Dof float64
}

// ScatterOf is the sample standard deviation of some values, with n − 1 degrees of freedom; false for fewer than two.
func ScatterOf(values []float64) (Scatter, bool) {
	if len(values) < 2 {
		return Scatter{}, false
	}
	return Scatter{summarise(values).sd, float64(len(values) - 1)}, true
}

// Pool takes several small samples of the same scatter together:
//
//	s² = Σ νᵢ·sᵢ²/Σ νᵢ      ν = Σ νᵢ
//
// The means of the samples may differ, their scatter may not. false where there is no degree of freedom. JCGM 100:2008, 4.2.4,
// and H.5.2.1 for the sums.
func Pool(samples []Scatter) (Scatter, bool) {
	var out Scatter
	sum := 0.0
	for _, x := range samples {
		if x.Dof <= 0 || math.IsNaN(x.S) || x.S < 0 {
			continue
		}
		sum += x.Dof * x.S * x.S
		out.Dof += x.Dof
	}
	if out.Dof == 0 {
		return Scatter{}, false
	}
	out.S = math.Sqrt(sum / out.Dof)
	return out, true
}

// Between is where the true standard deviation lies with a confidence (0.95):
//
//	s·√(ν/χ²(1 − α/2, ν))  to  s·√(ν/χ²(α/2, ν))
//
// for normally distributed values. NIST/SEMATECH e-Handbook, 7.2.3.1 (its confidence interval).
func (x Scatter) Between(confidence float64) (least, most float64) {
	chi := distuv.ChiSquared{K: x.Dof}
	alpha := 1 - confidence
	return x.S * math.Sqrt(x.Dof/chi.Quantile(1-alpha/2)), x.S * math.Sqrt(x.Dof/chi.Quantile(alpha/2))
}

// Beyond reports whether another sample scatters more than this one does by chance: s²/s₀² above the quantile of F at a
// level (0.99). NIST/SEMATECH e-Handbook, 1.3.5.9.
func (x Scatter) Beyond(today Scatter, level float64) bool {
	if x.Dof <= 0 || today.Dof <= 0 {
		return false
	}
	if x.S == 0 {
		return today.S > 0
	}
	return today.S*today.S/(x.S*x.S) > distuv.F{D1: today.Dof, D2: x.Dof}.Quantile(level)
}
