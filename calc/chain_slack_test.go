package calc

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func every(step, to float64) []float64 {
	var a []float64
	for x := 0.0; x < to-1e-9; x += step {
		a = append(a, x)
	}
	return a
}

func rearChain() given {
	return given{
		"angle":        every(30, 360),
		"slack":        []float64{36.9, 33.4, 29.0, 24.9, 22.5, 23.0, 26.2, 30.5, 34.7, 37.8, 39.3, 39.0},
		"straight_run": 600.0, "radius_front": 34.0, "radius_rear": 76.0,
	}
}

func TestChainSlackTwelveReadings(t *testing.T) {
	// Computed independently; the readings were made with an eccentricity of 0.22 mm, tight at 130°.
	out := figuresOf(t, "chain-slack", rearChain())
	figureNear(t, out, "mean_excess", 0.8527, 5e-5)
	figureNear(t, out, "rear_eccentricity", 0.220, 5e-4)
	figureNear(t, out, "tight_at", 130.0, 0.1)
}

func TestChainExcess(t *testing.T) {
	// Computed independently.
	run := chainRun{straight: 600}
	for s, want := range map[float64]float64{40: 1.33186, 25: 0.52061} {
		if got := run.excess(s); math.Abs(got-want) > 5e-6 {
			t.Errorf("excess(%g) = %.6f, want %.5f", s, got, want)
		}
	}
	if got := (chainRun{600, 76 - 34}).cos(); math.Abs(got-0.997559) > 5e-7 {
		t.Errorf("cos γ = %.7f, want 0.997559", got)
	}
	// An even chain at 40 mm, wanted 25 mm: 0.40562 mm with parallel runs, 0.40662 mm with 34 and 76.
	even := make([]float64, 12)
	for i := range even {
		even[i] = 40
	}
	in := rearChain().with("slack", even).with("min_slack", 25.0).with("adjuster_pitch", 1.25)
	out := figuresOf(t, "chain-slack", in)
	figureNear(t, out, "move", 0.40662, 5e-6)
	figureNear(t, out, "turns", 0.40662/1.25, 5e-6)
	if d := out.adjustments[0].Direction; d != "take_up" {
		t.Errorf("direction %q, want to take slack up", d)
	}
	figureNear(t, figuresOf(t, "chain-slack", in.with("radius_rear", 34.0)), "move", 0.40562, 5e-6)
}

// loop is a chain over two eccentric sprockets: its whole length stays, so the slack follows from where the centres
// stand. The loop's length about two circles with centres C apart: 2·T + (r₁ + r₂)·π + 2·γ·(r₂ − r₁).
type loop struct {
	length, centre, front, rear       float64
	frontOut, rearOut, frontAt, rear0 float64
	ratio                             float64
}

func loopLength(c, front, rear float64) float64 {
	g := math.Asin((rear - front) / c)
	return 2*c*math.Cos(g) + math.Pi*(front+rear) + 2*g*(rear-front)
}

// slack is the total movement at mid-run with the sprocket's centres moved towards one another by their eccentricity.
func (l loop) slack(angle float64) float64 {
	c := l.centre + l.rearOut*math.Cos((angle-l.rear0)*math.Pi/180) + l.frontOut*math.Cos((l.ratio*angle-l.frontAt)*math.Pi/180)
	e := l.length - loopLength(c, l.front, l.rear)
	t := math.Sqrt(c*c - (l.rear-l.front)*(l.rear-l.front))
	return math.Sqrt((t+e)*(t+e) - t*t)
}

