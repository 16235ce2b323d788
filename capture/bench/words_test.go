package bench_test

import (
	"strings"
	"testing"

	"thoud/capture/bench"
)

// TestAnswersSpeakByTitles: what a person confirmed is told by its sentence or its title, not by the name it has in the plan.
func TestAnswersSpeakByTitles(t *testing.T) {
	p := newPlay(t, curing)
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Build: "17", Step: "compound"}})
	if d := p.ok(bench.Verb{Name: bench.DoConfirm, Item: "home"}); d.Words != "Home: confirmed" {
		t.Errorf("told %q", d.Words)
	}
	data := "[engine.gap]\ntitle = \"Gap at the plug\"\nvalue = \"0.6 mm\"\nsource = \"common practice\"\nconfirm = true\n[[step]]\nid = \"press\""
	limit := "    id = \"left\"\n    [step.compute]\n    method = \"statistics\"\n    shown = [\"greatest\"]\n    inputs = { values = \"@readings:*\" }\n    [step.compute.limits]\n    greatest = { upper = \"@engine.gap\" }\n[[step]]"
	text := strings.Replace(strings.Replace(cautious, "[[step]]\nid = \"press\"", data, 1), "    id = \"left\"\n[[step]]", limit, 1)
	q := newPlay(t, text, dial("d", "indicator"))
	q.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Build: "17", Step: "press"}})
	if d := q.ok(bench.Verb{Name: bench.DoConfirm, Item: "engine.gap"}); !strings.HasPrefix(d.Words, "Gap at the plug: confirmed") {
		t.Errorf("told %q", d.Words)
	}
}
