package calc

import (
	"testing"

	"thoud/calc/quantity"
)

// An uncertainty far below any reading comes from rounding in the arithmetic: it must not bring a dozen digits with it.
func TestRoundingIsNoUncertainty(t *testing.T) {
	zero := 0.0
	for _, kind := range []quantity.Kind{quantity.Angle, quantity.Length, quantity.Slope} {
		fr := FigureResult{Kind: kind, Value: &zero, U: 3e-14, K: 2}
		renderFigure(&fr, Request{})
		if want := (Shown{withUnit(number(kind, quantity.Metric, 0, usualPlaces(kind, quantity.Metric)), kind, quantity.Metric), withUnit(number(kind, quantity.Inch, 0, usualPlaces(kind, quantity.Inch)), kind, quantity.Inch)}); fr.Shown != want {
			t.Errorf("%s: shown as %+v, want %+v", kind, fr.Shown, want)
		}
		if fr.ShownU != (Shown{}) {
			t.Errorf("%s: uncertainty shown as %+v, want none", kind, fr.ShownU)
		}
	}
	// One that a bench can have is shown: 0.05 ± 0.0123 mm.
	x := 0.05
	fr := FigureResult{Kind: quantity.Length, Value: &x, U: 0.0123, K: 2}
	renderFigure(&fr, Request{})
	if fr.Shown.MM != "0.050 mm" || fr.ShownU.MM != "± 0.012 mm" {
		t.Errorf("shown as %+v %+v", fr.Shown, fr.ShownU)
	}
}
