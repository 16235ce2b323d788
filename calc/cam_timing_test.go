package calc

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// lobe is a made-up lobe H·(1 − u²)³ whose events are known exactly; a flank may be wider than the other.
type lobe struct{ lift, centre, before, after float64 }

func (l lobe) at(a float64) float64 {
	u := signed(a-l.centre, 720)
	if u < 0 {
		u /= l.before
	} else {
		u /= l.after
	}
	if math.Abs(u) >= 1 {
		return 0
	}
	return l.lift * math.Pow(1-u*u, 3)
}

// half is how far from the centre the lift falls to h, as a share of the flank.
func (l lobe) half(h float64) float64 { return math.Sqrt(1 - math.Cbrt(h/l.lift)) }

var (
	inletLobe   = lobe{8.5, 105, 150, 150}
	exhaustLobe = lobe{8.2, -108, 152, 158}
)

func turn(from, to, step float64) (angles []float64) {
	for a := from; a < to-1e-9; a += step {
		angles = append(angles, a)
	}
	return angles
}

func (l lobe) sample(angles []float64) (lift []float64) {
	for _, a := range angles {
		lift = append(lift, l.at(a))
	}
	return lift
}

func bothLobes(angles []float64) topIn {
	return topIn{}.list("crank_angle", angles...).list("inlet_lift", inletLobe.sample(angles)...).
		list("exhaust_lift", exhaustLobe.sample(angles)...).num("checking_height", 1)
}

func TestCamTiming(t *testing.T) {
	const source = "computed independently: another monotone cubic through the same samples"
	f := bothLobes(turn(0, 720, 5)).compute(t, camTiming())
	f.want("inlet_opening", 720-717.8774, 5e-5, source)
	f.want("inlet_closing", 212.1226-180, 5e-5, source)
	f.want("exhaust_opening", 215.920-180, 5e-3, "computed independently, exact lobe")
	f.want("exhaust_closing", 4.180, 5e-3, "computed independently, exact lobe")
	f.want("inlet_centre", 105.0, 1e-9, "the lobe it was made from")
	f.want("exhaust_centre", 105.870, 5e-3, "computed independently, exact lobe")
	f.want("lobe_separation", 105.435, 5e-3, "computed independently, exact lobe")
	f.want("overlap", 6.302, 5e-3, "computed independently, exact lobe")
	f.want("advance", 0.435, 5e-3, "105.435 − 105")
	f.want("inlet_nose", 105, 1e-6, "the lobe it was made from")
	f.want("inlet_asymmetry", 0, 1e-9, "a symmetric lobe")
	f.quiet()
	// At a tenth of a degree the exact events come out: −2.1217 and 212.1217.
	f = bothLobes(turn(0, 720, 0.5)).compute(t, camTiming())
	f.want("inlet_opening", 2.1217, 1e-4, "computed independently, exact lobe")
	f.want("inlet_closing", 32.1217, 1e-4, "computed independently, exact lobe")
	if a := f.num("exhaust_asymmetry"); a > -0.1 {
		t.Errorf("a lobe with a longer closing flank leans early at the nose: asymmetry %v", a)
	}
}

func TestCamTimingOneLobe(t *testing.T) {
	a := turn(0, 720, 5)
	f := topIn{}.list("crank_angle", a...).list("inlet_lift", inletLobe.sample(a)...).num("checking_height", 1).list("heights", 1, 6).compute(t, camTiming())
	f.unset("exhaust_centre", "lobe_separation", "overlap", "advance", "exhaust_midpoints")
	f.wantList("inlet_midpoints", []float64{105, 105}, 1e-6, "the lobe it was made from")
}

// The nose by least squares, and the published pair of equal-lift angles.
func TestNose(t *testing.T) {
	lift := []float64{7.19, 7.53, 7.8, 8.05, 8.25, 8.39, 8.47, 8.51, 8.47, 8.39, 8.25, 8.05, 7.81, 7.52, 7.18}
	p, err := fitPolynomial(4, turn(80, 135, 5), lift[2:13], nil) // those above 90 %
	if err != nil {
		t.Fatal(err)
	}
	if at := p.flats(); len(at) != 1 || math.Abs(at[0]-104.949) > 5e-4 {
		t.Errorf("nose at %v, want 104.949 (computed independently; made with 105)", at)
	}
	// Equal lift at 60 and 145.5: centre 102.75 (common practice, published worked example).
	l := lobe{8, 102.75, 150, 150}
	a := turn(0, 720, 2)
	h := l.at(60)
	topIn{}.list("crank_angle", a...).list("inlet_lift", l.sample(a)...).num("checking_height", h).compute(t, camTiming()).
		want("inlet_centre", 102.75, 1e-3, "common practice")
}

