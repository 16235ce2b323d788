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

// readings is the table of what is read; a key is STEP/POINT with stars for whole parts, * alone for any step that begins
// so. Where a number follows from a formula, the formula stands there.
var readings = []struct {
	key string
	x   float64
}{
	// The short plan.
	{"guide-clearance/*.start", 0.300 * inch}, {"guide-clearance/*.contact", 0.212 * inch}, {"guide-clearance/*.now", 0.162 * inch},
	// The whole engine.
	{"ready/shop", 20},
	{"weights/*.small", 140}, {"weights/*.big", 310}, {"weights/*.whole", 450}, {"weights/*.lot", 360},
	// Balance factor (hung + small ends)/(reciprocating), for each cylinder (160 + 140)/(360 + 140) = 0.60.
	{"weights/hung", 160},
	{"rod-bearings/main-1.shell", 1.625*inch + 0.0016*inch}, {"rod-bearings/main-2.shell", 1.625*inch + 0.0016*inch},
	{"rod-bearings/main-1.journal.*", 1.625 * inch}, {"rod-bearings/main-2.journal.*", 1.625 * inch},
	{"rod-bearings/*.bolt-1", boltStretch(30, 6.9, 12, 0.0581, 20000)}, {"rod-bearings/*.bolt-2", boltStretch(30, 6.9, 12, 0.0581, 20000)},
	{"rod-bearings/*.back-1", boltStretch(30, 6.9, 12, 0.0581, 20000)}, {"rod-bearings/*.back-2", boltStretch(30, 6.9, 12, 0.0581, 20000)},
	{"rod-bearings/*.shell", 1.5*inch + 0.0016*inch}, {"rod-bearings/*.journal.*", 1.5 * inch},
	{"rods-on/*.*", boltStretch(30, 6.9, 12, 0.0581, 20000)},
	{"cam-bush/*.hole", 0.875*inch + 0.0015*inch}, {"cam-bush/*.journal", 0.875 * inch}, {"cam-bush/pump", 0.002 * inch},
	// The crank hard over to the left: without shims half of the float from the middle, with them half of what is left.
	{"end-float/side.left", 20}, {"end-float/side.right", 20 + 0.031*inch}, {"end-float/run.left", 20}, {"end-float/run.right", 20 + 0.008*inch},
	{"end-float/camshaft", 0.007 * inch},
	{"end-float/bare", 0.031 * inch}, {"end-float/*.*", 0.008 * inch}, // 0.023 in of shims
	{"cases-closed/*.*", 0.008 * inch},
	{"block-fit/*.seat", 26}, {"block-fit/*.block", 26 - 0.001*inch}, {"block-fit/*.*.hole", 12}, {"block-fit/*.*.follower", 12 - 0.0014*inch},
	{"screw-hole/*.thickness", 16}, {"screw-hole/*.top", 6.2}, {"screw-hole/*.foot", 6.2},
	{"bores/*.piston", 73.4 - 0.0046*inch}, {"bores/*.10mm.*", 73.404}, {"bores/*.40mm.*", 73.4}, {"bores/*.75mm.*", 73.398},
	{"rings/*.top.gap", 73.4*0.0045 + 0.0015*inch + math.Pi*0.002}, {"rings/*.second.gap", 73.4*0.0050 + 0.0015*inch + math.Pi*0.002},
	{"rings/*.*.side", 0.002 * inch},
	{"pins/*.small-end", 19 + 0.00075*inch}, {"pins/*.boss", 19 + 0.0002*inch}, {"pins/*.pin", 19},
	{"stems/*.inlet.guide", 8 + 0.0015*inch}, {"stems/*.exhaust.guide", 8 + 0.0025*inch}, {"stems/*.*.stem", 8}, {"stems/*.*.seat", 0.0005 * inch},
	{"chambers/*.chamber", 36.5},
	{"springs/*.*", 39}, // 27.6·(48 − 39) + 12.8·(44 − 37.5) = 331.6 N
	{"deck/*.front", 0.35}, {"deck/*.rear", 0.25},
	{"compression/*.filled", math.Pi/4*7.34*7.34*1.2 - 2.1}, // the crown takes 2.1 cm³ away
	{"block-contact/*.start", 0.270 * inch}, {"block-contact/*.contact", 0.190 * inch}, {"block-contact/*.now", 0.146 * inch},
	{"block-seat/*.pilot", 0.205 * inch}, {"block-seat/*.seat", 0.140 * inch},
	{"block-proof/*.now", 0.146 * inch}, {"block-proof/*.corner", 0.177 * inch},
	{"blocks-locked/*.*", 0.146 * inch},
	{"tdc/forward", 360 - stopAngle()}, {"tdc/back", stopAngle()}, {"tdc/rear.forward", 360 + behind - stopAngle()}, {"tdc/rear.back", behind + stopAngle()},
	{"tdc/*.forward", 360 - stopAngle()}, {"tdc/*.back", stopAngle()},
	{"timing-gear/before", 3.9}, {"timing-gear/tight", 3.5}, {"timing-gear/after", 3.9},
	// By eye: half of the lobe at the checking height on either side of its centre.
	{"cam/inlet.low.opening", 106 - edge(1, 8)}, {"cam/inlet.low.closing", 106 + edge(1, 8)},
	{"cam/inlet.high.opening", 106 - edge(4, 8)}, {"cam/inlet.high.closing", 106 + edge(4, 8)},
	{"cam/exhaust.low.opening", -106 - edge(1, 7.8)}, {"cam/exhaust.low.closing", -106 + edge(1, 7.8)},
	{"cam/exhaust.high.opening", -106 - edge(4, 7.8)}, {"cam/exhaust.high.closing", -106 + edge(4, 7.8)},
	{"cam/*.inlet.low.opening", 106 - edge(1, 8)}, {"cam/*.inlet.low.closing", 106 + edge(1, 8)},
	{"cam/*.inlet.high.opening", 106 - edge(4, 8)}, {"cam/*.inlet.high.closing", 106 + edge(4, 8)},
	{"cam/*.exhaust.low.opening", -106 - edge(1, 7.8)}, {"cam/*.exhaust.low.closing", -106 + edge(1, 7.8)},
	{"cam/*.exhaust.high.opening", -106 - edge(4, 7.8)}, {"cam/*.exhaust.high.closing", -106 + edge(4, 7.8)},
	{"valve-to-piston/*.between", 0.080 * inch},
	{"valve-to-piston/*.inlet.push", room(false, 8)}, {"valve-to-piston/*.exhaust.push", room(true, -8)},
	{"rockers/*.*", 7.0634}, // asin(lift/2/arm) = asin(4.55/37): square at half lift
	{"wash-barrels/*.thrust", 73.4},
	{"base-bolts/*", boltStretch(62, 7.8, 14, 0.0878, 18000)}, {"head-bolts/*", 33},
	{"lash/*.inlet.*", 0.004 * inch}, {"lash/*.exhaust.*", 0.006 * inch},
	{"ignition/*", drop(33)},
	{"leak-down/*", 4}, {"leak-again/*", 4},
	{"first-start/oil", 12}, {"first-start/minutes", 20},
}

