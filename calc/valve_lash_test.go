package calc

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thoud/calc/quantity"
)

func lash(now, target, pitch float64) topIn {
	return topIn{}.num("lash", now).num("target", target).num("pitch", pitch)
}

func TestValveLash(t *testing.T) {
	const source = "computed independently"
	const tpi26 = inch / 26 // BS 811
	f := lash(inch/26+0.1, 0.1, tpi26).compute(t, valveLash())
	f.want("turns", 1, 1e-9, "one turn of 26 threads an inch (BS 811) is 1/26 in")
	f.want("flats", 6, 1e-9, "six flats a turn")
	lash(inch*0.00641+0.1, 0.1, tpi26).compute(t, valveLash()).want("flats", 1, 1e-3, source)
	lash(inch*0.00962+0.1, 0.1, tpi26).num("flats", 4).compute(t, valveLash()).want("flats", 1, 1e-3, source)
	lash(0.15, 0.10, tpi26).compute(t, valveLash()).want("degrees", 18.43, 5e-3, source)
	lash(0.15, 0.10, tpi26).text("adjuster", "pushrod").num("ratio", 1.1).compute(t, valveLash()).want("degrees", 16.75, 5e-3, source)
	lash(0.15, 0.10, tpi26).text("adjuster", "valve").num("ratio", 1.1).compute(t, valveLash()).want("degrees", 18.43, 5e-3, "the ratio does not count at the valve")
	f = lash(inch*0.006, inch*0.004, tpi26).compute(t, valveLash())
	f.want("flats", 0.312, 5e-4, source)
	if f.text("direction") != "tighten" {
		t.Errorf("direction %q", f.text("direction"))
	}
	f = lash(0.10, 0.15, tpi26).compute(t, valveLash())
	if a := f.adjustment(); a.Direction != "slacken" || a.Amount >= 0 {
		t.Errorf("%+v", a)
	}
	res, err := Run(Request{Method: "valve-lash", Inputs: lash(0.10, 0.15, 1)})
	if err != nil {
		t.Fatal(err)
	}
	if a := res.Adjustment[0]; a.Large.MM != "a quarter of a flat" || a.Words.MM != "slacken the adjuster by a quarter of a flat (6 flats a turn), lock it and measure again" {
		t.Errorf("shown as %q, %q", a.Large.MM, a.Words.MM)
	} else if !a.Target {
		t.Error("a quarter of a flat is not told as an order")
	}
	// A hand turns an adjuster by an eighth of a flat at least (common practice: quarters): 0.3 thou at 26 threads an inch is less.
	if res, err = Run(Request{Method: "valve-lash", Inputs: lash(inch*0.0043, inch*0.004, tpi26)}); err != nil {
		t.Fatal(err)
	}
	if a := res.Adjustment[0]; a.Words.Inch != leaveIt || a.Target || a.Direction != "tighten" || math.Abs(a.Amount-0.0468) > 1e-9 {
		t.Errorf("too little for a hand: %+v", a)
	}
	if f, _ := res.Figure("flats"); f.Shown.Inch != "0.0468" {
		t.Errorf("the figure keeps its digits: %q", f.Shown.Inch)
	}
	if form := string(WriteForm(res, quantity.Metric)); !strings.Contains(form, `"unit": "flats"`) {
		t.Errorf("%s does not name the unit", form)
	}
	lash(0, 0.1, 1).compute(t, valveLash()).warns("slacken")
	if a := lash(0.1, 0.1, 1).compute(t, valveLash()).adjustment(); a.Direction != "none" {
		t.Errorf("%+v", a)
	}
	lash(-0.1, 0.1, 1).refused(t, valveLash(), "lash", "-0.1")
	lash(0.1, -0.1, 1).refused(t, valveLash(), "target")
	lash(0.1, 0.1, 1).num("flats", 5).refused(t, valveLash(), "flats", "5")
	lash(0.1, 0.1, 1).text("adjuster", "pushrod").refused(t, valveLash(), "ratio")
	neverPanics(t, valveLash(), lash(0.15, 0.1, 1).text("adjuster", "pushrod").num("ratio", 1.1).num("flats", 4))
}

// A rocker as two arms about a pivot: the adjuster screwed in as said leaves the target under the valve end, to the
// difference between an arc and its tangent.
func TestValveLashReachesTarget(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		valveArm, pushrodArm := rapid.Float64Range(25, 45).Draw(t, "valve arm"), rapid.Float64Range(20, 45).Draw(t, "pushrod arm")
		now, target := rapid.Float64Range(0.02, 0.4).Draw(t, "lash"), rapid.Float64Range(0.02, 0.4).Draw(t, "target")
		pitch := rapid.Float64Range(0.7, 1.3).Draw(t, "pitch")
		end := rapid.SampledFrom([]string{"valve", "pushrod"}).Draw(t, "adjuster")
		out, err := lash(now, target, pitch).text("adjuster", end).num("ratio", valveArm/pushrodArm).try(valveLash())
		if err != nil {
			t.Fatal(err)
		}
		// Screwed in, the screw stands out further by a pitch a turn. At the valve end that fills the gap; at the
		// pushrod end it turns the rocker, whose other end goes down.
		out1 := out.nums["turns"] * pitch
		left := now - out1
		if end == "pushrod" {
			left = now - valveArm*math.Sin(math.Asin(out1/pushrodArm))
		}
		if math.Abs(left-target) > 1e-9 {
			t.Fatalf("left %v, want %v", left, target)
		}
	})
}

func TestLashPositions(t *testing.T) {
	c := topIn{}.num("inlet_centre", 105).num("exhaust_centre", 105.87)
	f := c.compute(t, lashPositions())
	// Full lift of the other cylinder's same valve, pistons together (common practice): its centre as it stands for
	// cylinder 2, 360° on for cylinder 1.
	f.want("inlet_2", 105, 1e-9, "common practice: cylinder 1 inlet at full lift")
	f.want("exhaust_2", 720-105.87, 1e-9, "common practice: cylinder 1 exhaust at full lift")
	f.want("inlet_1", 465, 1e-9, "common practice")
	f.want("exhaust_1", 254.13, 1e-9, "common practice")
	// Whatever the firing interval, every valve has its own lobe's base circle there.
	for _, interval := range []float64{180, 270, 360, 540} {
		f := c.num("firing_interval", interval).compute(t, lashPositions())
		for name, l := range map[string]lobe{"inlet_1": inletLobe, "exhaust_1": exhaustLobe,
			"inlet_2":   {8.5, 105 + interval, 150, 150},
			"exhaust_2": {8.2, -108 + interval, 152, 158}} {
			if got := l.at(f.num(name)); got != 0 {
				t.Errorf("interval %v: %s set at %v where its lift is %v", interval, name, f.num(name), got)
			}
		}
	}
	c.num("firing_interval", 720).refused(t, lashPositions(), "firing_interval", "720")
	c.num("inlet_centre", -5).refused(t, lashPositions(), "inlet_centre", "-5")
	neverPanics(t, lashPositions(), c.num("firing_interval", 360))
}
