package calc

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func crank80() topIn { return topIn{}.num("stroke", 80).num("rod", 160) }

func TestPistonPosition(t *testing.T) {
	const source = "computed independently, 30 digits"
	f := crank80().num("angle", 38).num("drop", 8).compute(t, pistonPosition())
	f.want("drop_before", 10.386124, 5e-7, source)
	f.want("drop_after", 10.386124, 5e-7, source)
	f.want("degrees_before", 33.12294, 5e-6, source)
	f.want("degrees_after", 33.12294, 5e-6, source)
	f.want("true_stroke", 80, 1e-12, "2R without offset")
	crank80().num("drop", inch*5/16).compute(t, pistonPosition()).want("degrees_before", 32.98746, 5e-6, source)

	f = crank80().num("pin_offset", 1).num("angle", 30).num("drop", 8).compute(t, pistonPosition())
	f.want("crank_angle_at_tdc", 0.28648, 5e-6, source)
	f.want("true_stroke", 80.001667, 5e-7, source)
	f.want("tdc_to_bdc", 180.19099, 5e-6, source)
	f.want("drop_before", 6.61816, 5e-6, source)
	f.want("drop_after", 6.60983, 5e-6, source)
	f.want("degrees_before", 33.11078, 5e-6, source)
	f.want("degrees_after", 33.13465, 5e-6, source)
	f = crank80().num("pin_offset", -1).num("angle", 30).num("drop", 8).compute(t, pistonPosition())
	f.want("drop_before", 6.60983, 5e-6, source)
	f.want("degrees_after", 33.11078, 5e-6, source)
}

func TestPistonPositionRefuses(t *testing.T) {
	crank80().refused(t, pistonPosition(), "angle")
	crank80().num("drop", -0.1).refused(t, pistonPosition(), "drop", "-0.1")
	crank80().num("drop", 80.1).refused(t, pistonPosition(), "drop", "80.1")
	crank80().num("angle", -30).refused(t, pistonPosition(), "angle", "-30")
	topIn{}.num("stroke", 80).num("rod", 40).num("angle", 10).refused(t, pistonPosition(), "rod", "40.000")
	topIn{}.num("stroke", 80).num("rod", 45).num("pin_offset", 6).num("angle", 10).refused(t, pistonPosition(), "rod")
	neverPanics(t, pistonPosition(), crank80().num("pin_offset", 1).num("angle", 30).num("drop", 8))
}

func drawCrank(t *rapid.T) sliderCrank {
	stroke := rapid.Float64Range(40, 120).Draw(t, "stroke")
	rod := stroke * rapid.Float64Range(1.4, 2.6).Draw(t, "rod ratio")
	offset := rapid.Float64Range(-3, 3).Draw(t, "offset")
	out := topIn{}.num("stroke", stroke).num("rod", rod).num("pin_offset", offset)
	c, err := crankOf(Args{crankInputs(false), out})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The piston pin, placed by hand: crankpin on its circle, pin on its line, the rod's length between them.
func TestSliderCrankGeometry(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCrank(t)
		a := rapid.Float64Range(-179, 179).Draw(t, "angle")
		x, y := c.r*math.Sin(c.top+radians(a)), c.r*math.Cos(c.top+radians(a))
		pin := c.yTop - c.drop(a)
		if got := math.Hypot(x-c.e, pin-y); math.Abs(got-c.l) > 1e-9 {
			t.Fatalf("the rod would have to be %v, is %v", got, c.l)
		}
		if c.drop(a) < -1e-9 || c.drop(a) > c.stroke()+1e-9 {
			t.Fatalf("drop %v outside the stroke %v", c.drop(a), c.stroke())
		}
		numeric := (c.drop(a+1e-4) - c.drop(a-1e-4)) / 2e-4
		if math.Abs(numeric-c.slope(a)) > 1e-7 {
			t.Fatalf("slope %v, numerically %v", c.slope(a), numeric)
		}
		if math.Abs(c.drop(c.bottom())-c.stroke()) > 1e-9 {
			t.Fatalf("at bottom dead centre the drop is %v of %v", c.drop(c.bottom()), c.stroke())
		}
	})
}

// Angle and drop are inverses; an offset the other way is the same engine turned the other way; falling is monotone.
func TestSliderCrankInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawCrank(t)
		d := rapid.Float64Range(0.001, 0.99).Draw(t, "share") * c.stroke()
		before, after := c.sides(d)
		if math.Abs(c.drop(after)-d) > 1e-9 || math.Abs(c.drop(-before)-d) > 1e-9 {
			t.Fatalf("drops %v, %v, want %v", c.drop(-before), c.drop(after), d)
		}
		if got := c.dropOfArc(before + after); math.Abs(got-d) > 1e-8 {
			t.Fatalf("an arc of %v has a drop of %v, want %v", before+after, got, d)
		}
		m := sliderCrank{c.r, c.l, -c.e, -c.top, c.yTop, c.yBD}
		if b, a := m.sides(d); math.Abs(b-after) > 1e-9 || math.Abs(a-before) > 1e-9 {
			t.Fatalf("mirrored %v %v, want %v %v", b, a, after, before)
		}
		if _, more := c.sides(d + 0.001*c.stroke()); more <= after {
			t.Fatalf("deeper at %v, less deep at %v", more, after)
		}
	})
}