// Moving the axle by the amount given must bring the tight spot to the slack wanted: geometry built from the loop.
func TestChainMoveReachesSlack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := loop{
			centre: rapid.Float64Range(500, 700).Draw(t, "centre"), front: 34, rear: 76, ratio: 2.2353,
			rearOut: rapid.Float64Range(0, 0.3).Draw(t, "rear"), frontOut: rapid.Float64Range(0, 0.15).Draw(t, "front"),
			rear0: rapid.Float64Range(0, 360).Draw(t, "rear0"), frontAt: rapid.Float64Range(0, 360).Draw(t, "front0"),
		}
		l.length = loopLength(l.centre, l.front, l.rear) + rapid.Float64Range(1.2, 3).Draw(t, "excess")
		angle := every(15, 3*360)
		read := func() []float64 {
			var s []float64
			for _, a := range angle {
				s = append(s, l.slack(a))
			}
			return s
		}
		run := math.Sqrt(l.centre*l.centre - 42*42)
		in := given{"angle": angle, "slack": read(), "straight_run": run, "radius_front": 34.0, "radius_rear": 76.0, "other_turns": l.ratio, "min_slack": 25.0}
		out, err := outOf("chain-slack", in)
		if err != nil {
			t.Fatal(err)
		}
		for f, want := range map[string]float64{"rear_eccentricity": l.rearOut, "front_eccentricity": l.frontOut} {
			if d := math.Abs(out.nums[f] - want); d > 0.005 {
				t.Fatalf("%s %.4f, made with %.4f", f, out.nums[f], want)
			}
		}
		l.centre += out.adjustments[0].Amount
		tight := math.Inf(1)
		for a := 0.0; a < 17*360; a += 0.5 { // 38 to 17 teeth: after 17 turns every phase came by
			tight = math.Min(tight, l.slack(a))
		}
		if math.Abs(tight-25) > 0.35 { // the straight run is taken as even, although the eccentricities change it
			t.Fatalf("after moving %.4f mm the tight spot has %.3f mm, want 25", out.adjustments[0].Amount, tight)
		}
	})
}

func TestTensioner(t *testing.T) {
	in := rearChain().with("adjust", "tensioner").with("min_slack", 15.0)
	out := figuresOf(t, "chain-slack", in)
	if _, ok := out.nums["move"]; ok {
		t.Error("an amount was given from one setting of a tensioner")
	}
	if a := out.adjustments[0]; a.Direction != "nip_it_a_little" || !(a.Amount > 0) {
		t.Errorf("%+v, want to nip it a little", a)
	}
	if a := figuresOf(t, "chain-slack", in.with("min_slack", 30.0)).adjustments[0]; a.Direction != "ease_it_a_little" || !(a.Amount < 0) {
		t.Errorf("%+v, want to ease it a little", a)
	}
	// A tensioner of unknown but even geometry: every mm of setting takes 0.3 mm of excess, counted either way round.
	for _, sense := range []float64{1, -1} {
		worst := out.nums["worst_excess"]
		two := figuresOf(t, "chain-slack", in.with("setting_now", sense*2.0).with("setting_before", sense*1.5).with("excess_before", worst+0.15))
		wanted := (chainRun{straight: 600}).excess(15)
		step := two.nums["setting_wanted"] - sense*2
		if left := worst - 0.3*sense*step - wanted; math.Abs(left) > 1e-9 {
			t.Errorf("sense %g: after %.4f of setting the excess is off by %.4g", sense, step, left)
		}
		if move := two.nums["move"]; math.Abs(move-math.Abs(step)) > 1e-12 {
			t.Errorf("sense %g: move %g, want + as slack is taken up", sense, move)
		}
	}
	refused(t, "chain-slack", in.with("setting_now", 2.0).with("setting_before", 1.5), "excess_before")
	refused(t, "chain-slack", in.with("setting_now", 2.0).with("setting_before", 2.0).with("excess_before", 0.6), "setting_before")
}

func TestChainWarnsOfTightLink(t *testing.T) {
	in := rearChain()
	slack := append([]float64{}, in["slack"].([]float64)...)
	slack[9] = 12
	if out := figuresOf(t, "chain-slack", in.with("slack", slack)); len(out.warnings) == 0 {
		t.Error("no warning of a tight link")
	}
	if out := figuresOf(t, "chain-slack", in); len(out.warnings) != 0 {
		t.Errorf("warned of an even chain: %v", out.warnings)
	}
}