// A lobe whose samples rest at just the checking height on both sides: opening is the first such sample, closing the
// last, also across 0/720.
func TestCamTimingPlateau(t *testing.T) {
	a := turn(0, 720, 10)
	lift := make([]float64, len(a))
	for i, x := range a {
		switch u := math.Abs(signed(x-100, 720)); {
		case u <= 80:
			lift[i] = 5
		case u <= 110:
			lift[i] = 1
		}
	}
	f := topIn{}.list("crank_angle", a...).list("inlet_lift", lift...).num("checking_height", 1).compute(t, camTiming())
	f.want("inlet_opening", 10, 1e-9, "the samples: 1 mm from −10°")
	f.want("inlet_closing", 30, 1e-9, "the samples: 1 mm to 210°")
	f.warns("rests at just the checking height")
}

func TestCamTimingRefuses(t *testing.T) {
	g := bothLobes(turn(0, 720, 5))
	g.without("inlet_lift").without("exhaust_lift").refused(t, camTiming(), "inlet_lift")
	g.list("inlet_lift", 1, 2).refused(t, camTiming(), "inlet_lift", "144 angles")
	g.num("checking_height", 9).refused(t, camTiming(), "inlet_lift", "9.000")
	g.list("heights", 9).refused(t, camTiming(), "heights", "9.000")
	bothLobes(append(turn(0, 100, 5), turn(125, 720, 5)...)).refused(t, camTiming(), "crank_angle", "95.0")
	bothLobes(turn(0, 360, 5)).refused(t, camTiming(), "crank_angle", "365")
	bothLobes(turn(0, 15, 5)).refused(t, camTiming(), "crank_angle")
	bothLobes(turn(0, 720, 20)).compute(t, camTiming())
	lift := inletLobe.sample(turn(0, 720, 5))
	for i := range lift {
		lift[i] += 1.5
	}
	g.list("inlet_lift", lift...).refused(t, camTiming(), "inlet_lift", "base circle")
	// Zeroed at the firing top dead centre, everything is 360° out.
	var firing []float64
	for _, a := range turn(0, 720, 5) {
		firing = append(firing, a+360)
	}
	g.list("crank_angle", firing...).compute(t, camTiming()).warns("overlap")
	neverPanics(t, camTiming(), bothLobes(turn(0, 720, 18)))
}

// Random lobes, sampled irregularly, in any order, some angles twice, with the encoder's zero anywhere: the events are
// those of the lobe.
func TestCamTimingFindsLobe(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := lobe{rapid.Float64Range(6, 12).Draw(t, "lift"), rapid.Float64Range(95, 120).Draw(t, "centre"),
			rapid.Float64Range(130, 170).Draw(t, "before"), rapid.Float64Range(130, 170).Draw(t, "after")}
		zero := rapid.Float64Range(-30, 30).Draw(t, "zero")
		a := rapid.Float64Range(0, 1).Draw(t, "start")
		var angles []float64
		for ; a < 720; a += rapid.Float64Range(0.5, 3).Draw(t, "step") {
			angles = append(angles, a)
			if rapid.IntRange(0, 9).Draw(t, "twice") == 0 {
				angles = append(angles, a)
			}
		}
		angles = rapid.Permutation(angles).Draw(t, "order")
		var shifted []float64
		for _, a := range angles {
			shifted = append(shifted, a+zero)
		}
		h := rapid.Float64Range(0.5, 2).Draw(t, "height")
		out, err := topIn{}.list("crank_angle", shifted...).list("inlet_lift", in.sample(angles)...).num("checking_height", h).try(camTiming())
		if err != nil {
			t.Fatal(err)
		}
		if got, want := out.nums["inlet_opening"], -(in.centre + zero - in.before*in.half(h)); math.Abs(got-want) > 0.1 {
			t.Fatalf("opening %v, want %v", got, want)
		}
		if got, want := out.nums["inlet_closing"], in.centre+zero+in.after*in.half(h)-180; math.Abs(got-want) > 0.1 {
			t.Fatalf("closing %v, want %v", got, want)
		}
		if got, want := out.nums["inlet_duration"], (in.before+in.after)*in.half(h); math.Abs(got-want) > 0.2 {
			t.Fatalf("duration %v, want %v", got, want)
		}
	})
}

