package calc

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestCircleFit(t *testing.T) {
	// Gander, Golub and Strebel 1994, from memory: centre 4.7398, 2.9835, radius 4.7142. More digits computed
	// independently by 40-digit Gauss–Newton. The linear fit alone gives 4.7423, 3.8351 and 4.1088.
	pts := [][]float64{{1, 7}, {2, 6}, {5, 8}, {7, 7}, {9, 5}, {3, 7}}
	f := topIn{}.grid("points", pts...).compute(t, circleFit())
	const source = "Gander, Golub, Strebel 1994 (from memory), digits computed independently"
	f.want("centre_x", 4.73978241091, 1e-9, source)
	f.want("centre_y", 2.98353269929, 1e-9, source)
	f.want("radius", 4.71422603779, 1e-9, source)
	f.want("diameter", 2*4.71422603779, 2e-9, source)
	sum := 0.0
	for _, p := range pts {
		d := math.Hypot(p[0]-f.num("centre_x"), p[1]-f.num("centre_y")) - f.num("radius")
		sum += d * d
	}
	if math.Abs(sum-1.227599) > 5e-7 {
		t.Errorf("sum of squares %v, want 1.227599 (computed independently)", sum)
	}
	f.warns("span")

	// Twelve radii equally spaced: the polar formulas of ISO 4291 hold there to 0.2 nm (computed independently).
	radii := []float64{36.0314, 36.0318, 36.0283, 36.0253, 36.0239, 36.0231, 36.0232, 36.0239, 36.0228, 36.0201, 36.0205, 36.0258}
	var round [][]float64
	for i, r := range radii {
		s, c := math.Sincos(radians(30 * float64(i)))
		round = append(round, []float64{r * c, r * s})
	}
	for _, far := range []float64{0, 100e3} {
		var moved [][]float64
		for _, p := range round {
			moved = append(moved, []float64{p[0] + far, p[1] - far})
		}
		f := topIn{}.grid("points", moved...).compute(t, circleFit())
		const source = "computed independently; the same part 100 m away"
		f.want("centre_x", far+0.003072, 1e-6, source)
		f.want("centre_y", -far+0.002585, 1e-6, source)
		f.want("radius", 36.025008, 1e-6, source)
		f.want("roundness", 7.126e-3, 1e-6, source)
		f.want("arc", 330, 0.01, "a gap of 30°")
		f.quiet()
	}
}

func TestCircleFitRefuses(t *testing.T) {
	g := func(p ...[]float64) topIn { return topIn{}.grid("points", p...) }
	g([]float64{0, 0}, []float64{1, 0}).refused(t, circleFit(), "points", "2 different")
	g([]float64{0, 0}, []float64{1, 0}, []float64{1, 0}, []float64{0, 0}).refused(t, circleFit(), "points", "2 different")
	g([]float64{5, 5}, []float64{5, 5}, []float64{5, 5}).refused(t, circleFit(), "points", "1 different")
	g([]float64{0, 0}, []float64{1, 1}, []float64{2, 2}, []float64{0.3, 0.3}).refused(t, circleFit(), "points", "one line")
	g([]float64{1e5, 1e5}, []float64{1e5 + 0.1, 1e5 + 0.3}, []float64{1e5 + 0.2, 1e5 + 0.6}).refused(t, circleFit(), "points", "one line")
	g([]float64{0, 0}, []float64{1, 0, 2}, []float64{1, 1}).refused(t, circleFit(), "points", "3 numbers")
	neverPanics(t, circleFit(), topIn{}.grid("points", []float64{1, 7}, []float64{2, 6}, []float64{5, 8}, []float64{7, 7}, []float64{9, 5}))
}

