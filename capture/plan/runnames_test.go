package plan_test

import (
	"strings"
	"testing"
)

// Rows of a step are told apart by their names: where one row is of the left exhaust, none is called left alone. What is told
// before the first reading stands on no row; a row of statistics is named by its figure.
func TestRunsOfAStepAreToldApart(t *testing.T) {
	seen, said := 0, map[string]bool{}
	for _, p := range shapes(t, "first-fit", "pushrod-twin", "pushrod-v") {
		for _, s := range p.Steps {
			runs := p.Runs(s)
			for _, a := range runs {
				for _, b := range runs {
					if a.Key == b.Key || a.Compute == nil || b.Compute == nil || a.Compute.Method != b.Compute.Method || a.Compute.Before || b.Compute.Before || a.Compute.Method == "statistics" ||
						b.Compute.Name == "plates" { // the plates under a cylinder, beside the cylinder
						continue
					}
					seen++
					one, other := s.RunTitle(a.Key), s.RunTitle(b.Key)
					if text := p.Name + ", " + s.ID + ": " + one + ", " + other; (one == other || strings.HasPrefix(other, one+" ")) && !said[text] {
						said[text] = true
						t.Errorf("%s: the first is of what? called = \"…\" names it", text)
					}
				}
			}
		}
	}
	if seen < 1000 {
		t.Fatalf("only %d pairs were looked at", seen)
	}
	p := load(t, "pushrod-twin")
	lash, _ := p.Step("lash")
	for key, want := range map[string]string{"left": "left inlet found", "right.exhaust": "right exhaust found", "left.inlet-locked": "left inlet locked"} {
		if got := lash.RunTitle(key); got != want {
			t.Errorf("lash, %s: %q, want %q", key, got, want)
		}
	}
}
