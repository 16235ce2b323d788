package main

import (
	"bytes"
	"context"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

// played is the ledger that a demo left behind.
func played(t *testing.T, planName string, seed uint64) (out string, loaded store.Loaded) {
	t.Helper()
	dir := t.TempDir()
	var w bytes.Buffer
	ctx, cancel := context.WithTimeout(t.Context(), 8*time.Minute)
	defer cancel()
	o := demoOptions{fast: true, exit: true, dir: dir, plan: planName, seed: seed}
	if err := o.run(ctx, &w); err != nil {
		t.Fatalf("demo of %s: %v\n%s", planName, err, lastLines(w.String(), 40))
	}
	s, err := store.Open(t.Context(), filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	rep, err := s.Verify(t.Context(), "demo", service.Check())
	if err != nil {
		t.Fatal(err)
	}
	if len(rep.Wrong) > 0 || len(rep.Unknown) > 0 || rep.Results == 0 {
		t.Errorf("the ledger does not verify: %+v", rep)
	}
	if loaded, err = s.Load(t.Context(), "demo"); err != nil {
		t.Fatal(err)
	}
	decidedByMeasuring(t, loaded.State.Builds[0])
	return w.String(), loaded
}

// mostOften is how often a step of the demo's build is measured: once to find it out, and a few times more until it is in.
const mostOften = 9

// decidedByMeasuring fails where the demo's builder took a verdict as it was, or came near to it.
func decidedByMeasuring(t *testing.T, b *bench.Build) {
	t.Helper()
	for _, o := range b.Overrides {
		if o.What == bench.OverVerdict {
			t.Errorf("the verdict of %s was overridden: %s", o.Name, o.Reason)
		}
	}
	for _, step := range b.Plan.Steps {
		if n := len(b.Step(step.ID).Passes); n > mostOften {
			t.Errorf("%s was measured %d times, want %d at most", step.ID, n, mostOften)
		}
	}
}

func lastLines(s string, n int) string {
	lines := strings.Split(strings.TrimSpace(s), "\n")
	return strings.Join(lines[max(0, len(lines)-n):], "\n")
}

func TestDemoPlaysTheWholePlan(t *testing.T) {
	out, loaded := played(t, "pushrod-twin", 1)
	b := loaded.State.Builds[0]
	for _, step := range b.Plan.Steps {
		switch p := bench.ProgressOf(b, step, loaded.Results); {
		case step.Hold && p != bench.SignedOff:
			t.Errorf("hold point %s is %s, want signed", step.ID, p)
		case p != bench.Done && p != bench.SignedOff:
			t.Errorf("%s is %s", step.ID, p)
		}
		if step.Kind == plan.Measure && b.Step(step.ID).InForce() == nil {
			t.Errorf("%s was not measured", step.ID)
		}
		if len(b.Step(step.ID).Questions) > 0 {
			t.Errorf("%s: %d questions not answered", step.ID, len(b.Step(step.ID).Questions))
		}
		if len(step.Cautions) > 0 && !b.Step(step.ID).Acknowledged {
			t.Errorf("the cautions of %s were not acknowledged", step.ID)
		}
	}
	if in := b.Inside(); len(in) > 0 {
		t.Errorf("still in the engine: %v", in)
	}
	if len(b.Loose) > 0 {
		t.Errorf("still loose: %v", b.Loose)
	}
	for _, want := range []string{
		"caught: Deck: left and right were mixed up",
		"caught: Board and ring clamps: 2 pieces of mouth covers went in, 1 counted",
		"was too close to call and was decided by another pass",
		"thoud: first: Board and ring clamps", // and the barrels are held until the other one is found
		"caught: Barrels washed: the right part was away; the other side went on",
		"compound of Blocks locked is not over", "cooling of Left to cool is not over: 8 h 0 min to go; so he waits 480 minutes",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("the demo does not say %q", want)
		}
	}
	for _, o := range b.Overrides {
		if o.What == bench.OverCure {
			t.Errorf("%s was passed over, not waited for", o.Name)
		}
	}
	// Readings came by every way there is, from every family of wire.
	modes := map[string]bool{}
	for _, step := range b.Plan.Steps {
		for _, p := range b.Step(step.ID).Passes {
			for _, r := range p.Readings {
				modes[r.Mode] = true
			}
		}
	}
	for _, m := range []plan.Mode{plan.Press, plan.Swing, plan.Trace, plan.Keyed, plan.Bracket} {
		if !modes[string(m)] {
			t.Errorf("no reading was taken by %s", m)
		}
	}
}

func TestDemoPlaysTheOtherPlans(t *testing.T) {
	for _, name := range []string{"first-fit", "pushrod-two-shafts", "pushrod-v", "single-trial"} {
		t.Run(name, func(t *testing.T) {
			_, loaded := played(t, name, 2)
			b := loaded.State.Builds[0]
			last := b.Plan.Steps[len(b.Plan.Steps)-1]
			done := []bench.Progress{bench.Done, bench.SignedOff}
			if p := bench.ProgressOf(b, last, loaded.Results); !slices.Contains(done, p) {
				t.Errorf("the last step, %s, is %s", last.ID, p)
			}
		})
	}
}

// Without an angle encoder the same build is played to its end: the wheel is typed, and no curve is traced.
func TestDemoPlaysByEye(t *testing.T) {
	var w bytes.Buffer
	if err := (demoOptions{fast: true, exit: true, byEye: true, plan: "pushrod-twin", seed: 3, dir: t.TempDir()}).run(t.Context(), &w); err != nil {
		t.Fatalf("%v\n%s", err, lastLines(w.String(), 20))
	}
	if out := w.String(); strings.Contains(out, "in spite of the verdict") {
		t.Errorf("a verdict was overridden:\n%s", lastLines(out[:strings.Index(out, "in spite of the verdict")], 3))
	}
	out := w.String()
	if !strings.Contains(out, "is measured") || !strings.Contains(out, "Inlet rising through the checking height: ") {
		t.Errorf("the build was not played by eye:\n%s", lastLines(out, 10))
	}
}

// Whoever watches the demo is told how far it is and how long it takes, and afterwards where to look.
func TestDemoSaysHowFarItIs(t *testing.T) {
	dir := t.TempDir()
	out, errs, code := thoud(t, "demo", "--fast", "--exit", "--plan", "first-fit", "--state", dir, "--listen", "127.0.0.1:0")
	if code != exitDone {
		t.Fatalf("status %d: %s", code, errs)
	}
	for _, want := range []string{"\nstep 1 of 2: Guide-block clearance\n", "\nstep 2 of 2: Crankshaft runout, a few seconds left\n", "the ledger is kept in " + dir} {
		if !strings.Contains(out, want) {
			t.Errorf("the demo does not say %q:\n%s", want, out)
		}
	}
	_, line, _ := strings.Cut(out, "its sheet: thoud ")
	words := strings.Fields(line)
	for i, w := range words {
		if w == "sheet.pdf" {
			words[i] = filepath.Join(t.TempDir(), w)
		}
	}
	if _, errs, code := thoud(t, words...); code != exitDone {
		t.Errorf("%q: status %d: %s", words, code, errs)
	}
	if _, errs, code := thoud(t, "demo", "--listen", ""); code != exitMalformed || !strings.Contains(errs, "--listen") {
		t.Errorf("a demo without a page: status %d: %s", code, errs)
	}
}