// A lobe whose flanks differ: the quartic about the nose, with what it may be wrong by. Computed independently, no published
// example: H 8.8, centre 103, half-widths 148 and 157, every 5°.
func TestCamTimingLeaningLobe(t *testing.T) {
	const source = "computed independently, no published example"
	l := lobe{8.8, 103, 148, 157}
	a := turn(0, 720, 5)
	g := topIn{}.list("crank_angle", a...).list("inlet_lift", l.sample(a)...).num("checking_height", 1)
	f := g.compute(t, camTiming())
	f.want("inlet_nose", 103.25, 0.005, source)
	f.want("inlet_opening", 3.275, 0.01, source)
	f.want("inlet_closing", 215.738-180, 0.01, source)
	near(t, "half-width", f.out.model["inlet_nose"], 0.29, 0.005)
	wide, ok := newLiftCurve(a, l.sample(a))
	if !ok {
		t.Fatal("no curve")
	}
	member, x := wide.noseMembers(a, 0.8*wide.most)
	y := make([]float64, len(x))
	for i, m := range member {
		y[i] = l.at(a[m])
	}
	p, err := fitPolynomial(4, x, y, nil)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "quartic above 80 %", p.flats()[0], 103.41, 0.005)
	// A base circle that does not read zero, and what it is worth.
	for base, want := range map[float64]float64{0.05: 4.118, 0.2: 6.795} {
		raised := l.sample(a)
		for i := range raised {
			raised[i] += base
		}
		off := g.list("inlet_lift", raised...).compute(t, camTiming())
		off.want("inlet_opening", want, 0.02, source)
		off.warns("worth")
		if base == 0.05 {
			off.warns("worth 0.8")
		}
	}
}

// The lobe alone is enough where both ends lie under every height asked for.
func TestCamTimingLobeAlone(t *testing.T) {
	l := lobe{8.8, 103, 150, 150}
	run := func(from, to float64) topIn {
		a := turn(from, to+0.1, 5)
		return topIn{}.list("crank_angle", a...).list("inlet_lift", l.sample(a)...).num("checking_height", 1)
	}
	whole := run(-100, 619).compute(t, camTiming())
	alone := run(-40, 245).compute(t, camTiming())
	for _, name := range []string{"inlet_opening", "inlet_closing", "inlet_centre", "inlet_nose", "inlet_duration"} {
		alone.want(name, whole.num(name), 1e-6, "the whole cycle of the same lobe")
	}
	alone.warns("base circle was not sampled")
	run(20, 245).refused(t, camTiming(), "crank_angle", "20.0°")
	run(-40, 190).refused(t, camTiming(), "crank_angle", "190.0°")
	run(-40, 245).list("heights", 0.001, 5).refused(t, camTiming(), "crank_angle", "0.001")
	// It must fall outwards, and be one run.
	g := run(-40, 245)
	lift := g["inlet_lift"].List
	lift[0].X = 0.5
	g.refused(t, camTiming(), "crank_angle", "rises again")
	two := append(turn(-40, 60, 5), turn(90, 246, 5)...)
	topIn{}.list("crank_angle", two...).list("inlet_lift", l.sample(two)...).num("checking_height", 1).refused(t, camTiming(), "crank_angle", "2 such gaps")
	// Five samples about the top make no nose.
	a := turn(0, 720, 18)
	sparse := topIn{}.list("crank_angle", a...).list("inlet_lift", l.sample(a)...).num("checking_height", 1).compute(t, camTiming())
	sparse.unset("inlet_nose")
	sparse.warns("nose is not fitted")
}

