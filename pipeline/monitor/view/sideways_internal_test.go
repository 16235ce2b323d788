package view

import (
	"slices"
	"testing"

	"thoud/calc/drawing"
	"thoud/capture/plan"
)

// TestNoMoveUnderAGaugeGoesSideways: the rule stands upright, more at the top, and so must every part lie that is moved under a
// gauge to where it is wanted. Looked through are all such moves of the plans that ship: guide blocks go up and down on their
// barrel, bolts grow longer along their length and are drawn as they are turned. A plan with one that goes left or right fails
// here: its rule would have to lie across. (The float of the crankshaft is swung from end to end, and no reading of it is a place
// to come to rest at; shims, keys and blades are changed with nothing under the gauge.)
func TestNoMoveUnderAGaugeGoesSideways(t *testing.T) {
	moves := map[string]bool{}
	all, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range all {
		p, err := plan.Load(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, st := range p.Steps {
			for _, r := range p.Runs(st) {
				if r.Compute == nil || r.Compute.ApproachFigure == "" {
					continue
				}
				keys, ok := ends[r.Compute.Method]
				if !ok {
					t.Errorf("%s, %s: the ends of the rule of %s have no words for the way", name, st.ID, r.Compute.Method)
					continue
				}
				for _, row := range drawing.Rows() {
					if !slices.Contains(row.Jobs, st.ID) {
						continue
					}
					for _, key := range keys {
						pic, err := drawing.Of(row.Name, drawing.Numbers{Point: r.Own, Move: key})
						if err != nil {
							continue // it does not draw this move
						}
						for _, a := range pic.Arrows {
							if a.Meant {
								moves[r.Compute.Method+" "+key+" "+a.Says] = true
							}
							if a.Meant && (a.Says == "left" || a.Says == "right") {
								t.Errorf("%s, %s: %s goes %s: its rule has to lie across", name, st.ID, key, a.Says)
							}
						}
					}
				}
			}
		}
	}
	for _, want := range []string{"contact-clearance away down", "contact-clearance towards up", "bolt-preload tighten clockwise"} {
		if !moves[want] {
			t.Errorf("not looked at: %s; got %v", want, moves)
		}
	}
}
