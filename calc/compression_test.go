package calc

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func twin() given {
	return given{
		"bore": 72.0, "stroke": 80.0, "chamber": 34.0, "deck": 0.50, "dome": 6.5,
		"gasket_thickness": 1.0, "gasket_bore": 73.5,
	}
}

func TestCompression(t *testing.T) {
	// Computed independently.
	out := figuresOf(t, "compression", twin())
	figureNear(t, out, "swept", 325.720, 5e-4)
	figureNear(t, out, "clearance_volume", 33.7787, 5e-5)
	figureNear(t, out, "ratio", 10.6428, 5e-5)
	figureNear(t, out, "squish", 1.5, 1e-12)
	figureNear(t, figuresOf(t, "compression", twin().with("ratio_wanted", 10.5)), "plate_wanted", 0.1247, 5e-5)
	out = figuresOf(t, "compression", twin().with("squish_min", 1.10))
	figureNear(t, out, "plate_wanted", -0.40, 1e-12)
	figureNear(t, out, "ratio_then", 11.131, 5e-4)
	figureNear(t, out, "squish_then", 1.10, 1e-12)
	if d := out.adjustments[0].Direction; d != "take_off" {
		t.Errorf("direction %q, want to take off", d)
	}
	out = figuresOf(t, "compression", twin().with("rod", 160.0).with("inlet_closing", 245.0))
	figureNear(t, out, "remaining_stroke", 61.0658, 5e-5)
	figureNear(t, out, "dynamic_ratio", 8.3606, 5e-5)
}

// Computed independently: 34.2 cm³ with the rim 10.0 mm down in a bore of 72 mm is a dome of 6.515 cm³.
func TestDomeByFilling(t *testing.T) {
	in := twin().with("filled", 34.2).with("filled_down", 10.0)
	refused(t, "compression", in, "filled")
	delete(in, "dome")
	out := figuresOf(t, "compression", in)
	figureNear(t, out, "dome", 6.515, 5e-4)
	figureNear(t, out, "clearance_volume", 33.7787+6.5-out.nums["dome"], 5e-5)
	delete(in, "filled_down")
	refused(t, "compression", in, "filled")
}

func TestCompressionPlates(t *testing.T) {
	in := twin().with("ratio_wanted", 10.0).with("plates", []float64{0.2, 0.3, 0.5, 0.5, 0.8})
	out := figuresOf(t, "compression", in)
	// By hand: 10.0 needs V_c 36.1911, so 0.5925 mm: 0.5 is 0.093 off, 0.7 (0.5 + 0.2) 0.108.
	figureNear(t, out, "plate_wanted", 0.5925, 5e-5)
	if diff := cmp.Diff([]float64{0.5}, out.lists["plates"]); diff != "" {
		t.Error(diff)
	}
	figureNear(t, out, "squish_then", 2.0, 1e-12)
	// A squish of 2.1 wants 0.6 at least: then 0.7 and no less.
	out = figuresOf(t, "compression", in.with("squish_min", 2.1))
	if got := out.nums["squish_then"]; got < 2.1-1e-12 {
		t.Errorf("squish %g under the limit", got)
	}
	refused(t, "compression", in.with("squish_min", 5.0), "plates")
}

// Following the change reaches the ratio: the cylinder is measured again with the plate under it.
func TestCompressionPlateReachesRatio(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := twin().with("deck", rapid.Float64Range(0, 2).Draw(t, "deck")).with("ratio_wanted", rapid.Float64Range(7, 12).Draw(t, "ratio"))
		out, err := outOf("compression", in)
		if err != nil {
			t.Fatal(err)
		}
		again, err := outOf("compression", in.with("deck", in["deck"].(float64)+out.adjustments[0].Amount))
		if err != nil {
			t.Fatal(err)
		}
		if d := again.nums["ratio"] - in["ratio_wanted"].(float64); math.Abs(d) > 1e-9 {
			t.Fatalf("ratio off by %g", d)
		}
		if d := again.nums["squish"] - out.nums["squish_then"]; math.Abs(d) > 1e-12 {
			t.Fatalf("squish off by %g", d)
		}
	})
}