// A wrong zero of the base circle is no reading error: half the checking height and more is refused.
func TestCamTimingBaseCircle(t *testing.T) {
	g := bothLobes(turn(0, 720, 5))
	for _, off := range []float64{-0.6, 0.6} {
		lift := inletLobe.sample(turn(0, 720, 5))
		for i := range lift {
			lift[i] += off
		}
		g.list("inlet_lift", lift...).refused(t, camTiming(), "inlet_lift", "half the checking height")
	}
}

// The stated uncertainty of the nose covers the truth, honest or ten times too small. Computed independently, no published
// example.
func TestNoseCoverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 90))
	a := turn(-100, 320, 5)
	for _, stated := range []float64{1, 0.1} {
		const lobes = 300
		covered := 0
		for range lobes {
			l := lobe{8.8, 103 + rng.Float64(), 150, 150}
			lift := l.sample(a)
			for i := range lift {
				lift[i] += 0.01 * rng.NormFloat64()
			}
			in := topIn{}.list("crank_angle", a...).num("checking_height", 1)
			in["inlet_lift"] = spreadList(0.01*stated, lift...)
			f, ok := mustRun(t, Request{Method: "cam-timing", Inputs: in}).Figure("inlet_nose")
			if !ok {
				t.Fatal("no nose")
			}
			if math.Abs(*f.Value-l.centre) <= f.U {
				covered++
			}
		}
		if share := 100 * float64(covered) / lobes; share < 93 || share > 99 {
			t.Errorf("stated %g times the scatter: covered %.1f %%", stated, share)
		}
	}
}

func TestCamEvents(t *testing.T) {
	const source = "common practice, published worked example"
	q := func(io, ic, eo, ec float64) topIn {
		return topIn{}.num("inlet_opening", io).num("inlet_closing", ic).num("exhaust_opening", eo).num("exhaust_closing", ec)
	}
	f := q(20, 60, 60, 20).compute(t, camEvents())
	f.want("inlet_duration", 260, 1e-9, source)
	f.want("exhaust_duration", 260, 1e-9, source)
	f.want("advance", 0, 1e-9, source)
	f = q(25, 55, 65, 15).compute(t, camEvents()) // the same camshaft advanced by 5°
	f.want("inlet_centre", 105, 1e-9, source)
	f.want("exhaust_centre", 115, 1e-9, source)
	f.want("lobe_separation", 110, 1e-9, source)
	f.want("advance", 5, 1e-9, source)
	f.want("overlap", 40, 1e-9, source)
	f = q(6, 42, 40, 12).compute(t, camEvents())
	f.want("inlet_duration", 228, 1e-9, source)
	f.want("inlet_centre", 108, 1e-9, source)
	f.want("overlap", 18, 1e-9, source)
	q(6, 42, 40, 12).without("exhaust_closing").refused(t, camEvents(), "exhaust_closing")
	q(6, 42, 40, 12).without("exhaust_opening").refused(t, camEvents(), "exhaust_opening")
	q(-100, -100, 1, 1).refused(t, camEvents(), "inlet_opening", "-20.0")
	q(6, 42, 1, 1).without("exhaust_opening").without("exhaust_closing").compute(t, camEvents()).unset("advance")
	neverPanics(t, camEvents(), q(6, 42, 40, 12))
}

// Sampled lift and quoted events of one camshaft say the same.
func TestCamTimingAgreesWithEvents(t *testing.T) {
	f := bothLobes(turn(0, 720, 2)).compute(t, camTiming())
	q := topIn{}
	for _, name := range []string{"inlet_opening", "inlet_closing", "exhaust_opening", "exhaust_closing"} {
		q = q.num(name, f.num(name))
	}
	g := q.compute(t, camEvents())
	for _, name := range []string{"inlet_duration", "exhaust_duration", "inlet_centre", "exhaust_centre", "lobe_separation", "overlap", "advance"} {
		g.want(name, f.num(name), 1e-9, "from the lift curve")
	}
}

func BenchmarkCamTiming(b *testing.B) {
	bothLobes(turn(0, 720, 0.5)).bench(b, camTiming())
}

