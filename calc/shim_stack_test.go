package calc

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestShimStackInch(t *testing.T) {
	// Computed independently by exhaustive search: no three shims make 0.051, this is the first of the fours.
	out := figuresOf(t, "shim-stack", given{
		"gap": mils(63)[0], "wanted": mils(12)[0], "shims": mils(2, 2, 3, 3, 5, 5, 8, 10, 10, 15, 20, 20),
	})
	if diff := cmp.Diff(mils(20, 20, 8, 3), out.lists["stack"]); diff != "" {
		t.Error(diff)
	}
	figureNear(t, out, "stack_wanted", 51*0.0254, 1e-12)
	figureNear(t, out, "error", 0, 1e-12)
	figureNear(t, out, "count", 4, 0)
	figureNear(t, out, "resulting", 12*0.0254, 1e-12)
}

func TestShimStackMetric(t *testing.T) {
	// Computed independently by exhaustive search.
	in := given{"gap": 1.370, "wanted": 0.250, "shims": []float64{0.1, 0.1, 0.15, 0.2, 0.2, 0.25, 0.3, 0.5, 0.5}}
	out := figuresOf(t, "shim-stack", in)
	if diff := cmp.Diff([]float64{0.5, 0.5, 0.1}, out.lists["stack"]); diff != "" {
		t.Error(diff)
	}
	figureNear(t, out, "resulting", 0.270, 1e-12)
	figureNear(t, out, "error", -0.020, 1e-12)
	// A float of at most 0.260 leaves only thicker stacks: 1.150 is nearest.
	figureNear(t, figuresOf(t, "shim-stack", in.with("float_max", 0.260)), "resulting", 0.220, 1e-12)
	// Two shims reach 1.000 at best.
	figureNear(t, figuresOf(t, "shim-stack", in.with("max_shims", 2)), "sum", 1.0, 1e-12)
}

// The crank end float of a bench job: 0.0365 found, 0.008 wanted; computed by hand.
func TestEndFloat(t *testing.T) {
	in := given{"push": 0.0, "pull": 36.5 * 0.0254, "wanted": 8 * 0.0254, "shims": mils(3, 5, 10, 20)}
	out := figuresOf(t, "end-float", in)
	figureNear(t, out, "end_float", 36.5*0.0254, 1e-12)
	figureNear(t, out, "stack_wanted", 28.5*0.0254, 1e-12)
	if diff := cmp.Diff(mils(20, 5, 3), out.lists["stack"]); diff != "" {
		t.Error(diff)
	}
	figureNear(t, out, "resulting", 8.5*0.0254, 1e-12)
	// The sense of the display does not matter.
	figureNear(t, figuresOf(t, "end-float", given{"push": 0.25, "pull": 0.05}), "end_float", 0.20, 1e-12)
	out = figuresOf(t, "end-float", given{"push": 0.1, "pull": 0.0, "wanted": 0.15})
	if a := out.adjustments[0]; a.Direction != "remove" || math.Abs(a.Amount+0.05) > 1e-12 {
		t.Errorf("too little float: %+v, want 0.05 removed", a)
	}
	refused(t, "end-float", given{"push": 0.1, "pull": 0.0, "shims": []float64{0.1}}, "wanted")
}

func TestShimTies(t *testing.T) {
	for _, c := range []struct {
		name        string
		gap, wanted float64
		shims, want []float64
	}{
		{"equally near: more float", 0.50, 0.05, []float64{0.5, 0.4}, []float64{0.4}},
		{"one sum: fewest pieces", 0.50, 0, []float64{0.25, 0.25, 0.5}, []float64{0.5}},
		{"one sum, two pieces each: thickest first", 0.50, 0, []float64{0.25, 0.25, 0.3, 0.2, 0.1, 0.4}, []float64{0.4, 0.1}},
		{"half a tenth of a micrometre is no tie", 0.50, 0.04999, []float64{0.5, 0.4}, []float64{0.5}},
		{"nothing is nearer than the thinnest", 0.10, 0.09, []float64{0.05}, nil},
	} {
		out := figuresOf(t, "shim-stack", given{"gap": c.gap, "wanted": c.wanted, "shims": c.shims})
		if diff := cmp.Diff(c.want, out.lists["stack"], cmp.Transformer("nil", func(x []float64) []float64 { return append([]float64{}, x...) })); diff != "" && len(c.want)+len(out.lists["stack"]) > 0 {
			t.Errorf("%s: %s", c.name, diff)
		}
	}
	// In tenths of a thou the tie is exact only where nothing was rounded: 0.06325 − 0.0025 against 0.0605 and 0.0610.
	out := figuresOf(t, "shim-stack", given{"gap": 0.06325 * 25.4, "wanted": 0.0025 * 25.4, "shims": mils(60.5, 61)})
	if diff := cmp.Diff(mils(60.5), out.lists["stack"]); diff != "" {
		t.Error(diff)
	}
}