func TestChainSlackRefuses(t *testing.T) {
	in := rearChain()
	refused(t, "chain-slack", in.with("other_turns", 1.0), "other_turns")
	refused(t, "chain-slack", in.with("other_turns", 0.5), "angle") // half a turn of the other sprocket was not read
	refused(t, "chain-slack", in.with("slack", []float64{1, 2}), "angle")
	refused(t, "chain-slack", in.with("angle", every(15, 180)), "angle")
	refused(t, "chain-slack", in.with("min_slack", -1.0), "min_slack")
	refused(t, "chain-slack", in.with("angle", every(60, 360)).with("slack", []float64{30, 31, 32, 31, 30, 29}).with("other_turns", 2.0), "angle")
	refused(t, "chain-slack", in.with("angle", []float64{0, 120, 240}).with("slack", []float64{30, 31, 32}), "angle")
	// Both terms are read all round, but over one turn the two are nearly the same.
	refused(t, "chain-slack", in.with("other_turns", 1.06), "angle")
	refused(t, "chain-slack", in.with("other_turns", 1e12), "other_turns")
	refused(t, "chain-slack", in.with("angle", append(every(30, 330), 1e12)), "angle")
	refused(t, "chain-slack", in.with("adjust", "tensioner").with("min_slack", 15.0).with("setting_now", 2.0).with("setting_before", 1.5).with("excess_before", -0.1), "excess_before")
	slack := append([]float64{}, in["slack"].([]float64)...)
	slack[3] = -2
	refused(t, "chain-slack", in.with("slack", slack), "slack")
}

// 0…715° in steps of 5° of crank cover the two turns of a timing chain; 0…350° of crank do not.
func TestTimingChainCoverage(t *testing.T) {
	in := given{"straight_run": 120.0, "radius_front": 20.0, "radius_rear": 40.0, "other_turns": 2.0}
	var cam, slack []float64
	for crank := 0.0; crank <= 715; crank += 5 {
		cam = append(cam, crank/2)
		slack = append(slack, 6+math.Cos(crank/2*math.Pi/180))
	}
	figuresOf(t, "chain-slack", in.with("angle", cam).with("slack", slack))
	refused(t, "chain-slack", in.with("angle", cam[:71]).with("slack", slack[:71]), "angle")
}

func BenchmarkChainSlack(b *testing.B) {
	angle := every(5, 1080)
	slack := make([]float64, len(angle))
	for i, a := range angle {
		slack[i] = 30 + 5*math.Cos(a*math.Pi/180) + 2*math.Cos(2.2*a*math.Pi/180)
	}
	in := rearChain().with("angle", angle).with("slack", slack).with("other_turns", 2.2)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := outOf("chain-slack", in); err != nil {
			b.Fatal(err)
		}
	}
}

// The tightest place over all phases of both sprockets, from readings of one turn. Computed independently, no published
// example: teeth 17 and 46, so that the sprockets meet in 17 turns; over the turn that was read the chain is never as tight
// (0.7146 mm of excess), and set by that it would run with 17.0 mm at its tightest.
func TestChainTightestPhase(t *testing.T) {
	in := given{"angle": every(15, 360), "slack": []float64{36.77, 36.38, 37.39, 39.20, 40.79, 41.24, 40.07, 37.35, 33.74, 30.46, 28.85, 29.50,
		31.66, 33.90, 35.12, 34.87, 33.38, 31.56, 30.68, 31.71, 34.49, 37.92, 40.76, 42.20},
		"straight_run": 580.0, "radius_front": 33.0, "radius_rear": 72.0, "other_turns": 46.0 / 17, "min_slack": 20.0}
	out := figuresOf(t, "chain-slack", in)
	figureNear(t, out, "mean_excess", 1.1001, 5e-5)
	run := chainRun{580, 72 - 33}
	figureNear(t, out, "rear_eccentricity", 0.2601/(2*run.cos()), 5e-5)
	figureNear(t, out, "front_eccentricity", 0.2200/(2*run.cos()), 5e-5)
	figureNear(t, out, "worst_excess", 0.6200, 5e-5)
	figureNear(t, out, "tight_turn", 16, 0)
	figureNear(t, out, "tight_at", 15*360+200.7, 0.1)
	figureNear(t, out, "tight_slack", 26.8, 0.05)
	figureNear(t, out, "move", 0.1379, 5e-5)
	if all := strings.Join(out.warnings, " "); !strings.Contains(all, "turn 16, 200.7°") || !strings.Contains(all, "prove it there") {
		t.Errorf("warnings %q, want the place that was not read", out.warnings)
	}
	// Set by the turn that was read the chain would have 17.0 mm at its tightest.
	if left := run.slack(run.excess(20) - 0.7146 + out.nums["worst_excess"]); math.Abs(left-17.0) > 0.05 {
		t.Errorf("set by the turn that was read: %.2f mm left, want 17.0", left)
	}
}