func TestCompressionOffsetPinHasLongerStroke(t *testing.T) {
	// Slider-crank 80 × 160 with an offset of 1 mm: true stroke 80.001667, computed independently.
	out := figuresOf(t, "compression", twin().with("rod", 160.0).with("pin_offset", 1.0))
	figureNear(t, out, "swept", math.Pi/4*72*72*80.001667/1000, 1e-5)
}

func TestCompressionRefuses(t *testing.T) {
	refused(t, "compression", twin().with("dome", 60.0), "dome")
	refused(t, "compression", twin().with("ratio_wanted", 0.9), "ratio_wanted")
	refused(t, "compression", twin().with("rod", 160.0).with("inlet_closing", 65.0), "inlet_closing")
	refused(t, "compression", twin().with("inlet_closing", 245.0), "rod")
	refused(t, "compression", twin().with("rod", 30.0), "rod")
	refused(t, "compression", twin().with("pin_offset", 1.0), "rod")
	refused(t, "compression", twin().with("gasket_thickness", -1.0), "gasket_thickness")
	refused(t, "compression", twin().with("squish_min", -20.0), "squish_min")
	refused(t, "compression", twin().with("ratio_wanted", 9.0).with("plates", every(1, 62)[1:]), "plates")
	refused(t, "compression", twin().with("ratio_wanted", 9.0).with("plates", []float64{1e-9}), "plates")
	refused(t, "compression", twin().with("plates", []float64{0.5}), "plates")
	refused(t, "compression", twin().with("ratio_wanted", 9.0).with("plates", []float64{0.5}).with("max_plates", 0.5), "max_plates")
	g := twin()
	delete(g, "gasket_bore")
	refused(t, "compression", g, "gasket_bore")
	if out := figuresOf(t, "compression", twin().with("deck", -1.6)); len(out.warnings) == 0 {
		t.Error("a piston that meets the head gave no warning")
	}
}

// The plate that is in takes part in the choice: what is told is the whole of it, and a plate that does is never ordered
// again. The bare deck is that of TestCompressionPlates, by hand: of 0.2, 0.3, 0.5, 0.5 and 0.8 mm a ratio of 10.0 wants 0.5.
func TestPlateThatIsIn(t *testing.T) {
	stock := []float64{0.2, 0.3, 0.5, 0.5, 0.8}
	on := func(plate, wanted float64) given { // the deck is read on the plate
		return twin().with("deck", 0.50+plate).with("ratio_wanted", wanted).with("plates", stock).with("plate_now", plate)
	}
	for _, c := range []struct {
		now, wanted float64
		pieces      []float64
		direction   string
		words       string
	}{
		{0, 10.0, []float64{0.5}, "fit", "{direction} {pieces} under the barrel: "},
		{0.5, 10.0, []float64{0.5}, "none", "leave the plate under the barrel: "},
		{0.8, 10.0, []float64{0.5}, "fit", "{direction} {pieces} under the barrel in place of the plate there: "},
		{0.5, 10.64, []float64{}, "take_out", "{direction} the plate of {amount} under the barrel: "},
		{0.2, 11.5, []float64{}, "take_out", "{direction} the plate of {amount} under the barrel: "}, // none is thin enough
	} {
		out := figuresOf(t, "compression", on(c.now, c.wanted))
		a := out.adjustments[0]
		if diff := cmp.Diff(c.pieces, out.lists["plates"]); diff != "" || a.Direction != c.direction || !strings.HasPrefix(a.Words, c.words) {
			t.Errorf("%v in, %v wanted: %s %q, plates %s", c.now, c.wanted, a.Direction, a.Words, diff)
		}
		if c.wanted == 10.0 { // what stands then is the same, whatever is in now
			figureNear(t, out, "squish_then", 2.0, 1e-12)
		}
	}
	refused(t, "compression", on(-0.1, 10), "plate_now")
	refused(t, "compression", twin().with("ratio_wanted", 10.0).with("plate_now", 0.5), "plate_now")
}
