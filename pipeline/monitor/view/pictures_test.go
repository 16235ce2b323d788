package view

import (
	"math"
	"testing"

	"thoud/calc"
	"thoud/capture/bench"
)

// TestTargetOfAFigure carries the place on the rule over to the figure, whichever way round its limits lie there. Numbers by
// hand: a clearance of 1.27 within 1.22 and 1.32, read from contact at 15.00 down.
func TestTargetOfAFigure(t *testing.T) {
	limit := &calc.Limit{Lower: ptr(1.22), Upper: ptr(1.32)}
	for _, row := range []struct {
		band  bench.Band
		value float64
	}{
		{bench.Band{Figure: "clearance", Lower: ptr(13.68), Upper: ptr(13.78), Target: 13.73, Now: ptr(14.5)}, 0.5},
		{bench.Band{Figure: "clearance", Lower: ptr(16.22), Upper: ptr(16.32), Target: 16.27, Now: ptr(15.5)}, 0.5},
	} {
		got := targetOf(bench.Result{Band: &row.band}, calc.FigureResult{Name: "clearance", Value: &row.value, Limit: limit})
		if got == nil || math.Abs(*got-1.27) > 1e-9 {
			t.Errorf("%+v: %v, want 1.27", row.band, got)
		}
	}
	one := 0.5
	if got := targetOf(bench.Result{Band: &bench.Band{Figure: "clearance", Lower: ptr(1), Target: 2, Now: &one}}, calc.FigureResult{Name: "clearance", Value: &one, Limit: limit}); got != nil {
		t.Errorf("a band without an upper limit: %v", *got)
	}
}
