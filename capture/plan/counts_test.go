package plan_test

import (
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
)

// Every plain number that a shipped plan reads says what it counts, and so do the figures that are made of such readings; of
// the methods' own figures the adjuster's flats and the ratio do.
func TestEveryNumberReadHasItsUnit(t *testing.T) {
	read, made := 0, 0
	for _, p := range shapes(t, "first-fit", "pushrod-twin", "pushrod-v") {
		for _, s := range p.Steps {
			for _, pt := range s.Points {
				if at := s.At(pt.ID); at.Capture.Kind == quantity.Number {
					if read++; s.Counts(pt.ID) == "" {
						t.Errorf("%s, %s, %s: of what? unit = \"…\" says it", p.Name, s.ID, pt.ID)
					}
				}
			}
			if s.Capture.Kind != quantity.Number {
				continue
			}
			for _, r := range p.Runs(s) {
				if r.Compute == nil || r.Compute.Kind != "" {
					continue
				}
				m, _ := calc.Find(r.Compute.Method)
				for _, f := range m.Figures {
					if f.Kind == calc.AnyKind {
						if made++; s.FigureCounts(r.Key, f.Name) == "" {
							t.Errorf("%s, %s, %s %s: of what?", p.Name, s.ID, r.Key, f.Name)
						}
					}
				}
			}
		}
	}
	if read < 100 || made < 100 {
		t.Fatalf("only %d readings and %d figures were looked at", read, made)
	}
	p := load(t, "pushrod-twin")
	for _, row := range [][4]string{{"first-start", "", "mean", "s"}, {"leak-down", "left", "mean", "%"}, {"leak-down", "mean-spread", "range", "%"}, {"lash", "left.exhaust", "flats", "flats"}, {"compression", "", "ratios", ": 1"}, {"cases-closed", "", "mean", ""}} {
		s, ok := p.Step(row[0])
		if got := s.FigureCounts(row[1], row[2]); got != row[3] || !ok {
			t.Errorf("%v: %q", row, got)
		}
	}
}
