package calc

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// topIn builds the inputs of a method for its Compute, in base units (mm, deg, N …), without uncertainty.
type topIn map[string]Val

func (g topIn) num(name string, x float64) topIn { return g.set(name, Val{Num: &Num{X: x}}) }
func (g topIn) text(name, s string) topIn        { return g.set(name, Val{Text: s}) }

func (g topIn) list(name string, xs ...float64) topIn {
	return g.set(name, Val{List: exactly(xs)})
}

func (g topIn) grid(name string, rows ...[]float64) topIn {
	var v Val
	for _, r := range rows {
		v.Grid = append(v.Grid, exactly(r))
	}
	return g.set(name, v)
}

func (g topIn) rec(name string, r topIn) topIn { return g.set(name, Val{Rec: r}) }

func (g topIn) recs(name string, rs ...topIn) topIn {
	var v Val
	for _, r := range rs {
		v.Recs = append(v.Recs, r)
	}
	return g.set(name, v)
}

// set gives a copy with one input more, so that cases can share a base.
func (g topIn) set(name string, v Val) topIn {
	out := topIn{name: v}
	for k, w := range g {
		if k != name {
			out[k] = w
		}
	}
	return out
}

func (g topIn) without(name string) topIn {
	out := topIn{}
	for k, w := range g {
		if k != name {
			out[k] = w
		}
	}
	return out
}

func exactly(xs []float64) []Num {
	ns := []Num{}
	for _, x := range xs {
		ns = append(ns, Num{X: x})
	}
	return ns
}

// try checks the inputs as Run does and computes, straight, so that a panic is seen as one.
func (g topIn) try(m Method) (*Out, error) {
	if err := checkVals(m.Inputs, g, ""); err != nil {
		return nil, err
	}
	out := &Out{method: &m, nums: map[string]float64{}, lists: map[string][]float64{}, grids: map[string][][]float64{}, texts: map[string][]string{}}
	err := m.Compute(Args{inputs: m.Inputs, vals: g}, out)
	return out, err
}

// bench times Compute alone: Run calls it twice for each uncertain input.
func (g topIn) bench(b *testing.B, m Method) {
	b.Helper()
	b.ReportAllocs()
	for b.Loop() {
		out := &Out{method: &m, nums: map[string]float64{}, lists: map[string][]float64{}, grids: map[string][][]float64{}, texts: map[string][]string{}}
		if err := m.Compute(Args{inputs: m.Inputs, vals: g}, out); err != nil {
			b.Fatal(err)
		}
	}
}

// topOut is what a method found, for looking at.
type topOut struct {
	t   testing.TB
	out *Out
}

func (g topIn) compute(t testing.TB, m Method) topOut {
	t.Helper()
	out, err := g.try(m)
	if err != nil {
		t.Fatalf("%s refused: %v", m.Name, err)
	}
	res, err := m.Run(Request{Method: m.Name, Inputs: g})
	if err != nil || res.Refused != "" {
		t.Fatalf("%s: run gives %v %s", m.Name, err, res.Refused)
	}
	for _, a := range res.Adjustment {
		if strings.ContainsAny(a.Words.MM+a.Words.Inch, "{}?%") {
			t.Errorf("%s: words not filled in: %q %q", m.Name, a.Words.MM, a.Words.Inch)
		}
	}
	return topOut{t, out}
}

// refused checks that the method refuses, naming this field or figure and all these words.
func (g topIn) refused(t testing.TB, m Method, what string, words ...string) {
	t.Helper()
	_, err := g.try(m)
	var r *Refusal
	if !errors.As(err, &r) {
		t.Fatalf("%s: got %v, want a refusal about %s", m.Name, err, what)
	}
	if r.What != what || r.Why == "" || r.Do == "" {
		t.Errorf("%s: refused %q (why %q, do %q), want it about %q with a reason and what to do", m.Name, r.What, r.Why, r.Do, what)
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("%s: refusal %q does not say %q", m.Name, err, w)
		}
	}
}

func (f topOut) num(name string) float64 {
	f.t.Helper()
	x, ok := f.out.nums[name]
	if !ok {
		f.t.Fatalf("%s: figure %s is not set", f.out.method.Name, name)
	}
	return x
}

func (f topOut) list(name string) []float64 {
	f.t.Helper()
	xs, ok := f.out.lists[name]
	if !ok {
		f.t.Fatalf("%s: figure %s is not set", f.out.method.Name, name)
	}
	return xs
}

func (f topOut) text(name string) string { return strings.Join(f.out.texts[name], " ") }

// want compares a figure with a number from outside; source says where from.
func (f topOut) want(name string, x, tol float64, source string) {
	f.t.Helper()
	if got := f.num(name); !(math.Abs(got-x) <= tol) {
		f.t.Errorf("%s: %s = %.9g, want %.9g ± %g (%s)", f.out.method.Name, name, got, x, tol, source)
	}
}

func (f topOut) wantList(name string, want []float64, tol float64, source string) {
	f.t.Helper()
	got := f.list(name)
	if len(got) != len(want) {
		f.t.Fatalf("%s: %s has %d values, want %d", f.out.method.Name, name, len(got), len(want))
	}
	for i := range want {
		if !(math.Abs(got[i]-want[i]) <= tol) {
			f.t.Errorf("%s: %s[%d] = %.9g, want %.9g ± %g (%s)", f.out.method.Name, name, i, got[i], want[i], tol, source)
		}
	}
}