// A trace of two whole turns, stopped at every 5 degrees, with several samples at each stop a count apart, and the last
// stop where the first was: the events are as sure as the readings, whatever lies between two samples of one place.
func TestCamTimingOfAStopAndGoTrace(t *testing.T) {
	var angle, lift []Num
	for d := 0.0; d <= 720; d += 5 {
		for k := range 2 {
			at := d - 0.01 + 0.02*float64(k)
			u := math.Remainder(at-104.4, 720) / 150
			x := 0.0
			if u*u < 1 {
				x = 8 * math.Pow(1-u*u, 3)
			}
			angle = append(angle, Num{X: at})
			lift = append(lift, Num{X: x + 0.001*float64(k), Us: []Component{{Name: "resolution", U: 0.0007}}})
		}
	}
	res, err := Run(Request{Method: "cam-timing", Inputs: map[string]Val{
		"crank_angle": {List: angle}, "inlet_lift": {List: lift}, "checking_height": {Num: &Num{X: 1}}}})
	if err != nil || res.Refused != "" {
		t.Fatal(err, res.Refused)
	}
	for _, name := range []string{"inlet_opening", "inlet_closing"} {
		// 0.0007 mm over a slope of about 0.04 mm a degree at 1 mm of lift is 0.02 degrees, computed independently.
		if f, ok := res.Figure(name); !ok || f.U > 0.1 {
			t.Errorf("%s: U is %.3f deg, want under 0.1", name, f.U)
		}
	}
	if f, ok := res.Figure("inlet_centre"); !ok || math.Abs(*f.Value-104.4) > 0.05 {
		t.Errorf("inlet centre is %.3f, want 104.4", *f.Value)
	}
}

// The slopes given are those of the computation, for every figure and every sample: lifts and angles, samples at one place and
// the two ends of a whole turn among them.
func TestCamTimingSlopes(t *testing.T) {
	a := append(turn(-3.3, 716, 7.2), 12.04, 12.06, 716.69)
	in := lobe{8.8, 103, 148, 157}
	for name, g := range map[string]topIn{
		"one lobe":   topIn{}.list("crank_angle", a...).list("inlet_lift", in.sample(a)...).num("checking_height", 1),
		"two lobes":  topIn{}.list("crank_angle", a...).list("inlet_lift", in.sample(a)...).list("exhaust_lift", exhaustLobe.sample(a)...).num("checking_height", 1.1).list("heights", 2, 6),
		"lobe alone": topIn{}.list("crank_angle", turn(-45, 250, 6)...).list("inlet_lift", in.sample(turn(-45, 250, 6))...).num("checking_height", 1),
	} {
		m := camTiming()
		base := &Out{method: &m, nums: map[string]float64{}, wantSlopes: true}
		if err := m.Compute(Args{m.Inputs, g}, base); err != nil {
			t.Fatal(name, err)
		}
		for input, slopes := range base.slopes {
			for i := range g[input].List {
				const h = 1e-4
				moved := func(by float64) *Out {
					vals := cloneVals(g)
					vals[input].List[i].X += by
					out, err := compute(&m, vals)
					if err != nil {
						t.Fatal(name, err)
					}
					return out
				}
				up, down := moved(h), moved(-h)
				for _, f := range m.Figures {
					for at, x := range base.values(f.Name) {
						row := slopes.rows[slotName{f.Name, at}]
						got := 0.0
						if row != nil {
							got = row[i]
						}
						want := (up.values(f.Name)[at] - down.values(f.Name)[at]) / (2 * h)
						if math.Abs(got-want) > 1e-3*math.Max(1, math.Abs(want)) {
							t.Errorf("%s: %s[%d] = %.4f by %s[%d]: %.5f, difference %.5f", name, f.Name, at, x, input, i, got, want)
						}
					}
				}
			}
		}
	}
}

// A sweep of 1,440 samples, each with its uncertainty, both lobes.
func BenchmarkCamTimingRun1440(b *testing.B) {
	g := bothLobes(turn(0, 720, 0.5))
	for _, name := range []string{"crank_angle", "inlet_lift", "exhaust_lift"} {
		for i := range g[name].List {
			g[name].List[i].Us = []Component{{Name: "resolution", U: 0.003}}
		}
	}
	for b.Loop() {
		if _, err := Run(Request{Method: "cam-timing", Inputs: g}); err != nil {
			b.Fatal(err)
		}
	}
}
