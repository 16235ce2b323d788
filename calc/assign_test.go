package calc

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"thoud/calc/quantity"
)

func sized(prefix string, u float64, sizes ...float64) Val {
	v := Val{}
	for i, s := range sizes {
		n := Num{X: s}
		if u > 0 {
			n.Us = []Component{{Name: "reading", U: u}}
		}
		v.Recs = append(v.Recs, map[string]Val{"name": {Text: prefix + string(rune('1'+i))}, "size": {Num: &n}})
	}
	return v
}

// Three pistons for two bores. Computed independently, no published example.
func TestAssignPistons(t *testing.T) {
	run := func(u float64, rule string, wanted bool) Result {
		in := map[string]Val{"parts": sized("piston ", u, 71.968, 71.975, 71.959), "places": sized("bore ", u, 72.046, 72.038), "lower": num(0.065), "upper": num(0.085)}
		if wanted {
			in["wanted"] = num(0.075)
		}
		if rule != "" {
			in["rule"] = Val{Text: rule}
		}
		return mustRun(t, Request{Method: "assign", Kind: quantity.Length, Inputs: in})
	}
	for _, rule := range []string{"", ruleNearest, ruleWorst, ruleSpread} {
		res := run(0.0007, rule, true)
		number, _ := res.Figure("part_number")
		fits, _ := res.Figure("fits")
		if diff := cmp.Diff([]float64{1, 3}, number.List); diff != "" {
			t.Errorf("%s: %s", rule, diff)
		}
		sizes, _ := res.Figure("sizes") // of pistons 1 and 3, as they were given
		near(t, "first size", sizes.List[0], 71.968, 1e-9)
		near(t, "second size", sizes.List[1], 71.959, 1e-9)
		near(t, "U of a size", sizes.ULists[1], sizes.K*0.0007, 1e-9)
		near(t, "first fit", fits.List[0], 0.078, 1e-9)
		near(t, "second fit", fits.List[1], 0.079, 1e-9)
		near(t, "U of a fit", fits.ULists[0], fits.K*0.0007*math.Sqrt2, 1e-9)
		near(t, "worst", value(t, res, "worst"), 0.004, 1e-9)
		near(t, "spread", value(t, res, "spread"), 0.001, 1e-9)
		near(t, "rms", value(t, res, "rms"), math.Sqrt(25e-6/2), 1e-9)
		if left, _ := res.Figure("left_over"); !slices.Equal(left.Text, []string{"piston 2"}) {
			t.Errorf("left over %q", left.Text)
		}
		if a := res.Adjustment[0]; a.Words.MM != "piston 1: bore 1" {
			t.Errorf("words %q", a.Words.MM)
		}
	}
	// Q changes by 7e-6 mm², and is known to 2.4e-5: either way.
	next, _ := run(0.0007, ruleNearest, true).Figure("runner_up")
	if !strings.HasPrefix(next.Text[0], "piston 2 to bore 1, piston 3 to bore 2") || !strings.Contains(next.Text[0], "too close") {
		t.Errorf("runner up %q", next.Text)
	}
	if next, _ := run(0.00001, ruleNearest, true).Figure("runner_up"); strings.Contains(next.Text[0], "too close") {
		t.Errorf("runner up %q, though the sizes are known to 0.01 µm", next.Text)
	}
	j, err := readAssign(Args{assign().of(quantity.Length).Inputs, map[string]Val{"parts": sized("p", 0.0007, 71.968, 71.975, 71.959), "places": sized("b", 0.0007, 72.046, 72.038), "wanted": num(0.075)}})
	if err != nil {
		t.Fatal(err)
	}
	change, uChange := j.change(choice{0, 2}, choice{1, 2})
	near(t, "ΔQ", change, 7e-6, 1e-9)
	near(t, "U of ΔQ", uChange, 2.4e-5, 5e-7)
	// Without a fit wanted the smallest spread counts, and 2 → 1, 1 → 2 has the same: the parts that come first.
	res := run(0, "", false)
	number, _ := res.Figure("part_number")
	if diff := cmp.Diff([]float64{1, 3}, number.List); diff != "" {
		t.Error(diff)
	}
}

// Two pistons and two rods to go together with the least difference. Computed independently, no published example.
func TestAssignMasses(t *testing.T) {
	in := map[string]Val{"parts": sized("piston ", 0, 371.4, 368.9), "places": sized("rod ", 0, 482.0, 479.2), "fit": {Text: "sum"}, "rule": {Text: ruleSpread}}
	res := mustRun(t, Request{Method: "assign", Kind: quantity.Mass, Inputs: in})
	fits, _ := res.Figure("fits")
	near(t, "first", fits.List[0], 850.9, 1e-9)
	near(t, "second", fits.List[1], 850.6, 1e-9)
	near(t, "spread", value(t, res, "spread"), 0.3, 1e-9)
}

