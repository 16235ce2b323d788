package view

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// Trace is a turn at which two gauges are paired: what is needed to draw the curve while it is made.
type Trace struct {
	Gauge, Angle string        // names
	Kind         quantity.Kind // of the gauge's value
	Whole        float64       // degrees of the whole turn; 0 where it ends when enough was turned
	Title        string
	MM, Inch     Scale
	// Last is the curve that was traced last, as JSON pairs of the angle from its beginning and the value in its base unit; ""
	// where there is none. It lies dotted behind the one that is made.
	Last, LastName string
}

// Scale is how a value in its base unit is written in a unit system.
type Scale struct {
	Code   string
	Size   float64 // of the unit in the base unit
	Places int
}

// placesOf is how many places a number in a unit is worth.
func placesOf(u quantity.Unit, resolution float64) int {
	if resolution <= 0 || u.Size <= 0 {
		return 4
	}
	return max(0, min(9, int(math.Ceil(-math.Log10(resolution/u.Size)-1e-9))))
}

func scaleOf(sys quantity.System, kind quantity.Kind, resolution float64) Scale {
	u := sys.For(kind)
	return Scale{Code: u.Code, Size: u.Size, Places: placesOf(u, resolution)}
}

// overTwoTurns are the methods whose curve takes two whole turns of the crankshaft.
var overTwoTurns = []string{"cam-timing", "cam-events", "lift-curve", "lobe-nose", "valve-to-piston", "cam-correction"}

// lookAtTurn finds the gauges of a trace.
func (w *work) lookAtTurn() {
	if w.point() == "" || w.sp.Mode != plan.Trace || w.sp.Gauge == nil {
		return
	}
	all, pick := w.sc.State.GaugesFor(w.at.Capture.Angle)
	if pick < 0 {
		pick = slices.IndexFunc(all, func(g bench.GaugeState) bool { return g.Open })
	}
	if pick < 0 {
		return
	}
	t := &Trace{Gauge: w.sp.Gauge.Name, Angle: all[pick].Name, Kind: w.kind(), Title: w.v.Point}
	t.MM, t.Inch = scaleOf(quantity.Metric, t.Kind, w.resolution()), scaleOf(quantity.Inch, t.Kind, w.resolution())
	if w.step.Compute != nil && slices.Contains(overTwoTurns, w.step.Compute.Method) {
		t.Whole = 720
	}
	t.Last, t.LastName = w.lastCurve()
	w.v.Trace = t
}

// lastMost is how many points of the last curve are drawn.
const lastMost = 240

// lastCurve is the newest curve of this step that stands: that of the same point from an earlier pass, else of another point.
func (w *work) lastCurve() (points, name string) {
	var best *bench.Taken
	number, same := 0, false
	for _, p := range w.st.Passes {
		if p.Status == bench.PassIsVoid {
			continue
		}
		for i := range p.Readings {
			r := &p.Readings[i]
			if r.Withdrawn || r.Samples == nil || len(r.Samples.Angle) != len(r.Samples.Value) || len(r.Samples.Value) < 2 {
				continue
			}
			if here := r.Point == w.point(); here || !same {
				best, number, same = r, p.Number, here
			}
		}
	}
	if best == nil {
		return "", ""
	}
	return curveOf(*best.Samples, best.Raw.Kind()), fmt.Sprintf("%s, pass %d", pointTitle(w.step, best.Point), number)
}

// curveOf writes the samples of a trace as pairs, thinned out: the angle runs on over whole turns, and forward.
func curveOf(s bench.Samples, kind quantity.Kind) string {
	size := 1.0 / quantity.PerMillimetre
	if u, err := quantity.UnitFor(kind, s.Unit); err == nil && kind != quantity.Length {
		size = u.Size * math.Pow(10, -float64(s.Places))
	}
	var pairs [][2]float64
	turned, every := 0.0, max(1, len(s.Value)/lastMost)
	for i := range s.Value {
		if i > 0 {
			turned += math.Remainder(float64(s.Angle[i]-s.Angle[i-1])/1000, 360)
		}
		if i%every == 0 || i == len(s.Value)-1 {
			pairs = append(pairs, [2]float64{math.Round(turned*10) / 10, math.Round(float64(s.Value[i])*size*1e5) / 1e5})
		}
	}
	if turned < 0 {
		for i := range pairs {
			pairs[i][0] = -pairs[i][0]
		}
	}
	body, err := json.Marshal(pairs)
	if err != nil {
		return "" // a value beyond all measure: nothing is drawn
	}
	return string(body)
}
