package calc

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func stop(forward, back float64) topIn { return topIn{}.num("forward", forward).num("back", back) }

func TestTDCStop(t *testing.T) {
	// A published worked example, from common practice: 36.75 and 35.25 either side, the wheel is out by 0.75°.
	f := stop(-36.75, 35.25).compute(t, tdcStop())
	f.want("midpoint", -0.75, 1e-12, "common practice")
	f.want("wheel_correction", 0.75, 1e-12, "common practice")
	f.want("arc", 72, 1e-12, "common practice: 36 either side")
	const source = "computed independently"
	stop(338.6, 24.2).compute(t, tdcStop()).want("tdc", 1.4, 1e-9, source)
	stop(352.4, 14.2).compute(t, tdcStop()).want("tdc", 3.3, 1e-9, source)
	stop(338.6, 24.2).compute(t, tdcStop()).want("wheel_correction", -1.4, 1e-9, source)
	// The two in the other order, and the plain mean that must not come out: (350 + 14)/2 = 182.
	stop(24.2, 338.6).compute(t, tdcStop()).want("tdc", 1.4, 1e-9, source)
	stop(350, 14).compute(t, tdcStop()).want("tdc", 2, 1e-9, "arithmetic")

	c := crank80().num("pin_offset", 1)
	for _, drop := range []bool{true, false} {
		crank, _ := crankOf(Args{crankInputs(true), c})
		before, after := crank.sides(20)
		in := c.num("forward", 10-before).num("back", 10+after)
		if drop {
			in = in.num("stop_drop", 20)
		}
		f := in.compute(t, tdcStop())
		f.want("offset_error", 0.0318, 5e-5, source)
		f.want("tdc", 10, 1e-9, "the geometry it was made from")
		f.quiet()
	}
}

func TestTDCStopRefuses(t *testing.T) {
	stop(36.75, 35.25).refused(t, tdcStop(), "back", "negative")
	stop(270, 89).refused(t, tdcStop(), "back", "179")
	stop(-30, 30).num("pin_offset", 1).refused(t, tdcStop(), "pin_offset", "rod")
	stop(-30, 30).num("stop_drop", 8).refused(t, tdcStop(), "stop_drop")
	crank80().num("forward", -30).num("back", 30).num("stop_drop", 81).refused(t, tdcStop(), "stop_drop", "81")
	crank80().num("forward", -30).num("back", 30).num("stop_drop", 30).compute(t, tdcStop()).warns("move")
	stop(-8, 8).compute(t, tdcStop()).warns("lower")
	neverPanics(t, tdcStop(), crank80().num("pin_offset", 1).num("forward", -33).num("back", 34).num("stop_drop", 8))
}

func tdcReadings() topIn {
	return crank80().num("pin_offset", 1).
		list("crank_angle", 318.0, 323.5, 330.2, 336.9, 341.0, 347.7, 2.6, 8.8, 14.3, 19.9, 27.4, 31.6).
		list("reading", 15.43, 18.0, 20.65, 22.71, 23.65, 24.66, 24.48, 23.42, 22.03, 20.18, 17.05, 15.01)
}

func TestTDCFit(t *testing.T) {
	const source = "computed independently; readings made with 354.37 and 25.00 mm"
	for _, g := range []topIn{tdcReadings(), tdcReadings().num("sense", -1)} {
		f := g.compute(t, tdcFit())
		f.want("tdc", 354.374, 5e-4, source)
		f.want("reading_at_tdc", 25.0000, 5e-4, source)
		f.want("rms", 0.0062, 5e-5, source)
		f.want("u_tdc", 0.006, 5e-4, source)
		f.unset("tdc_reverse", "backlash")
		f.quiet()
	}
	tdcReadings().num("pin_offset", 0).compute(t, tdcFit()).want("tdc", 354.384, 5e-4, source)
}

