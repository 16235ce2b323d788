package calc

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thoud/calc/quantity"
)

// Honest digits: two significant ones of U at most, what is usual in the trade otherwise, none finer than the gauge's.
func TestShown(t *testing.T) {
	for _, tc := range []struct {
		kind         quantity.Kind
		x, u, digits float64
		mm, inch     string
		du, duInch   string
	}{
		{quantity.Length, 72.04643, 0, 0, "72.046 mm", "2.8365 in", "", ""},
		{quantity.Length, 72.04643, 0.00188, 0, "72.046 mm", "2.83647 in", "± 0.002 mm", "± 0.00007 in"},
		{quantity.Length, 72.04643, 0.0188, 0, "72.046 mm", "2.8365 in", "± 0.019 mm", "± 0.0007 in"},
		{quantity.Length, 72.04643, 0.3, 0, "72.05 mm", "2.836 in", "± 0.30 mm", "± 0.012 in"},
		{quantity.Length, 72.04643, 30, 0, "72 mm", "2.8 in", "± 30 mm", "± 1.2 in"},
		{quantity.Length, 50.000838, 0.000093, 0, "50.00084 mm", "1.968537 in", "± 0.00009 mm", "± 0.000004 in"},
		{quantity.Length, 0.5588, 0, 0.0127, "0.56 mm", "0.0220 in", "", ""},
		{quantity.Length, 0.5588, 0, 0.0254, "0.56 mm", "0.022 in", "", ""},
		{quantity.Length, 0.5588, 0, 0.001, "0.559 mm", "0.02200 in", "", ""},
		{quantity.Length, -0.0001, 0, 0, "0.000 mm", "0.0000 in", "", ""},
		{quantity.Angle, 104.9741, 0, 0, "105.0°", "105.0°", "", ""},
		{quantity.Angle, 104.9741, 0.31, 0, "105.0°", "105.0°", "± 0.3°", "± 0.3°"},
		{quantity.Angle, 5600.7, 0.058, 0, "15 turns and 200.70°", "15 turns and 200.70°", "± 0.06°", "± 0.06°"},
		{quantity.Mass, 101.5, 0, 0, "101.5 g", "101.5 g", "", ""},
		{quantity.Length, 70.98751, 0.00001, 0.0005, "70.9875 mm", "2.79478 in", "± 0.00001 mm", "± 0.0000004 in"},
		{quantity.Angle, 104.9741, 3.1, 0, "105.0°", "105.0°", "± 3.1°", "± 3.1°"},
		{quantity.Force, 19590.4, 0, 0, "19.6 kN", "4404 lbf", "", ""},
		{quantity.Force, 19590.4, 613.8, 0, "19.6 kN", "4400 lbf", "± 0.6 kN", "± 140 lbf"},
		{quantity.Stiffness, 78363.1234, 0, 0, "78363.1 N/mm", "447465 lbf/in", "", ""},
		{quantity.Number, 3, 0, 0, "3", "3", "", ""},
		{quantity.Number, 10.64281, 0.04, 0, "10.643", "10.643", "± 0.040", "± 0.040"},
		{quantity.Expansion, 11.5e-6, 0, 0, "1.15e-05 1/K", "1.15e-05 1/K", "", ""},
	} {
		fr := FigureResult{Kind: tc.kind, Value: &tc.x, U: tc.u}
		renderFigure(&fr, Request{Digits: tc.digits})
		if fr.Shown != (Shown{tc.mm, tc.inch}) || fr.ShownU != (Shown{tc.du, tc.duInch}) {
			t.Errorf("%s %g ± %g at %g: got %q %q, %q %q", tc.kind, tc.x, tc.u, tc.digits, fr.Shown.MM, fr.Shown.Inch, fr.ShownU.MM, fr.ShownU.Inch)
		}
	}
}

// U is never shown with more than two significant digits, nor as nothing.
func TestShownUNeverInvents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.Float64Range(1e-6, 1e4).Draw(t, "u")
		kind := rapid.SampledFrom([]quantity.Kind{quantity.Length, quantity.Angle, quantity.Force, quantity.Volume, quantity.Number}).Draw(t, "kind")
		fr := FigureResult{Kind: kind, Value: new(float64), U: u}
		renderFigure(&fr, Request{})
		for _, s := range []string{fr.ShownU.MM, fr.ShownU.Inch} {
			n := strings.TrimSuffix(strings.Fields(s)[1], "°")
			if !strings.Contains(n, ".") {
				n = strings.TrimRight(n, "0")
			}
			digits := len(strings.TrimLeft(strings.Replace(n, ".", "", 1), "0"))
			if digits == 0 || digits > 2 {
				t.Fatalf("%s %g shown as %q", kind, u, s)
			}
		}
	})
}

// A figure that is known far better than the gauges can show is printed with their places, not with all that its uncertainty
// would allow.
func TestFiguresShowThePlacesOfTheGauges(t *testing.T) {
	for _, tc := range []struct {
		sys           quantity.System
		u, resolution float64
		want          int
	}{
		{quantity.Inch, 1e-5, 0.0254, 4}, // U 0.01 µm, feelers of a thou
		{quantity.Metric, 1e-5, 0.01, 3},
		{quantity.Inch, 0.0254, 0.0254, 4}, // U a thou: as ever
		{quantity.Metric, 1e-5, 0, 5},      // no gauge at hand: U alone decides
	} {
		if got := places(quantity.Length, tc.sys, tc.u, tc.resolution); got != tc.want {
			t.Errorf("%s, U %g mm, resolution %g mm: %d places, want %d", tc.sys, tc.u, tc.resolution, got, tc.want)
		}
	}
}
