package calc_test

import (
	"math/rand/v2"
	"testing"

	"thoud/calc"
)

// JCGM 100:2008, H.5, table H.9: ten days of five observations, the standard deviation of each day in µV; taken together
// s_b = 85 µV with 40 degrees of freedom.
func TestPooledScatterOfTenDays(t *testing.T) {
	var days []calc.Scatter
	for _, s := range []float64{60, 77, 111, 101, 67, 93, 80, 73, 88, 86} {
		days = append(days, calc.Scatter{S: s, Dof: 4})
	}
	got, ok := calc.Pool(days)
	if !ok || got.Dof != 40 {
		t.Fatalf("%+v, %v", got, ok)
	}
	nearTo(t, "s_b", got.S, 85, 0.5)
}

// NIST/SEMATECH e-Handbook, 1.3.6.7.4: χ²(0.975, 10) = 20.483, χ²(0.025, 10) = 3.247. And 1.3.6.7.3: F(0.95; 2, 10) = 4.103.
func TestWhereTheTrueScatterLies(t *testing.T) {
	x := calc.Scatter{S: 1, Dof: 10}
	least, most := x.Between(0.95)
	nearTo(t, "least", least*least, 10/20.483, 0.0001)
	nearTo(t, "most", most*most, 10/3.247, 0.001)
	if x.Beyond(calc.Scatter{S: 2.025, Dof: 2}, 0.95) || !x.Beyond(calc.Scatter{S: 2.026, Dof: 2}, 0.95) {
		t.Error("4.103 is not where chance ends") // √4.103 = 2.0256
	}
}

func TestNothingToPool(t *testing.T) {
	if _, ok := calc.Pool([]calc.Scatter{{S: 1}}); ok {
		t.Error("pooled without a degree of freedom")
	}
	if _, ok := calc.ScatterOf([]float64{1}); ok {
		t.Error("one value scatters")
	}
	if got, ok := calc.Pool([]calc.Scatter{{S: 1}, {S: 2, Dof: 3}}); !ok || got.S != 2 || got.Dof != 3 {
		t.Errorf("%+v", got)
	}
	if (calc.Scatter{}).Beyond(calc.Scatter{S: 1, Dof: 2}, 0.99) {
		t.Error("beyond nothing")
	}
}

// The true scatter lies within what is told in 95 % of the workshops.
func TestPooledScatterIsTrueNineteenTimesOfTwenty(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	hit := 0
	const all = 4000
	for range all {
		var samples []calc.Scatter
		for range 6 {
			mean := rng.Float64()
			x, _ := calc.ScatterOf([]float64{mean + 0.001*rng.NormFloat64(), mean + 0.001*rng.NormFloat64(), mean + 0.001*rng.NormFloat64()})
			samples = append(samples, x)
		}
		p, _ := calc.Pool(samples)
		if least, most := p.Between(0.95); least <= 0.001 && 0.001 <= most {
			hit++
		}
	}
	if share := float64(hit) / all; share < 0.94 || share > 0.96 {
		t.Errorf("%d of %d: %.3f", hit, all, share)
	}
}
