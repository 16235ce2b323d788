package bench_test

import (
	"testing"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// What a status costs is asked for by every page, many times a second. It must not read the whole plan of an engine, let alone
// in every way that its questions may be answered: reading it once makes some hundred thousand objects.
func TestAStatusReadsNoPlan(t *testing.T) {
	text, err := plan.ShippedText("pushrod-twin")
	if err != nil {
		t.Fatal(err)
	}
	p := newPlay(t, string(text))
	parsed := testing.AllocsPerRun(1, func() {
		if _, err := plan.Parse("pushrod-twin", text); err != nil {
			t.Fatal(err)
		}
	})
	if got := testing.AllocsPerRun(2, func() { bench.Offers(p.sc) }); got > parsed/2 {
		t.Errorf("what is offered takes %.0f objects, reading the plan %.0f", got, parsed)
	}
	found := false
	for _, o := range bench.Offers(p.sc) {
		found = found || o.Verb.Name == bench.DoPlan
	}
	if !found {
		t.Error("a change of the plan is not offered")
	}
}
