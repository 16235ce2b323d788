package sheet_test

import (
	"math"
	"strings"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/store/sheet"
)

// worn is a bore over four builds, 1 µm an hour from 71 mm, each known to 1.5 µm.
func worn(limit *float64) []sheet.Point {
	var out []sheet.Point
	for i, h := range []float64{0, 10, 22, 40} {
		v := 71 + 0.001*h
		out = append(out, sheet.Point{Job: string(rune('1' + i)), At: "2026-0" + string(rune('1'+i)) + "-01T10:00:00Z", Kind: quantity.Length,
			Value: v, U: 0.0015, Shown: calc.ShowFigure(quantity.Length, v, calc.Grain{U: 0.0015}), Hours: &h, Upper: limit})
	}
	return out
}

// The line through exact values is the line they were made of; its uncertainty is u/√Σ(h − h̄)², computed independently.
func TestWearPerHour(t *testing.T) {
	limit := 71.08
	w, why, ok := sheet.WearOf(worn(&limit), "")
	if !ok {
		t.Fatal(why)
	}
	mean := (0 + 10 + 22 + 40) / 4.0
	spread := mean*mean + (10-mean)*(10-mean) + (22-mean)*(22-mean) + (40-mean)*(40-mean)
	if math.Abs(w.PerHour-0.001) > 1e-12 || math.Abs(w.U-2*0.00075/math.Sqrt(spread)) > 1e-12 || !w.Real {
		t.Errorf("%v ± %v", w.PerHour, w.U)
	}
	if w.Met == nil || math.Abs(*w.Met-80) > 1e-6 || *w.From >= 80 || *w.To <= 80 {
		t.Errorf("met at %v", w.Met)
	}
	for _, want := range []string{"an hour, of 4 builds", "it meets its limit", "at 80 h", "the engine had 40 h then"} {
		if !strings.Contains(w.Words.MM, want) {
			t.Errorf("said: %q, want %q in it", w.Words.MM, want)
		}
	}
	if w, _, _ = sheet.WearOf(worn(nil), ""); !strings.Contains(w.Words.MM, "no limit on that side") {
		t.Errorf("without a limit: %q", w.Words.MM)
	}
	near := 71.03
	if w, _, _ = sheet.WearOf(worn(&near), "2"); w.Builds != 3 || !strings.Contains(w.Words.Inch, "is met already") {
		t.Errorf("past it, from the second build: %d, %q", w.Builds, w.Words.Inch)
	}
}

func TestNoWearToTell(t *testing.T) {
	flat := worn(nil)
	for i := range flat {
		flat[i].Value = 71
	}
	if w, _, ok := sheet.WearOf(flat, ""); !ok || w.Real || !strings.Contains(w.Words.MM, "no wear beyond its uncertainty") {
		t.Errorf("flat: %+v", w)
	}
	none := worn(nil)
	for i := range none {
		none[i].Hours = nil
	}
	if _, why, ok := sheet.WearOf(none, ""); ok || !strings.Contains(why, "hours of the engine were not told") {
		t.Errorf("without hours: %q", why)
	}
	if _, why, ok := sheet.WearOf(worn(nil)[:1], ""); ok || !strings.Contains(why, "two builds") {
		t.Errorf("one build: %q", why)
	}
	if _, why, ok := sheet.WearOf(worn(nil), "9"); ok || !strings.Contains(why, "job 9") {
		t.Errorf("since a job that is not there: %q", why)
	}
}
