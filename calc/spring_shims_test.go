package calc

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func sprung(seats []float64, rate float64) topIn {
	var places []topIn
	for i, seat := range seats {
		places = append(places, topIn{}.text("name", fmt.Sprintf("valve %d", i+1)).num("seat", seat).num("rate", rate))
	}
	return topIn{}.recs("places", places...).num("seat_wanted", 330)
}

// Two thick shims for three valves that want one each: the stock decides, and the third is filled by thin ones. Computed
// independently, no published example: 40 N/mm, 0.6 mm = 24 N, 0.3 mm = 12 N.
func TestSpringShims(t *testing.T) {
	const source = "computed independently, no published example"
	f := sprung([]float64{306, 307, 305.5}, 40).list("shims", 0.6, 0.6, 0.3, 0.3).compute(t, springShims())
	f.wantList("sums", []float64{0.6, 0.6, 0.6}, 1e-12, source)
	f.want("worst_now", 24.5, 1e-9, source)
	f.want("spread_now", 1.5, 1e-9, source)
	f.want("worst_then", 1, 1e-9, source)
	f.want("spread_then", 1.5, 1e-9, source)
	f.want("count", 4, 0, source)
	// With one thin shim only, one valve has to do with less: the one that then is worst off least.
	f = sprung([]float64{306, 307, 305.5}, 40).list("shims", 0.6, 0.6, 0.3).compute(t, springShims())
	f.wantList("sums", []float64{0.6, 0.3, 0.6}, 1e-12, source)
	// A spring that would bind takes no more than its margin leaves.
	bound := sprung([]float64{306, 307}, 40).list("shims", 0.6, 0.6, 0.3, 0.3)
	bound["places"].Recs[0]["margin"] = topIn{}.list("x", 2.0, 5.0)["x"]
	bound.compute(t, springShims()).wantList("sums", []float64{0.3, 0.6}, 1e-12, "2.0 mm leave 0.476 mm over 0.060 in")
	tight := sprung([]float64{306}, 40).list("shims", 0.6)
	tight["places"].Recs[0]["margin"] = topIn{}.list("x", 1.0)["x"]
	tight.compute(t, springShims()).warns("short of the coil-bind margin")
	// As wanted already: nothing goes in.
	none := sprung([]float64{330, 331}, 40).list("shims", 0.6, 0.3).compute(t, springShims())
	none.wantList("sums", []float64{0, 0}, 0, source)
	two := sprung([]float64{306, 307}, 40).list("shims", 0.6)
	two["places"].Recs[1]["name"] = two["places"].Recs[0]["name"]
	two.refused(t, springShims(), "places[1].name", "given twice")
	sprung([]float64{306}, 40).list("shims", 0.6).num("max_shims", 1.5).refused(t, springShims(), "max_shims")
	many := make([]float64, 20)
	for i := range many {
		many[i] = 0.1 + 0.01*float64(i)
	}
	sprung([]float64{306}, 40).list("shims", many...).refused(t, springShims(), "shims", "too many choices")
}

// What is chosen is what trying every choice finds (computed independently: plain enumeration).
func TestSpringShimsAgainstEveryChoice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 3).Draw(t, "valves")
		seats := rapid.SliceOfN(rapid.Float64Range(280, 335), n, n).Draw(t, "seats")
		stock := rapid.SliceOfN(rapid.SampledFrom([]float64{0.2, 0.3, 0.38, 0.76}), 1, 5).Draw(t, "stock")
		const rate = 40.0
		in := sprung(seats, rate).list("shims", stock...).num("max_shims", 2)
		got, err := in.try(springShims())
		if err != nil {
			t.Fatal(err)
		}
		worst := math.Inf(1)
		// Every shim goes to one of the valves or stays in the drawer.
		total := int(math.Pow(float64(n+1), float64(len(stock))))
		for c := range total {
			sums, pieces := make([]float64, n+1), make([]int, n+1)
			for i, rest := 0, c; i < len(stock); i, rest = i+1, rest/(n+1) {
				sums[rest%(n+1)] += stock[i]
				pieces[rest%(n+1)]++
			}
			if slices.Max(pieces[:n]) > 2 {
				continue
			}
			off := 0.0
			for j, s := range seats {
				off = math.Max(off, math.Abs(s+rate*sums[j]-330))
			}
			worst = math.Min(worst, off)
		}
		if d := math.Abs(got.nums["worst_then"] - worst); d > 1e-3 {
			t.Fatalf("the largest error is %.4f N, every choice tried gives %.4f", got.nums["worst_then"], worst)
		}
	})
}
