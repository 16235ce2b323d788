package calc

import (
	"math"
	"testing"
)

// The slopes that a method gives are those of its computation: held against central differences of it, on the same sweeps
// with fewer samples. The step is small, so that curvature does not count; the rest is rounding.
func TestSlopesAreThoseOfTheComputation(t *testing.T) {
	for name, req := range longRequests() {
		t.Run(name, func(t *testing.T) {
			m, _ := Find(name)
			m = m.of(req.anyKind())
			work := cloneVals(thinned(req.Inputs, 24))
			base, err := computeInto(&Out{method: &m, nums: map[string]float64{}, wantSlopes: true}, work)
			if err != nil {
				t.Fatal(err)
			}
			if len(base.slopes)+len(base.touched) == 0 {
				t.Fatal("this method gives none, so its sweeps cost a thousand computations")
			}
			pr := &propagator{m: &m, work: work, base: base, slots: slotsOf(&m, base)}
			pr.f0 = pr.flatten(base)
			pr.findMembers()
			for _, s := range collectSources(m.Inputs, work) {
				n := s.nums[0]
				column, known := pr.slopeOf(n)
				if len(s.nums) > 1 || !known && !pr.idle[n] {
					continue
				}
				step := 1e-6 * math.Max(1, math.Abs(n.X)) // of mm or degrees
				x := n.X
				n.X = x + step
				plus, _ := pr.eval()
				n.X = x - step
				minus, _ := pr.eval()
				n.X = x
				for j, sl := range pr.slots {
					want := 0.0
					if known {
						want = column(j)
					}
					got := pr.diff(j, plus[j], minus[j]) / (2 * step)
					// Two readings that are both extremes share it; the difference sees half.
					if tol := 2e-4*math.Max(math.Abs(want), math.Abs(got)) + 3e-9*math.Max(1, math.Abs(pr.f0[j]))/step*1e-3 + 1e-6; math.Abs(got-want) > tol {
						t.Errorf("%s: %s[%d] moves by %g, the method says %g", s.name, m.Figures[sl.figure].Name, sl.at, got, want)
					}
				}
			}
		})
	}
}

// thinned keeps every n-th member of the long lists.
func thinned(vals map[string]Val, n int) map[string]Val {
	out := map[string]Val{}
	for name, v := range vals {
		if len(v.List) > 100 {
			var few []Num
			for i := 0; i < len(v.List); i += n {
				few = append(few, v.List[i])
			}
			v.List = few
		}
		out[name] = v
	}
	return out
}
