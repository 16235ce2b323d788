package plan_test

import (
	"testing"

	"thoud/capture/plan"
)

// To check a plan means to read it in every shape and with every answer that decides something. What that costs is told by what
// is allocated, which no load on the machine changes: once the twin was read some 450 times, half of them from its text.
func TestCheckingAPlanReadsItAFewTimes(t *testing.T) {
	text, err := plan.ShippedText("pushrod-twin")
	if err != nil {
		t.Fatal(err)
	}
	check := testing.AllocsPerRun(1, func() {
		if _, err := plan.CheckShapes("pushrod-twin", text); err != nil {
			t.Fatal(err)
		}
	})
	once := testing.AllocsPerRun(1, func() {
		if _, err := plan.Parse("pushrod-twin", text); err != nil {
			t.Fatal(err)
		}
	})
	t.Logf("reading it takes %.0f pieces of memory, checking it %.0f", once, check)
	if check > 25*once {
		t.Errorf("checking takes %.0f pieces of memory, %.0f times what reading takes; want 25 at most", check, check/once)
	}
}

func BenchmarkCheckShapes(b *testing.B) {
	text, err := plan.ShippedText("pushrod-twin")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := plan.CheckShapes("pushrod-twin", text); err != nil {
			b.Fatal(err)
		}
	}
}
