package calc

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestShimBothSides(t *testing.T) {
	// By hand: 0.040 and 0.060 in with 0.010 wanted are 0.035 and 0.055 of shims.
	in := given{"gap_left": mils(40)[0], "gap_right": mils(60)[0], "wanted": mils(10)[0], "shims": mils(5, 5, 10, 15, 20, 20, 30)}
	out := figuresOf(t, "shim-both-sides", in)
	figureNear(t, out, "float", 10*0.0254, 1e-12)
	figureNear(t, out, "offset", 0, 1e-12)
	figureNear(t, out, "cost", 0, 1e-12)
	figureNear(t, out, "count", 5, 0)
	sum := func(xs []float64) (s float64) {
		for _, x := range xs {
			s += x
		}
		return s
	}
	if l, r := sum(out.lists["left"]), sum(out.lists["right"]); math.Abs(l-35*0.0254) > 1e-9 || math.Abs(r-55*0.0254) > 1e-9 {
		t.Errorf("left %v right %v", out.lists["left"], out.lists["right"])
	}
	// One shim of 0.030 alone: by hand, on the right the middle is 0.005 off, on the left 0.025.
	out = figuresOf(t, "shim-both-sides", in.with("shims", mils(30)))
	if diff := cmp.Diff(mils(30), out.lists["right"]); diff != "" {
		t.Error(diff)
	}
	figureNear(t, out, "float", 70*0.0254, 1e-12)
	figureNear(t, out, "offset", 5*0.0254, 1e-12)
}

// Moving x of shim from one side to the other moves the middle by x and leaves the float; which way as the sign says.
func TestOffsetIsCorrectedByMovingShim(t *testing.T) {
	float := func(gl, gr, l, r float64) (float64, float64) { return gl + gr - l - r, ((gl - l) - (gr - r)) / 2 }
	f0, x := float(1.0, 1.4, 0.2, 1.0)
	f1, y := float(1.0, 1.4, 0.2+x, 1.0-x) // + = too much room on the left: shim goes to the left
	if x <= 0 || math.Abs(f1-f0) > 1e-12 || math.Abs(y) > 1e-12 {
		t.Fatalf("offset %g became %g, float %g became %g", x, y, f0, f1)
	}
	// The method's own signs: the figures of a stack that is fitted as it says.
	out := figuresOf(t, "shim-both-sides", given{"gap_left": 1.0, "gap_right": 1.4, "wanted": 0.3, "shims": []float64{0.6, 0.9}})
	l, r := 0.0, 0.0
	for _, s := range out.adjustments[0].Pieces {
		l += s
	}
	for _, s := range out.adjustments[1].Pieces {
		r += s
	}
	f, o := float(1.0, 1.4, l, r)
	figureNear(t, out, "float", f, 1e-12)
	figureNear(t, out, "offset", o, 1e-12)
}

// The search over pairs of sums finds what looking at every sharing finds.
func TestSidesAgainstEverySharing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]int64{127_000, 100_000}).Draw(t, "unit")
		a := sidesAsk{
			left:  rapid.Int64Range(0, 60).Draw(t, "left") * unit / 2,
			right: rapid.Int64Range(0, 60).Draw(t, "right") * unit / 2,
			want:  rapid.Int64Range(0, 20).Draw(t, "want") * unit / 2,
		}
		a.least = min(a.want, rapid.Int64Range(0, 20).Draw(t, "least")*unit/2, a.left+a.right)
		for _, n := range rapid.SliceOfN(rapid.Int64Range(1, 25), 1, 7).Draw(t, "pieces") {
			a.pieces = append(a.pieces, n*unit)
		}
		got, err := a.best()
		if err != nil {
			t.Fatal(err)
		}
		count := func(side []int) (s sharing) {
			for i, where := range side {
				switch where {
				case onLeft:
					s.l, s.n = s.l+a.pieces[i], s.n+1
				case onRight:
					s.r, s.n = s.r+a.pieces[i], s.n+1
				}
			}
			return s
		}
		g, w := count(got), count(a.overAll())
		if a.better(w, g) || a.better(g, w) || !a.allowed(g) {
			t.Fatalf("got %+v cost %d, every sharing %+v cost %d", g, a.cost(g), w, a.cost(w))
		}
	})
}

func TestShimBothSidesRefuses(t *testing.T) {
	in := given{"gap_left": 1.0, "gap_right": 1.2, "wanted": 0.2, "shims": []float64{0.5, 0.5}}
	refused(t, "shim-both-sides", in.with("gap_left", -1.0), "gap_left")
	refused(t, "shim-both-sides", in.with("least", 0.3), "least")
	refused(t, "shim-both-sides", in.with("shims", every(1, 62)[1:]), "shims")
	refused(t, "shim-both-sides", in.with("shims", []float64{1e-9}), "shims")
	refused(t, "shim-both-sides", in.with("shims", []float64{}), "shims")
	refused(t, "shim-both-sides", given{"gap_left": 0.05, "gap_right": 0.05, "wanted": 0.2, "least": 0.2, "shims": []float64{0.5}}, "gap_left")
	odd := make([]float64, 13)
	for i := range odd {
		odd[i] = 0.1 + float64(i)*0.0371113
	}
	refused(t, "shim-both-sides", in.with("shims", odd), "shims")
	figuresOf(t, "shim-both-sides", in.with("shims", odd[:12]))
}

func BenchmarkShimBothSides30(b *testing.B) {
	box := mils(2, 2, 3, 3, 5, 5, 8, 10, 10, 12, 15, 15, 20, 20, 30)
	in := given{"gap_left": mils(40)[0], "gap_right": mils(60)[0], "wanted": mils(10)[0], "shims": append(box, box...)}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := outOf("shim-both-sides", in); err != nil {
			b.Fatal(err)
		}
	}
}
