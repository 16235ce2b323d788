package calc

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"
)

// truth is one simulated job: readings with a scatter of sigma, of which stated is said, and what the figure truly is.
type truth func(rng *rand.Rand, sigma, stated float64) (req Request, figure string, is float64)

// coverageCases are the fits, each of an engine whose measures are known, with the scatter of its readings.
func coverageCases() map[string]struct {
	sigma float64
	draw  truth
	// least is what must be covered where u is stated honestly; 94 % but for the plateau, whose place in the row is found too.
	least float64
} {
	type c = struct {
		sigma float64
		draw  truth
		least float64
	}
	noisy := func(rng *rand.Rand, sigma, stated float64, xs []float64) Val {
		v := list(xs...)
		for i := range v.List {
			v.List[i].X += sigma * rng.NormFloat64()
			v.List[i].Us = []Component{{U: stated}}
		}
		return v
	}
	return map[string]c{
		"tdc-fit tdc": {0.03, func(rng *rand.Rand, sigma, stated float64) (Request, string, float64) {
			in := exactPiston(0.8, 5)
			var xs []float64
			for _, n := range in["reading"].List {
				xs = append(xs, n.X)
			}
			in["reading"] = noisy(rng, sigma, stated, xs)
			return Request{Method: "tdc-fit", Inputs: in}, "tdc", 0.8
		}, 0.94},
		"runout eccentricity": {0.002, func(rng *rand.Rand, sigma, stated float64) (Request, string, float64) {
			angles := turn(0, 360, 30)
			var xs []float64
			for _, a := range angles {
				xs = append(xs, 0.03*math.Cos(radians(a-40))+0.005*math.Cos(radians(2*a-30)))
			}
			return Request{Method: "runout", Inputs: map[string]Val{"angle": list(angles...), "reading": noisy(rng, sigma, stated, xs)}}, "eccentricity", 0.03
		}, 0.94},
		"circle-fit centre": {0.005, func(rng *rand.Rand, sigma, stated float64) (Request, string, float64) {
			var g [][]Num
			for i := range 8 {
				a := float64(i) * math.Pi / 4
				us := []Component{{U: stated}}
				g = append(g, []Num{{X: 0.3 + 36*math.Cos(a) + sigma*rng.NormFloat64(), Us: us}, {X: -0.2 + 36*math.Sin(a) + sigma*rng.NormFloat64(), Us: us}})
			}
			return Request{Method: "circle-fit", Inputs: map[string]Val{"points": {Grid: g}}}, "centre_x", 0.3
		}, 0.94},
		"chain-slack mean excess": {0.3, func(rng *rand.Rand, sigma, stated float64) (Request, string, float64) {
			run := chainRun{600, 42}
			angles := turn(0, 720, 30)
			var xs []float64
			for _, a := range angles {
				xs = append(xs, run.slack(0.9+0.3*math.Cos(radians(a-50))))
			}
			return Request{Method: "chain-slack", Inputs: map[string]Val{"angle": list(angles...), "slack": noisy(rng, sigma, stated, xs), "straight_run": num(600), "radius_front": num(34), "radius_rear": num(76)}}, "mean_excess", 0.9
		}, 0.94},
		"statistics mean": {0.01, func(rng *rand.Rand, sigma, stated float64) (Request, string, float64) {
			return Request{Method: "statistics", Kind: "length", Inputs: map[string]Val{"values": noisy(rng, sigma, stated, []float64{5, 5, 5, 5, 5, 5})}}, "mean", 5
		}, 0.94},
		"contact-clearance contact": {0.003, func(rng *rand.Rand, sigma, stated float64) (Request, string, float64) {
			angles := turn(0, 720, 15)
			var xs []float64
			for _, a := range angles {
				xs = append(xs, 4.75+math.Min(0, (a-200)/100))
			}
			return Request{Method: "contact-clearance", Inputs: map[string]Val{"protrusion": noisy(rng, sigma, stated, xs), "crank_angle": list(angles...), "clearance": num(1.27), "side": {Text: "outside"}}}, "contact", 4.75
		}, 0.925},
		"ring-gap to file": {0.01, func(rng *rand.Rand, sigma, stated float64) (Request, string, float64) { // no fit: nothing shows a u that is too small
			return Request{Method: "ring-gap", Inputs: map[string]Val{"gap": {Num: &Num{X: 0.25 + sigma*rng.NormFloat64(), Us: []Component{{U: stated}}}}, "bore_at_gap": num(72), "narrowest_bore": num(72), "target_gap": num(0.3)}}, "file_off", 0.05
		}, 0.94},
	}
}

// covered is the share of simulated jobs whose truth lies within U, and how many of them were answered.
func covered(t *testing.T, draw truth, sigma, stated float64, sets int) float64 {
	t.Helper()
	rng := rand.New(rand.NewPCG(4, 95))
	in, answered := 0, 0
	for range sets {
		req, figure, is := draw(rng, sigma, stated)
		res, err := Run(req)
		if err != nil {
			t.Fatal(err)
		}
		f, ok := res.Figure(figure)
		if res.Refused != "" || !ok {
			continue
		}
		answered++
		if math.Abs(*f.Value-is) <= f.U {
			in++
		}
	}
	if answered < sets*9/10 {
		t.Errorf("only %d of %d were answered", answered, sets)
	}
	return float64(in) / float64(answered)
}

// How often the truth lies within U, 95 % asked: with an honest statement 94 to 97.5 %, and with one that is ten times too
// small 93 % and more wherever readings to spare can show it. The scatter's own gate keeps the honest builder from being
// charged for it (computed independently by simulation, no published example).
func TestCoverageOfFits(t *testing.T) {
	sets := 400
	if testing.Short() {
		sets = 100
	}
	noise := 2 * math.Sqrt(0.95*0.05/float64(sets))
	if os.Getenv("THOUD_LONG") != "" {
		sets, noise = 10000, 0.002
	}
	for name, c := range coverageCases() {
		t.Run(name, func(t *testing.T) {
			honest, small := covered(t, c.draw, c.sigma, c.sigma, sets), covered(t, c.draw, c.sigma, c.sigma/10, sets)
			t.Logf("honest %.1f %%, ten times too small %.1f %%", 100*honest, 100*small)
			if honest < c.least-noise || honest > 0.975+noise {
				t.Errorf("u stated honestly covers the truth in %.1f %%", 100*honest)
			}
			switch {
			case name == "ring-gap to file":
				if small > 0.5 {
					t.Errorf("one reading cannot show that its u is too small, but %.1f %% are covered", 100*small)
				}
			case small < 0.93-noise:
				t.Errorf("u stated ten times too small covers the truth in %.1f %%", 100*small)
			}
		})
	}
}