// behind is how far the top of the V engine's rear cylinder comes after the front one's, in crank degrees.
const behind = 54

// The example engine's crank.
const throw, rod = 39.8, 158.0

// boltStretch is how far a bolt of a waist and a threaded part is stretched by a force: E·A/L each, in series; the
// thread's stress area in square inches is that of ASME B1.1.
func boltStretch(waist, diameter, thread, area, force float64) float64 {
	const modulus = 206000
	return force * (waist/(modulus*math.Pi/4*diameter*diameter) + thread/(modulus*area*inch*inch))
}

// drop is the piston's way down from the top for the example engine, without pin offset: slider and crank.
func drop(deg float64) float64 {
	s, c := math.Sincos(deg * math.Pi / 180)
	return throw + rod - throw*c - math.Sqrt(rod*rod-throw*throw*s*s)
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

// halfLobe is half of a lobe's duration at its back, in crank degrees.
const halfLobe = 150

// lobe is a smooth lift curve.
func lobe(deg, centre, lift float64) float64 {
	u := (math.Mod(deg-centre+1080, 720) - 360) / halfLobe
	if math.Abs(u) >= 1 {
		return 0
	}
	return lift * math.Pow(1-u*u, 3)
}

// edge is how far from its centre a lobe of a lift is so high.
func edge(height, lift float64) float64 { return halfLobe * math.Sqrt(1-math.Cbrt(height/lift)) }

// room is how far a valve goes by hand to the piston: by what it has with the valve shut and the piston at the top, the
// piston's way down along the valve and the lift.
func room(exhaust bool, deg float64) float64 {
	down := drop(deg) * math.Cos(22*math.Pi/180)
	if exhaust {
		return 4.75 + down - lobe(deg, -106, 8.2)
	}
	return 4.2 + down - lobe(deg, 106, 8.5)
}

// Trace gives the samples of a step's trace at a point: crank degrees and mm; nil where none is taken there.
func Trace(step, point string) (angles, values []float64) {
	add := func(from, to, by float64, f func(float64) float64) {
		for a := from; a < to; a += by {
			angles, values = append(angles, a), append(values, f(a))
		}
	}
	exhaust := strings.HasSuffix(point, "exhaust")
	switch strings.TrimSuffix(step, "-proof") {
	case "crank-runout":
		add(0, 361, 5, func(a float64) float64 { return 0.01 * math.Cos(a*math.Pi/180) })
	case "tdc":
		top := 0.0
		if strings.HasPrefix(point, "rear.") {
			top = behind
		}
		add(top-45, top+45.1, 2, func(a float64) float64 { return 12 - drop(a-top) })
	case "cam":
		if exhaust {
			add(0, 720, 2.5, func(a float64) float64 { return lobe(a, -106, 7.8) })
		} else {
			add(0, 720, 2.5, func(a float64) float64 { return lobe(a, 106, 8) })
		}
	case "valve-to-piston":
		if exhaust {
			add(-60, 61, 2.5, func(a float64) float64 { return lobe(a, -106, 8.2) })
		} else {
			add(-60, 61, 2.5, func(a float64) float64 { return lobe(a, 106, 8.5) })
		}
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
		switch {
		case strings.HasPrefix(id, "timing-") && len(s.Points) == 4: // backlash of gears
			return (0.0035 + 0.0005*c) * inch, true
		case id == "timing-dry":
			return 4.5 + c, true
		case id == "valve-to-piston":
			return room(strings.Contains(pt.ID, "exhaust"), *pt.Angle), true
		case id == "crank-runout":
			return 0.01 * c, true
		}
	}
	for _, r := range readings {
		step, point, _ := strings.Cut(r.key, "/")
		if id != step && !(strings.HasSuffix(step, "*") && strings.HasPrefix(id, strings.TrimSuffix(step, "*"))) {
			continue
		}
		if _, ok := plan.Match(point, pt.ID); !ok {
			continue
		}
		if s.Compute != nil && s.Compute.Method == "indicator-travel" { // through a hole that leans: the way along it
			return r.x / math.Cos(18*math.Pi/180), true
		}
		if id == "ignition" && s.Capture.Role == plan.WheelRole { // typed off the wheel
			return 33, true
		}
		if pt.ID == "hung" { // one weight for all cylinders
			return r.x * float64(len(p.Cylinders)), true
		}
		return r.x, true
	}
	return 0, false
}
