package sheet_test

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/store/sheet"
)

// found is what a played build found.
func found(t *testing.T) sheet.Found {
	s := play(t)
	b, ok := s.state.Build("17")
	if !ok {
		t.Fatal("job 17 is not there")
	}
	return sheet.Found{Bench: "bench-1", Job: b.Job, Engine: b.Engine, Findings: bench.FindingsOf(b, bench.Results{}.With(s.history...))}
}

// shift gives what a played build found as if it were another build of the engine, later, that found the left block elsewhere.
func shift(t *testing.T, job, at string, by float64) sheet.Found {
	s := found(t)
	s.Job = job
	ended, err := time.Parse(time.RFC3339, at)
	if err != nil {
		t.Fatal(err)
	}
	for i := range s.Findings {
		f := &s.Findings[i]
		if f.Step != "guide-clearance" {
			continue
		}
		f.Ended = ended.UnixMicro()
		if f.Key == "left" && f.Figure == "contact" {
			x := *f.Value + by
			f.Value = &x
		}
	}
	return s
}

// By hand: U of the contact is 1.96·√(2·0.00367² + 0.0127²) = 0.0269 mm on either side, so √2·0.0269 = 0.0380 mm =
// 0.0015 in between the two: a change of 0.0010 in is within it, one of 0.0020 in is beyond.
func TestCompareTellsWhatIsBeyondDoubt(t *testing.T) {
	a := found(t)
	for _, tt := range []struct {
		by      float64 // mm
		differs bool
		shown   string
	}{{0, false, "0.0000 in"}, {0.0254, false, "0.0010 in"}, {-0.0254, false, "-0.0010 in"}, {0.0508, true, "0.0020 in"}, {-0.0508, true, "-0.0020 in"}} {
		found := false
		for _, d := range sheet.Compare(a, shift(t, "18", "2027-01-01T00:00:00Z", tt.by)) {
			left := d.Key == "left" && d.Figure == "contact"
			found = found || left
			if d.Differs != (left && tt.differs) {
				t.Errorf("by %g: %s %s differs %v", tt.by, d.Key, d.Figure, d.Differs)
			}
			if left && (d.ShownBy.Inch != tt.shown || math.Abs(d.By-tt.by) > 1e-9 || d.ShownU.Inch != "0.0015 in") {
				t.Errorf("by %g: %+v", tt.by, d)
			}
		}
		if !found {
			t.Error("the contact of the left block was not compared")
		}
	}
}

func TestHistoryFollowsOneDimension(t *testing.T) {
	builds := []sheet.Found{shift(t, "30", "2031-03-01T00:00:00Z", 0.06), found(t), shift(t, "24", "2029-03-01T00:00:00Z", 0.01)}
	for _, name := range []string{"guide-clearance/left.contact", "left.contact"} {
		h, err := sheet.History(builds, name)
		if err != nil {
			t.Fatal(err)
		}
		if len(h) != 3 || h[0].Job != "17" || h[1].Job != "24" || h[2].Job != "30" {
			t.Fatalf("%s: %+v, want jobs 17, 24, 30", name, h)
		}
		if h[0].By != nil || h[1].Changed || math.Abs(*h[1].By-0.01) > 1e-9 || !h[2].Changed || h[2].ShownBy.MM != "0.050 mm" {
			t.Errorf("%s: changes %+v", name, h)
		}
		if svg, ok := sheet.HistoryChart(h, quantity.Metric); !ok || !strings.Contains(svg, "job 24") || !strings.Contains(svg, "<style") {
			t.Errorf("%s: the picture is not whole", name)
		}
	}
	// A point that is no figure: the bare reading of the pass in force.
	if h, err := sheet.History(builds, "left.now"); err != nil || len(h) != 3 || h[0].Shown.Inch != "0.3400 in" || h[0].U != 0 {
		t.Errorf("left.now: %+v, %v", h, err)
	}
	for _, name := range []string{"left.nowhere", "crank-runout/left.contact", ""} {
		if _, err := sheet.History(builds, name); !errors.Is(err, sheet.ErrNoDimension) {
			t.Errorf("%q: %v, want ErrNoDimension", name, err)
		}
	}
}
