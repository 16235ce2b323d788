package bench_test

import (
	"strings"
	"testing"

	"thoud/capture/bench"
)

// A step in which nothing is read can be signed again once it was opened again.
func TestAStepWithoutReadingsIsSignedAgain(t *testing.T) {
	p := newPlay(t, strings.Replace(heated, `kind = "check"`, "kind = \"check\"\nhold = true", 1))
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "ran"})
	p.ok(bench.Verb{Name: bench.DoSign, Initials: "AB"})
	p.ok(bench.Verb{Name: bench.DoReopen, Reason: "it was not warm"})
	b, step := p.sc.State.Current()
	if got := bench.ProgressOf(b, *step, p.sc.Results); got != bench.Stale {
		t.Errorf("opened again it is %q", got)
	}
	if now, v := bench.NowOf(p.sc); now != bench.NowSign || v == nil {
		t.Errorf("it waits for %q", now)
	}
	p.ok(bench.Verb{Name: bench.DoSign, Initials: "AB"})
	b, step = p.sc.State.Current()
	if got := bench.ProgressOf(b, *step, p.sc.Results); got != bench.SignedOff {
		t.Errorf("signed again it is %q", got)
	}
}
