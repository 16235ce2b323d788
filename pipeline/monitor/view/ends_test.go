package view

import (
	"testing"

	"thoud/capture/plan"
)

// TestEveryMoveHasWordsAtItsEnds: where a step of a plan that ships moves a part under the gauge, the rule has words at its
// ends.
func TestEveryMoveHasWordsAtItsEnds(t *testing.T) {
	names, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	moves := 0
	for _, name := range names {
		p, err := plan.Load(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, step := range p.Steps {
			if step.Compute == nil || step.Compute.ApproachFigure == "" {
				continue
			}
			moves++
			if _, ok := ends[step.Compute.Method]; !ok {
				t.Errorf("plan %s, step %s moves a part by %s: say what its ends are called in ends.go", name, step.ID, step.Compute.Method)
			}
		}
	}
	if moves == 0 {
		t.Error("no plan moves a part under the gauge: the test looks at nothing")
	}
}