// bruteStack looks at every subset. Lengths are counts.
func bruteStack(pieces []int64, want, least, most int64, limit int, thick bool) (best []int64, ok bool) {
	sum := func(xs []int64) (s int64) {
		for _, x := range xs {
			s += x
		}
		return s
	}
	for mask := range 1 << len(pieces) {
		var set []int64
		for i, p := range pieces {
			if mask>>i&1 == 1 {
				set = append(set, p)
			}
		}
		s := sum(set)
		if len(set) > limit || s < least || s > most {
			continue
		}
		slices.SortFunc(set, func(a, b int64) int { return int(b - a) })
		if !ok {
			best, ok = set, true
			continue
		}
		b := sum(best)
		less := func() bool {
			ds, db := s-want, b-want
			if max(ds, -ds) != max(db, -db) {
				return max(ds, -ds) < max(db, -db)
			}
			if s != b {
				return (s > b) == thick
			}
			if len(set) != len(best) {
				return len(set) < len(best)
			}
			return slices.Compare(set, best) > 0
		}
		if less() {
			best = set
		}
	}
	return best, ok
}

func TestStackAgainstExhaustiveSearch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]int64{127_000, 254_000, 100_000, 10_000, 1_000}).Draw(t, "unit")
		n := rapid.SliceOfN(rapid.Int64Range(1, 40), 1, 10).Draw(t, "pieces")
		pieces := make([]int64, len(n))
		for i := range n {
			pieces[i] = n[i] * unit
		}
		want := rapid.Int64Range(-20, 400).Draw(t, "want") * unit / 2
		least, most := int64(0), int64(math.MaxInt64)
		if rapid.Bool().Draw(t, "limited") {
			least = want - rapid.Int64Range(0, 20).Draw(t, "below")*unit/2
			most = want + rapid.Int64Range(0, 20).Draw(t, "above")*unit/2
		}
		limit := rapid.IntRange(1, len(pieces)).Draw(t, "max")
		thick := rapid.Bool().Draw(t, "thick")
		got, ok, err := stackAsk{pieces: pieces, want: want, least: least, most: most, max: limit, thick: thick}.best()
		if err != nil {
			t.Fatal(err)
		}
		wantSet, wantOK := bruteStack(pieces, want, least, most, limit, thick)
		if ok != wantOK {
			t.Fatalf("found %v, exhaustive search %v", ok, wantOK)
		}
		var gotSet []int64
		for _, i := range got.index {
			gotSet = append(gotSet, pieces[i])
		}
		if !slices.Equal(gotSet, wantSet) {
			t.Fatalf("got %v, exhaustive search %v", gotSet, wantSet)
		}
	})
}

// Fitting the shims that are named leaves the float that is named.
func TestShimStackReachesFloat(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shims := rapid.SliceOfN(rapid.Float64Range(0.05, 1), 1, 12).Draw(t, "shims")
		gap := rapid.Float64Range(0.1, 5).Draw(t, "gap")
		out, err := outOf("shim-stack", given{"gap": gap, "wanted": 0.1, "shims": shims})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range out.adjustments[0].Pieces {
			gap -= p
		}
		if math.Abs(gap-out.nums["resulting"]) > 1e-12 {
			t.Fatalf("float %g, promised %g", gap, out.nums["resulting"])
		}
	})
}

