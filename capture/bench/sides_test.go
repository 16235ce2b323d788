package bench_test

import (
	"strings"
	"testing"

	"thoud/calc"
	"thoud/capture/bench"
)

// bores and rings of two cylinders; the rings of one need the bore of the same.
func sidedPlan(datum string) string {
	return head + stepText("bores", `{ mode = "press", role = "bore" }`, datum, `
[[step.point]]
for = "cylinder"
id = "{cylinder}.top"
[step.compute]
method = "statistics"
per = "cylinder"
inputs = { values = ["@reading:{cylinder}.top"] }
limits = { mean = { upper = "3 in", source = "a test's" } }
`) + stepText("rings", `{ mode = "press", role = "indicator" }`, `needs = ["bores/{cylinder}"]`, `
[[step.point]]
for = "cylinder"
id = "{cylinder}.gap"
`)
}

// judged puts the result of one cylinder's bore in.
func (p *play) judged(step, key string, pass int, v calc.Verdict) {
	r := bench.Result{Build: "17", Step: step, Pass: pass, Key: key, Provisional: true}
	r.Verdict = v
	p.sc.Results = p.sc.Results.With(r)
}

func (p *play) goTo(step, point string) (bench.Decision, error) {
	return p.do(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: step, Point: point}})
}

// The right barrel is away: the left side goes on alone, the right one is held up in words, and once it is read it goes on
// too.
func TestAPartThatIsAwayHoldsUpItsOwnSide(t *testing.T) {
	p := newPlay(t, sidedPlan(""), dial("bore-1", "bore"), dial("dial-1", "indicator"))
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "rings"}})
	if now, v := bench.NowOf(p.sc); now != bench.NowEarlier || v == nil || v.Place.Step != "bores" {
		t.Fatalf("before any bore is read the rings wait: %s, %+v", now, v)
	}
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "bores"}})
	p.take("bore-1", "2.5000 in")
	p.judged("bores", "left", 1, calc.VerdictIn)
	if d, err := p.goTo("rings", ""); err != nil || strings.Contains(d.Words, "first") {
		t.Fatalf("to the rings with the left bore in: %q, %v", d.Words, err)
	}
	if got := bench.StatusOf(p.sc, nil, nil); len(got.Held) != 1 || got.Held[0] != "right waits: first bores, right (begun)" || got.Hinders != "" {
		t.Errorf("held %q, hindered %q", got.Held, got.Hinders)
	}
	if _, err := p.goTo("rings", "right.gap"); err == nil || err.Error() != "right waits: first bores, right (begun)" {
		t.Errorf("to the right gap: %v", err)
	}
	p.take("dial-1", "0.0120 in")
	if p.standing("left.gap") == "" {
		t.Fatal("the left gap was not taken")
	}
	if sp := bench.SpotOf(p.sc); sp.Ready() || sp.Lacks != bench.LacksEarlier || !strings.Contains(sp.Why, "right waits") {
		t.Errorf("after the left gap: %s, %q", sp.Lacks, sp.Why)
	}
	if words := p.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(words, "right waits: first bores") {
		t.Errorf("taking on: %q", words)
	}
	// The bore of the left goes out by a second look: its own side is held up again.
	p.judged("bores", "left", 1, calc.VerdictOut)
	if !strings.Contains(bench.StatusOf(p.sc, nil, nil).Hinders, "left waits") {
		t.Error("a bore that is out lets its rings go on")
	}
	p.judged("bores", "left", 1, calc.VerdictIn)
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "bores"}})
	p.take("bore-1", "2.5010 in")
	p.judged("bores", "left", 1, calc.VerdictIn)
	p.judged("bores", "right", 1, calc.VerdictIn)
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "rings"}})
	p.take("dial-1", "0.0130 in")
	b, step := p.sc.State.Current()
	if got := b.Step(step.ID).Last(); got.Status != bench.PassIsClosed || p.standing("right.gap") != "0.0130 in" || p.standing("left.gap") != "0.0120 in" {
		t.Errorf("at the end: %s, left %q, right %q", got.Status, p.standing("left.gap"), p.standing("right.gap"))
	}
}

// Where the step reads its datum again at the end, one side counts only once the datum was read after it.
func TestASideCountsOnceTheDatumVouchesForIt(t *testing.T) {
	p := newPlay(t, sidedPlan(`datum = { do = "In the ring.", size = "2.5 in", close = true, drift = "0.0002 in" }`), dial("bore-1", "bore"), dial("dial-1", "indicator"))
	p.shows("bore-1", "0.0000 in")
	p.ok(bench.Verb{Name: bench.DoZero})
	p.take("bore-1", "0.0010 in")
	p.judged("bores", "left", 1, calc.VerdictIn)
	if _, err := p.goTo("rings", "left.gap"); err == nil {
		t.Fatal("the left bore counts before its datum was read again")
	}
	if _, err := p.goTo("bores", bench.DatumPoint); err != nil {
		t.Fatal(err)
	}
	p.take("bore-1", "0.0001 in")
	b, _ := p.sc.State.Build("17")
	if got := b.Step("bores").Last().Status; got != bench.PassIsOpen {
		t.Fatalf("the pass is %s with the right bore missing", got)
	}
	if _, err := p.goTo("rings", "left.gap"); err != nil {
		t.Errorf("with the datum read again: %v", err)
	}
	// Read again with the zero wandered: it does not count.
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "bores", Point: bench.DatumPoint}})
	p.take("bore-1", "0.0010 in")
	if _, err := p.goTo("rings", "left.gap"); err == nil {
		t.Error("the left bore counts on a zero that has wandered")
	}
}

// Whoever passes over what a step needs, with a reason, passes over the needs of one cylinder too.
func TestNeedsOfOneCylinderArePassedOver(t *testing.T) {
	p := newPlay(t, sidedPlan(""), dial("bore-1", "bore"), dial("dial-1", "indicator"))
	p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "rings"}})
	p.ok(bench.Verb{Name: bench.DoOverride, Override: &bench.Override{What: bench.OverNeeds, Name: "rings"}, Reason: "rings first"})
	p.take("dial-1", "0.0120 in")
	if p.standing("left.gap") == "" {
		t.Error("nothing was taken")
	}
}
