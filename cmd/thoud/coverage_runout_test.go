package main

import (
	"testing"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// A sweep's zero walks while the shaft is turned, and the datum at the end shows that to a count and no better. Where it
// shows nought the zero has walked all the same, and the eccentricity with it: U at k of about 2 holds the truth in about
// 95 % there too (JCGM 100, 6.2.2), over many cranks turned once with an angle gauge and once more when tapped.
// THOUD_COVERAGE_RUNS asks for more runs.
func TestRunoutOfASweepWhoseZeroShowsNoDrift(t *testing.T) {
	text, err := demoOptions{plan: "pushrod-twin"}.planText()
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Parse("pushrod-twin", text)
	if err != nil {
		t.Fatal(err)
	}
	step, ok := p.Step("crank-runout")
	if !ok || step.Capture.Mode != plan.Trace {
		t.Fatalf("the shipped plan has no turn of the crank with an angle gauge: %+v", step.Capture)
	}
	nought, some, n := scores{}, scores{}, runs(t, "THOUD_COVERAGE_RUNS", 80)
	for seed := range n {
		b := newPaperBench(t, p, uint64(seed)+1, false)
		b.told = func(step plan.Step, r bench.Result, figure string, truth float64) {
			s := some
			build, _ := b.state.Build(paperJob)
			if d := build.Step(step.ID).Passes[r.Pass-1].Drift; d.By.N == 0 {
				s = nought
			}
			s.take(t, step.ID, r, figure, truth)
		}
		b.add(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: paperJob, Step: step.ID}})
		part := b.engine.Part(step)
		for _, r := range b.pass(step, part, 1) {
			part.Move(b.engine.At(step, r.Key, 1), r)
		}
		b.pass(step, part, 2)
	}
	const row = "crank-runout.eccentricity"
	for name, s := range map[string]scores{"nought": nought, "some drift": some} {
		if s[row] == nil || s[row].all < n/4 {
			t.Fatalf("%s: too few passes closed so: %+v", name, s[row])
		}
		table, _ := s.table()
		t.Logf("the datum showed %s at the end\n%s", name, table)
		if s[row].share() < 92 {
			t.Errorf("where the datum showed %s at the end the eccentricity holds the truth in %.1f %% (%d of %d), want 95 %%", name, s[row].share(), s[row].held, s[row].all)
		}
	}
}
