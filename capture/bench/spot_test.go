package bench

import (
	"testing"

	"thoud/capture/plan"
)

func TestTheDatumOfATraceIsPressed(t *testing.T) {
	for _, c := range []struct {
		mode plan.Mode
		at   string
		want plan.Mode
	}{
		{plan.Trace, "lift", plan.Trace}, {plan.Trace, DatumPoint, plan.Press}, {plan.Swing, DatumPoint, plan.Press},
		{plan.Settle, DatumPoint, plan.Settle}, {"", "lift", plan.Press},
	} {
		step := plan.Step{Capture: plan.Capture{Mode: c.mode}}
		if got := modeAt(step, c.at); got != c.want {
			t.Errorf("%s at %s: read by %s, want %s", c.mode, c.at, got, c.want)
		}
	}
}
