package view

import (
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
	w.v.Trace = t
}
