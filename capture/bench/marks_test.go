package bench_test

import (
	"strings"
	"testing"

	"thoud/capture/bench"
)

func setOf(engine string, texts ...string) bench.Verb {
	set := typed(texts...)
	set.Engine = engine
	return bench.Verb{Name: bench.DoEngineSet, Engine: set}
}

// A mark kept as a value of an engine is a part fitted into it: it is followed, and is in one engine at once, whichever way
// it is said.
func TestAPartIsInOneEngineWhicheverWayItIsSaid(t *testing.T) {
	p := twoEngines(t)
	p.ok(hours("twin no. 4", 10, 0))
	p.ok(setOf("twin no. 4", "mark_left_piston=L7", "engine_number=T 207"))
	part, ok := p.sc.State.PartOf("L7")
	if st, in := part.Fitted(); !ok || !in || st.Engine != "twin no. 4" || st.From != 10 || part.What != "left piston" {
		t.Fatalf("the part: %+v", part)
	}
	p.ok(fit("trials single", "S1", "piston", 0, 0))
	entries := p.sc.State.N
	for _, c := range []struct {
		verb bench.Verb
		want []string
	}{
		{setOf("trials single", "mark_piston=L7"), []string{"L7", "left piston", "twin no. 4", "trials single"}},
		{fit("trials single", "L7", "piston", 0, 0), []string{"L7", "left piston", "twin no. 4", "trials single"}},
		{setOf("trials single", "mark_piston=S2"), []string{"the piston of trials single is S1"}},
		{setOf("twin no. 4", "mark_right_piston=L7"), []string{"L7", "is in twin no. 4 already"}},
		{setOf("twin no. 4", "mark_left_rod=R1", "mark_right_rod=R1"), []string{"R1", "is in twin no. 4 already"}},
		{setOf("twin no. 4", "mark_left_piston=L7"), []string{"holds that already"}},
		{setOf("twin no. 4", "mark_left_rod="), []string{"no mark_left_rod"}},
	} {
		if got := p.no(c.verb); !containsAll(got, c.want) || strings.Contains(got, "\n") {
			t.Errorf("%q, want one sentence with %q", got, c.want)
		}
	}
	if p.sc.State.N != entries {
		t.Error("what was refused is recorded")
	}
	set := setOf("twin no. 4", "mark_left_piston=")
	p.ok(set)
	part, _ = p.sc.State.PartOf("L7")
	if _, in := part.Fitted(); in {
		t.Error("its mark is out of the record, and the part is in the engine")
	}
	p.ok(setOf("trials single", "mark_gudgeon_pin=L7"))
}

func containsAll(s string, parts []string) bool {
	for _, want := range parts {
		if !strings.Contains(s, want) {
			return false
		}
	}
	return true
}