// Points of a circle give it back, wherever it lies; three points and short arcs too, then with a warning; at the
// minimum no shift of the centre fits better.
func TestCircleFitFindsCircle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		far := rapid.SampledFrom([]float64{0, 10, 1e5}).Draw(t, "far")
		x, y := far+rapid.Float64Range(-1, 1).Draw(t, "x"), -far+rapid.Float64Range(-1, 1).Draw(t, "y")
		r := rapid.Float64Range(5, 120).Draw(t, "r")
		arc := rapid.Float64Range(60, 360).Draw(t, "arc")
		n := rapid.IntRange(3, 40).Draw(t, "n")
		noise := rapid.SampledFrom([]float64{0, 0.01}).Draw(t, "noise")
		var pts [][]float64
		for i := range n {
			s, c := math.Sincos(radians(arc * float64(i) / float64(n)))
			d := r + noise*rapid.Float64Range(-1, 1).Draw(t, "d")
			pts = append(pts, []float64{x + d*c, y + d*s})
		}
		out, err := topIn{}.grid("points", pts...).try(circleFit())
		if err != nil {
			t.Fatal(err)
		}
		cx, cy, cr := out.nums["centre_x"], out.nums["centre_y"], out.nums["radius"]
		if noise == 0 {
			if tol := 1e-7 + far*1e-12; math.Abs(cx-x) > tol || math.Abs(cy-y) > tol || math.Abs(cr-r) > tol {
				t.Fatalf("got %v %v %v, made with %v %v %v", cx, cy, cr, x, y, r)
			}
		}
		sum := func(a, b float64) float64 {
			mean, s := 0.0, 0.0
			for _, p := range pts {
				mean += math.Hypot(p[0]-a, p[1]-b) / float64(n)
			}
			for _, p := range pts {
				d := math.Hypot(p[0]-a, p[1]-b) - mean
				s += d * d
			}
			return s
		}
		best := sum(cx, cy)
		for _, d := range [][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			if s := sum(cx+1e-3*d[0], cy+1e-3*d[1]); s < best-1e-12 {
				t.Fatalf("a centre moved by %v fits better: %v < %v", d, s, best)
			}
		}
	})
}

func TestRingStagger(t *testing.T) {
	const source = "computed independently"
	g := func(n float64, avoid ...float64) topIn { return topIn{}.num("rings", n).list("avoid", avoid...) }
	f := g(3, 0, 180).compute(t, ringStagger())
	f.want("least_distance", 30, 1e-9, source)
	f.wantList("offsets", []float64{30, 150, 270}, 1e-9, source)
	g(3, 0, 90, 180, 270).compute(t, ringStagger()).want("least_distance", 15, 1e-9, source)
	g(2, 0, 90, 180, 270).compute(t, ringStagger()).want("least_distance", 45, 1e-9, source)
	g(2.5, 0).refused(t, ringStagger(), "rings", "2.5")
	g(0.5, 0).refused(t, ringStagger(), "rings")
	neverPanics(t, ringStagger(), g(3, 0, 90))
	// No other place is better: all of them tried by the tenth of a degree.
	rapid.Check(t, func(t *rapid.T) {
		n := float64(rapid.IntRange(1, 5).Draw(t, "n"))
		avoid := rapid.SliceOfN(rapid.Float64Range(0, 360), 1, 6).Draw(t, "avoid")
		out, err := g(n, avoid...).try(ringStagger())
		if err != nil {
			t.Fatal(err)
		}
		distance := func(first float64) float64 {
			d := 360.0
			for k := range int(n) {
				for _, a := range avoid {
					d = math.Min(d, math.Abs(signed(first+float64(k)*360/n-a, 360)))
				}
			}
			return d
		}
		if got := distance(out.lists["offsets"][0]); math.Abs(got-out.nums["least_distance"]) > 1e-9 {
			t.Fatalf("stands %v away, said %v", got, out.nums["least_distance"])
		}
		for first := 0.0; first < 360/n; first += 0.1 {
			if d := distance(first); d > out.nums["least_distance"]+1e-9 {
				t.Fatalf("%v is better: %v", first, d)
			}
		}
	})
}