// While the gap is varied to find a sensitivity the stack stays the one chosen at the gap as read: the uncertainty of the
// float is the uncertainty of the gap, also where another stack is nearly as good.
func TestShimStackUncertaintyIsThatOfTheGap(t *testing.T) {
	in := given{"gap": Num{X: 0.5, Us: []Component{{Name: "reading", U: 0.004}}}, "wanted": 0.0501, "shims": []float64{0.4, 0.5}}
	res, err := Run(Request{Method: "shim-stack", Inputs: in.vals()})
	if err != nil {
		t.Fatal(err)
	}
	f, _ := res.Figure("resulting")
	if math.Abs(*f.Value-0.1) > 1e-12 || math.Abs(f.U-0.004*f.K) > 1e-9 {
		t.Errorf("resulting %g, U %g, k %g; want 0.1 with u 0.004", *f.Value, f.U, f.K)
	}
}

func TestShimStackRefuses(t *testing.T) {
	in := given{"gap": 1.0, "wanted": 0.2, "shims": []float64{0.3, 0.4}}
	refused(t, "shim-stack", in.with("shims", []float64{}), "shims")
	refused(t, "shim-stack", in.with("shims", every(1, 62)[1:]), "shims")
	refused(t, "shim-stack", in.with("shims", []float64{1e-9}), "shims")
	refused(t, "shim-stack", in.with("wanted", -0.1), "wanted")
	refused(t, "shim-stack", in.with("max_shims", 1.5), "max_shims")
	refused(t, "shim-stack", in.with("float_min", 0.25), "float_min")
	refused(t, "shim-stack", in.with("float_max", 0.15), "float_max")
	refused(t, "shim-stack", in.with("float_max", 0.25), "shims")
	refused(t, "shim-stack", given{"gap": 1e6, "wanted": 0.2, "shims": []float64{1e5 + 0.0000001, 3e5}}, "gap")
	if out := figuresOf(t, "shim-stack", in.with("gap", 0.1)); len(out.warnings) == 0 || len(out.lists["stack"]) != 0 {
		t.Errorf("less float than wanted: %v %v, want no shims and a warning", out.lists["stack"], out.warnings)
	}
}

func BenchmarkShimStack30(b *testing.B) {
	box := mils(1.5, 2, 2, 3, 3, 5, 5, 8, 10, 10, 12, 15, 15, 20, 20)
	box = append(box, 0.03, 0.05, 0.05, 0.1, 0.1, 0.15, 0.2, 0.2, 0.25, 0.3, 0.3, 0.4, 0.5, 0.5, 0.8)
	for _, c := range []struct {
		name string
		box  []float64
	}{{"thou", append(box[:15:15], box[:15]...)}, {"mixed", box}, {"no-common-measure", wobble(box)}} {
		b.Run(c.name, func(b *testing.B) {
			in := given{"gap": 3.271, "wanted": 0.2, "shims": c.box}
			b.ReportAllocs()
			for b.Loop() {
				if _, err := outOf("shim-stack", in); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// wobble makes every shim an odd number of tenths of a nanometre.
func wobble(box []float64) []float64 {
	out := slices.Clone(box)
	for i := range out {
		out[i] += float64(2*i+1) * 1e-7
	}
	return out
}

// The whole of Run, as a step on the bench does it: two readings with their uncertainty, limits and words.
func BenchmarkEndFloatRun30(b *testing.B) {
	box := append(mils(1.5, 2, 2, 3, 3, 5, 5, 8, 10, 10, 12, 15, 15, 20, 20), 0.03, 0.05, 0.05, 0.1, 0.1, 0.15, 0.2, 0.2, 0.25, 0.3, 0.3, 0.4, 0.5, 0.5, 0.8)
	us := []Component{{Name: "resolution", U: 0.0037}, {Name: "repeatability", U: 0.002, Dof: 2}}
	req := Request{Method: "end-float", Inputs: given{"push": Num{X: 0, Us: us}, "pull": Num{X: 2.731, Us: us}, "wanted": 0.2, "shims": box}.vals()}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Run(req); err != nil {
			b.Fatal(err)
		}
	}
}