// unset checks that a figure was left out.
func (f topOut) unset(names ...string) {
	f.t.Helper()
	for _, name := range names {
		f.out.decl(name)
		_, a := f.out.nums[name]
		_, b := f.out.lists[name]
		_, c := f.out.texts[name]
		if a || b || c {
			f.t.Errorf("%s: %s is set", f.out.method.Name, name)
		}
	}
}

// adjustment is the only adjustment.
func (f topOut) adjustment() Adjustment {
	f.t.Helper()
	if len(f.out.adjustments) != 1 {
		f.t.Fatalf("%s: %d adjustments, want 1", f.out.method.Name, len(f.out.adjustments))
	}
	return f.out.adjustments[0]
}

// warnings are the method's and those that go with its orders.
func (f topOut) warnings() []string {
	all := slices.Clone(f.out.warnings)
	for _, a := range f.out.adjustments {
		all = append(all, a.warnings...)
	}
	return all
}

func (f topOut) warns(word string) {
	f.t.Helper()
	if !strings.Contains(strings.Join(f.warnings(), "\n"), word) {
		f.t.Errorf("%s: warnings %q do not say %q", f.out.method.Name, f.warnings(), word)
	}
}

func (f topOut) quiet() {
	f.t.Helper()
	if len(f.warnings()) > 0 {
		f.t.Errorf("%s: warns %q", f.out.method.Name, f.warnings())
	}
}

// neverPanics feeds a method good inputs with some of them changed for anything of the declared shape: it may answer or
// refuse, its figures must be finite, and it must do both now and then, or nothing was tried.
func neverPanics(t *testing.T, m Method, good topIn) {
	t.Helper()
	t.Run("spoilt", func(t *testing.T) { trySpoilt(t, m, good) })
}

func trySpoilt(t *testing.T, m Method, good topIn) {
	answered, refused := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		out, err := spoilt(t, m, good).try(m)
		if err != nil {
			var r *Refusal
			var in *InputError
			if errors.As(err, &in) {
				refused++
				return
			}
			if !errors.As(err, &r) || r.What == "" || r.Why == "" || r.Do == "" {
				t.Fatalf("refused badly: %#v", err)
			}
			refused++
			return
		}
		answered++
		if err := out.checkFinite(); err != nil {
			t.Fatal(err)
		}
	})
	// A short run draws twenty cases, which may all happen to be spoilt.
	if !testing.Short() && (answered == 0 || refused == 0) {
		t.Errorf("%s: %d answered, %d refused: the inputs try nothing", m.Name, answered, refused)
	}
}

// spoilt changes some inputs of a good case: gone, drawn anew, or one number of it moved.
func spoilt(t *rapid.T, m Method, good topIn) topIn {
	g := good
	for _, in := range m.Inputs {
		switch rapid.IntRange(0, 11).Draw(t, in.Name+" spoilt") {
		case 0:
			g = g.without(in.Name)
		case 1:
			g = g.set(in.Name, drawnVal(t, in, in.Name))
		case 2:
			if v := g[in.Name]; len(v.List) > 0 {
				list := append([]Num(nil), v.List...)
				i := rapid.IntRange(0, len(list)-1).Draw(t, in.Name+" at")
				list[i].X = rapid.SampledFrom([]float64{0, -1, 1, 360, 1e-9, 1e6, -list[i].X, 25.4 * list[i].X}).Draw(t, in.Name+" to")
				g = g.set(in.Name, Val{List: list})
			} else if v.Num != nil {
				g = g.num(in.Name, v.Num.X*rapid.SampledFrom([]float64{0, -1, 2, 25.4, 1 / 25.4, 1 + 1e-12, 1e9}).Draw(t, in.Name+" times"))
			}
		}
	}
	return g
}

func drawn(t *rapid.T, inputs []Input, at string) topIn {
	g := topIn{}
	for _, in := range inputs {
		label := at + in.Name
		if in.Optional && rapid.Bool().Draw(t, label+"?") {
			continue
		}
		g = g.set(in.Name, drawnVal(t, in, label))
	}
	return g
}

func drawnVal(t *rapid.T, in Input, label string) Val {
	low, high := -800.0, 800.0
	if in.Positive {
		low = 1e-6
	}
	x := rapid.OneOf(rapid.Float64Range(low, high), rapid.Float64Range(math.Max(low, -2), 2), rapid.Map(rapid.IntRange(1, 40), func(i int) float64 { return float64(i) }))
	row := rapid.Map(rapid.SliceOfN(x, 0, 30), exactly)
	switch in.Shape {
	case Scalar:
		return Val{Num: &Num{X: x.Draw(t, label)}}
	case List:
		return Val{List: row.Draw(t, label)}
	case Grid:
		return Val{Grid: rapid.SliceOfN(rapid.Map(rapid.SliceOfN(x, 2, 2), exactly), 0, 12).Draw(t, label)}
	case Text:
		return Val{Text: rapid.SampledFrom(append(in.Enum, "outer")).Draw(t, label)}
	case TextList:
		return Val{Texts: rapid.SliceOfN(rapid.SampledFrom([]string{"a", "b"}), 0, 3).Draw(t, label)}
	case Flag:
		b := rapid.Bool().Draw(t, label)
		return Val{Flag: &b}
	case Record:
		return Val{Rec: drawn(t, in.Fields, label+".")}
	}
	var v Val
	for range rapid.IntRange(0, 3).Draw(t, label) {
		v.Recs = append(v.Recs, drawn(t, in.Fields, label+"."))
	}
	return v
}