// A chain that lacks length somewhere is told so and slackened first; it is no refusal. The readings are made so.
func TestChainGoesTaut(t *testing.T) {
	in := rearChain().with("slack", []float64{60, 55, 40, 20, 0, 0, 0, 0, 0, 20, 40, 55}).with("min_slack", 15.0)
	out := figuresOf(t, "chain-slack", in)
	if w := out.nums["worst_excess"]; !(w < 0) {
		t.Errorf("worst excess %g, want less than none", w)
	}
	figureNear(t, out, "tight_slack", 0, 0)
	if m := out.nums["move"]; !(m < 0) || out.adjustments[0].Direction != "let_out" {
		t.Errorf("move %g, %+v, want it let out", m, out.adjustments[0])
	}
	if all := strings.Join(out.warnings, " "); !strings.Contains(all, "goes taut") || !strings.Contains(all, "slacken it") {
		t.Errorf("warnings %q", out.warnings)
	}
	tensioner := figuresOf(t, "chain-slack", in.with("adjust", "tensioner"))
	if a := tensioner.adjustments[0]; a.Direction != "ease_it_a_little" {
		t.Errorf("%+v, want to ease it", a)
	}
}

// The tightest place is never slacker than what was read there: arithmetic.
func TestChainNeverSlackerThanRead(t *testing.T) {
	in := rearChain()
	slack := append([]float64{}, in["slack"].([]float64)...)
	slack[9] = 20 // a tight link, far from the tight spot of the curve
	out := figuresOf(t, "chain-slack", in.with("slack", slack))
	if got, most := out.nums["worst_excess"], (chainRun{600, 42}).excess(20); got > most+1e-12 {
		t.Errorf("worst excess %g, read %g", got, most)
	}
	figureNear(t, out, "tight_at", 270, 1e-9)
}

// Few turns until the sprockets meet again: the curve itself counts, and another phase of fitting is told. At 2:1 the
// second term has one phase only.
func TestChainFewPhases(t *testing.T) {
	var slack []float64
	run := chainRun{600, 42}
	for _, a := range every(15, 360) {
		slack = append(slack, run.slack(1+0.2*math.Cos(a*math.Pi/180)+0.1*math.Cos(2*a*math.Pi/180)))
	}
	out := figuresOf(t, "chain-slack", given{"angle": every(15, 360), "slack": slack, "straight_run": 600.0, "radius_front": 34.0, "radius_rear": 76.0, "other_turns": 2.0})
	// y = 1 + 0.2c + 0.1(2c² − 1) is least at c = −1/2: 1 − 0.1 − 0.05.
	figureNear(t, out, "worst_excess", 0.85, 1e-9)
	if at := out.nums["tight_at"]; math.Abs(math.Abs(signed(at, 360))-120) > 1e-6 {
		t.Errorf("tight at %g°, want 120° or 240°", at)
	}
	if all := strings.Join(out.warnings, " "); !strings.Contains(all, "0.700 mm") {
		t.Errorf("warnings %q, want the 0.7 mm of another phase", out.warnings)
	}
}

// The lowest place of two terms against a plain scan.
func TestChainLowestAgainstScan(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := rapid.SampledFrom([]float64{1, 2, 3, 5, 17, 23}).Draw(t, "q")
		m := rapid.Float64Range(1.2, 4).Draw(t, "m")
		m = math.Round(m*q) / q
		draw := func(name string) float64 { return rapid.Float64Range(-0.3, 0.3).Draw(t, name) }
		h := harmonics{order: []float64{1, m}, cos: []float64{draw("c1"), draw("c2")}, sin: []float64{draw("s1"), draw("s2")}}
		low := math.Inf(1)
		for a := 0.0; a < 360*q; a += 0.25 {
			low = math.Min(low, h.at(a))
		}
		at := h.lowest(0, q)
		if at < 0 || at >= 360*q || h.at(at) > low+1e-7 {
			t.Fatalf("lowest %g at %g°, a scan finds %g", h.at(at), at, low)
		}
	})
	for ratio, want := range map[float64]float64{46.0 / 17: 17, 2: 1, 2.5: 2, 38.0 / 17: 17, 0.001: 150, 1.06: 50} {
		if got := repeatTurns(ratio); got != want {
			t.Errorf("repeatTurns(%g) = %g, want %g", ratio, got, want)
		}
	}
}