func TestAssignRefuses(t *testing.T) {
	in := map[string]Val{"parts": sized("p", 0, 10, 11), "places": sized("b", 0, 10.05, 11.05), "wanted": num(0.05)}
	run := func(change func(map[string]Val)) string {
		vals := cloneVals(in)
		change(vals)
		res, err := Run(Request{Method: "assign", Kind: quantity.Length, Inputs: vals})
		if err != nil {
			return err.Error()
		}
		return res.Refused
	}
	for what, change := range map[string]func(map[string]Val){
		"1 part for 2 places": func(v map[string]Val) { v["parts"] = sized("p", 0, 10) },
		"given twice":         func(v map[string]Val) { v["parts"].Recs[1]["name"] = v["parts"].Recs[0]["name"] },
		"b2 wants 11.0300": func(v map[string]Val) {
			v["lower"], v["upper"] = num(0.01), num(0.02)
			v["places"] = sized("b", 0, 10.015, 11.05)
		},
		"wanted: got nothing":      func(v map[string]Val) { delete(v, "wanted"); v["rule"] = Val{Text: ruleWorst} },
		"upper, 0.01":              func(v map[string]Val) { v["lower"], v["upper"] = num(0.02), num(0.01) },
		"check its unit":           func(v map[string]Val) { v["parts"] = sized("p", 0, 1e12, 11) },
		"25 of them, 1 to 24 can":  func(v map[string]Val) { v["parts"] = sized("p", 0, every(1, 25)...) },
		"b1 wants 10.0400 mm or l": func(v map[string]Val) { v["lower"] = num(0.01); v["parts"] = sized("p", 0, 10.3, 10.2) },
	} {
		if got := run(change); !strings.Contains(got, what) {
			t.Errorf("%q, want %q", got, what)
		}
	}
}

// Every rule against full enumeration, with ties, limits and parts left over.
func TestAssignAgainstEnumeration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "parts")
		m := rapid.IntRange(1, min(n, 4)).Draw(t, "places")
		p := pairing{parts: rapid.SliceOfN(rapid.Int64Range(0, 12), n, n).Draw(t, "p"), places: rapid.SliceOfN(rapid.Int64Range(0, 12), m, m).Draw(t, "b"),
			sum: rapid.Bool().Draw(t, "sum"), wanted: rapid.Int64Range(-3, 9).Draw(t, "wanted"), nearest: rapid.Bool().Draw(t, "wants"), low: -100, high: 100}
		if rapid.Bool().Draw(t, "limits") {
			p.low = rapid.Int64Range(-5, 5).Draw(t, "low")
			p.high = p.low + rapid.Int64Range(0, 12).Draw(t, "width")
		}
		p = p.ordered()
		rule := rapid.SampledFrom([]string{ruleNearest, ruleWorst, ruleSpread}).Draw(t, "rule")
		if rule != ruleSpread {
			p.nearest = true
		}
		want := enumerate(p, rule)
		got, _ := p.least(rule, p.none())
		if !slices.Equal(got, want) {
			t.Fatalf("%s: %v, enumeration %v", rule, got, want)
		}
		if got == nil && len(p.empty()) == 0 {
			t.Fatal("impossible, yet no place goes empty")
		}
	})
}

// enumerate looks at every choice in the order of the parts and keeps the first of the best.
func enumerate(p pairing, rule string) choice {
	var best choice
	bestKey := [2]int64{unpaired, unpaired}
	c := p.none()
	var try func(place int)
	try = func(place int) {
		if place == len(c) {
			fits := p.fits(c)
			var key [2]int64
			for _, f := range fits {
				if f < p.low || f > p.high {
					return
				}
				if p.nearest {
					key[1] += (f - p.wanted) * (f - p.wanted)
				}
				if rule == ruleWorst {
					key[0] = max(key[0], abs64(f-p.wanted))
				}
			}
			if rule == ruleSpread {
				key[0] = slices.Max(fits) - slices.Min(fits)
			}
			if slices.Compare(key[:], bestKey[:]) < 0 {
				best, bestKey = slices.Clone(c), key
			}
			return
		}
		for part := range p.parts {
			if !slices.Contains(c[:place], part) {
				c[place] = part
				try(place + 1)
				c[place] = -1
			}
		}
	}
	try(0)
	return best
}

// Fitted as said and measured again, the parts have the fits promised.
func TestAssignReachesFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		parts := rapid.SliceOfN(rapid.Float64Range(71.9, 72), 2, 6).Draw(t, "parts")
		places := rapid.SliceOfN(rapid.Float64Range(72, 72.1), 1, 2).Draw(t, "places")
		res := mustRun(t, Request{Method: "assign", Kind: quantity.Length, Inputs: map[string]Val{"parts": sized("p", 0, parts...), "places": sized("b", 0, places...), "wanted": num(0.075)}})
		number, _ := res.Figure("part_number")
		for i, n := range number.List {
			if got := places[i] - parts[int(n)-1]; math.Abs(got-res.Adjustment[i].Amount) > 1e-12 {
				t.Fatalf("place %d: %g, promised %g", i+1, got, res.Adjustment[i].Amount)
			}
		}
	})
}

func BenchmarkAssignSpread24(b *testing.B) {
	var parts, places []float64
	for i := range 24 {
		parts = append(parts, 370+math.Mod(float64(i)*7.31, 5))
		places = append(places, 480+math.Mod(float64(i)*3.77, 6))
	}
	in := map[string]Val{"parts": sized("p", 0.05, parts...), "places": sized("b", 0.05, places...), "fit": {Text: "sum"}}
	for b.Loop() {
		if _, err := Run(Request{Method: "assign", Kind: quantity.Mass, Inputs: in}); err != nil {
			b.Fatal(err)
		}
	}
}
