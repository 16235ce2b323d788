// Package example is the example engine of the plans that ship, as it should be: what ideal gauges read at every point,
// made up so that every limit is met. Tests and the demonstration measure it. It knows nothing of gauges, errors or
// time, and answers for no plan but those that ship.
package example

import (
	"math"
	"strings"

	"thoud/capture/plan"
)

const inch = 25.4

// readings is the table of what is read; a key is STEP/POINT with stars for whole parts. Where a number follows from a
// formula, the formula stands there.
var readings = []struct {
	key string
	x   float64
}{
	{"rod-weighing/*.small", 142}, {"rod-weighing/*.big", 318}, {"rod-weighing/*.whole", 460},
	// Balance factor (hung + small ends)/(reciprocating), for each cylinder (174.82 + 142)/(369 + 142) = 0.62.
	{"balance/*.piston", 285}, {"balance/*.pin", 62}, {"balance/*.rings", 18}, {"balance/*.clips", 4}, {"balance/hung", 174.82},
	{"float-gap/push", 0}, {"float-gap/pull", 0.031 * inch}, // 0.023 in of shims leave 0.008 in
	{"end-float/push", 0}, {"end-float/pull", 0.008 * inch},
	{"block-holes/*", 25}, {"block-fit/*", 25 - 0.001*inch},
	{"follower-holes/*.*", 12.7}, {"follower-fit/*.*", 12.7 - 0.0014*inch},
	{"screw-line/*.top", 8}, {"screw-line/*.bottom", 8.02},
	{"guide-clearance/*.start", 0.300 * inch}, {"guide-clearance/*.contact", 0.212 * inch}, {"guide-clearance/*.now", 0.162 * inch},
	{"cone-seat/*.pilot", inch * 3 / 16}, {"cone-seat/*.seat", inch / 8},
	{"guide-cone/*.now", 0.162 * inch},
	{"piston-size/*", 71 - 0.0047*inch}, {"bore-map/*.10mm.*", 71.004}, {"bore-map/*.40mm.*", 71}, {"bore-map/*.75mm.*", 70.998},
	{"ring-gap-top/*", 0.0045*70.998 + math.Pi*0.002}, {"ring-gap-second/*", 0.0050*70.998 + math.Pi*0.002},
	{"ring-side/*.*", 0.002 * inch},
	{"pin-fit/*", 18}, {"pin-holes/*.small-end", 18 + 0.00075*inch}, {"pin-holes/*.boss", 18 + 0.0002*inch},
	{"deck/*.front", 0.5}, {"deck/*.rear", 0.3},
	{"compression/*.chamber", 36}, {"compression/*.crown", 3.5},
	{"tdc/*.forward", 360 - stopAngle()}, {"tdc/*.back", stopAngle()},
	{"spring-height/*.*", 40}, {"spring-height/*.*.inner", 38.5},
	{"inlet-to-piston-*/push", 2.6}, {"exhaust-to-piston-*/push", 3.4},
	{"rockers/*.*", 7.1048}, // asin(lift/2/arm) = asin(4.7/38): square at half lift
	{"base-bolts/*", 0.133}, {"head-bolts/*", 31},
	{"lash-inlet/*", 0.004 * inch}, {"lash-exhaust/*", 0.006 * inch},
	{"ignition/*", 8},
}

// drop is the piston's way down from the top for the example engine, without pin offset: slider and crank.
func drop(deg float64) float64 {
	const r, l = 41, 165
	s, c := math.Sincos(deg * math.Pi / 180)
	return r + l - r*c - math.Sqrt(l*l-r*r*s*s)
}

// stopAngle is where the piston is 20 mm down, by bisection.
func stopAngle() float64 {
	lo, hi := 0.0, 180.0
	for range 60 {
		if mid := (lo + hi) / 2; drop(mid) < 20 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// lobe is a smooth lift curve of a half-width of 150 degrees.
func lobe(deg, centre, lift float64) float64 {
	u := (math.Mod(deg-centre+1080, 720) - 360) / 150
	if math.Abs(u) >= 1 {
		return 0
	}
	return lift * math.Pow(1-u*u, 3)
}

// Trace gives the samples of a step's trace: crank degrees and mm; nil where the step takes none.
func Trace(step string) (angles, values []float64) {
	kind := func(names ...string) bool {
		for _, n := range names {
			if strings.HasPrefix(step, n) {
				return true
			}
		}
		return false
	}
	add := func(from, to, by float64, f func(float64) float64) {
		for a := from; a < to; a += by {
			angles, values = append(angles, a), append(values, f(a))
		}
	}
	switch {
	case kind("tdc-fit"):
		add(-45, 45.1, 2, func(a float64) float64 { return 12 - drop(a) })
	case kind("cam-inlet", "cam-final"):
		add(0, 720, 2.5, func(a float64) float64 { return lobe(a, 105, 8) })
	case kind("cam-exhaust"):
		add(0, 720, 2.5, func(a float64) float64 { return lobe(a, -105, 7.8) })
	case kind("inlet-to-piston"):
		add(-60, 61, 2.5, func(a float64) float64 { return lobe(a, 105, 8.5) })
	case kind("exhaust-to-piston"):
		add(-60, 61, 2.5, func(a float64) float64 { return lobe(a, -105, 8.2) })
	}
	return angles, values
}

// Reading is the true reading of a point in the base unit of its step's kind; false where the plan is no plan that ships
// or the point takes a trace.
func Reading(p *plan.Plan, s plan.Step, pt plan.Point) (float64, bool) {
	id := s.ID
	if s.Again != "" {
		id = s.Again
	}
	if pt.Angle != nil { // around a turn: runout of 0.01 mm, slack that is tight at one place
		c := math.Cos(*pt.Angle * math.Pi / 180)
		if id == "chain" {
			return 4.5 + c, true
		}
		return 0.01 * c, true
	}
	for _, r := range readings {
		step, point, _ := strings.Cut(r.key, "/")
		if id != step && !(strings.HasSuffix(step, "*") && strings.HasPrefix(id, strings.TrimSuffix(step, "*"))) {
			continue
		}
		if _, ok := plan.Match(point, pt.ID); !ok {
			continue
		}
		if pt.ID == "hung" { // one weight for all cylinders
			return r.x * float64(len(p.Cylinders)), true
		}
		return r.x, true
	}
	return 0, false
}
