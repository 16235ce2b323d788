package plan_test

import (
	"testing"

	"thoud/capture/plan"
)

func TestEveryShippedPlanIsSound(t *testing.T) {
	names, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	if len(names) == 0 {
		t.Fatal("no plan ships")
	}
	for _, name := range names {
		if _, err := plan.Load(name); err != nil {
			t.Errorf("%s:\n%v", name, err)
		}
	}
}