// Computed independently, no published example: an encoder with lost motion trails the crank, so turned backwards it
// shows the top later. Forward 3.42°, backwards 4.05°: + 0.63°.
func TestTDCFitBacklash(t *testing.T) {
	c := sliderCrank{r: 40, l: 160}
	lists := func(tdc float64) (phi, r []float64) {
		for _, a := range []float64{-40, -30, -20, 20, 30, 40} {
			phi, r = append(phi, tdc+a), append(r, 20-c.drop(a))
		}
		return phi, r
	}
	phi, r := lists(3.42)
	back, rBack := lists(4.05)
	g := crank80().list("crank_angle", phi...).list("reading", r...)
	f := g.list("reverse_crank_angle", back...).list("reverse_reading", rBack...).compute(t, tdcFit())
	f.want("backlash", 0.63, 1e-6, "made so")
	f.quiet()
	g = crank80().list("crank_angle", back...).list("reading", rBack...)
	f = g.list("reverse_crank_angle", phi...).list("reverse_reading", r...).compute(t, tdcFit())
	f.want("backlash", -0.63, 1e-6, "made so, exchanged")
	f.warns("exchanged")
}

func TestTDCFitRefuses(t *testing.T) {
	g := tdcReadings()
	g.num("sense", 1).refused(t, tdcFit(), "sense")
	g.num("sense", 0.5).refused(t, tdcFit(), "sense", "0.5")
	g.list("reading", 1, 2, 3).refused(t, tdcFit(), "reading", "12 angles")
	g.list("crank_angle", 318, 323.5).list("reading", 15.43, 18.0).refused(t, tdcFit(), "crank_angle")
	g.list("crank_angle", 318, 323.5, 330.2, 336.9).list("reading", 15.43, 18.0, 20.65, 22.71).refused(t, tdcFit(), "crank_angle", "both sides")
	g.list("reverse_crank_angle", 10).refused(t, tdcFit(), "reverse_reading")
	neverPanics(t, tdcFit(), g.list("reverse_crank_angle", 318, 330, 2, 20).list("reverse_reading", 15.4, 20.6, 24.5, 20.2))
}

// Readings made from the geometry give it back, wherever the encoder's zero, in whatever order, rising or falling; a
// second set with lost motion gives the lost motion; in another unit the angle is the same.
func TestTDCFitFindsGeometry(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCrank(t)
		tdc := rapid.Float64Range(0, 360).Draw(t, "tdc")
		lost := rapid.Float64Range(-1, 1).Draw(t, "lost")
		sense := rapid.SampledFrom([]float64{1, -1}).Draw(t, "sense")
		at := rapid.Permutation([]float64{-44, -35, -27, -16, 14, 22, 31, 45}).Draw(t, "order")
		var phi, r, phiBack []float64
		for _, a := range at {
			phi = append(phi, wrap(tdc+a, 360))
			phiBack = append(phiBack, wrap(tdc+lost+a, 360)) // + = the wheel trails, so the other way round the top comes later
			r = append(r, 3+sense*c.drop(a))
		}
		g := topIn{}.num("stroke", 2*c.r).num("rod", c.l).num("pin_offset", c.e).list("crank_angle", phi...).list("reading", r...).
			list("reverse_crank_angle", phiBack...).list("reverse_reading", r...)
		out, err := g.try(tdcFit())
		if err != nil {
			t.Fatal(err)
		}
		if d := signed(out.nums["tdc"]-tdc, 360); math.Abs(d) > 1e-7 {
			t.Fatalf("tdc %v, made with %v", out.nums["tdc"], tdc)
		}
		if d := out.nums["backlash"] - lost; math.Abs(d) > 1e-7 {
			t.Fatalf("backlash %v, made with %v", out.nums["backlash"], lost)
		}
		if d := out.nums["reading_at_tdc"] - 3; math.Abs(d) > 1e-7 {
			t.Fatalf("reading at tdc %v, made with 3", out.nums["reading_at_tdc"])
		}
	})
}
