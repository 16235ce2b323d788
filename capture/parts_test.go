package capture

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"thoud/capture/bench"
)

// A bench that has begun more builds than it keeps in memory loads an older one when somebody goes to it, and goes on
// there as if it had never left memory.
func TestAnOlderBuildIsLoadedWhenItIsAskedFor(t *testing.T) {
	inRig(t, rigPlan("press", "", ""), bench.SendsStream, func(r *rig) {
		r.loop.Load = func(_ context.Context, job string) (*bench.Build, bench.Results, error) {
			s := bench.State{Bench: "rig"}
			for _, e := range r.log.entries {
				s, _ = bench.Apply(s, e)
			}
			b, ok := s.Build(job)
			if !ok {
				return nil, bench.Results{}, fmt.Errorf("no job %s", job)
			}
			return b, bench.Results{}, nil
		}
		r.ok(bench.Verb{Name: bench.DoAgain})
		r.shows("+0.1000 in")
		r.ok(bench.Verb{Name: bench.DoTake})
		for i := range bench.InWork + 3 {
			r.ok(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: fmt.Sprintf("b%d", i), Plan: "rig", Text: rigPlan("press", "", "")}})
		}
		if n := len(r.loop.State().Builds); n != bench.InWork {
			t.Errorf("%d builds in memory, want %d", n, bench.InWork)
		}
		if _, in := r.loop.State().Build("17"); in {
			t.Fatal("the first build never left memory, so nothing is shown here")
		}
		if words := r.no(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "17", Plan: "rig", Text: rigPlan("press", "", "")}}); !strings.Contains(words, "was started before") {
			t.Errorf("a job begun twice: %s", words)
		}
		r.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Build: "17"}})
		if p := r.pass(); p == nil || len(p.Readings) != 1 {
			t.Errorf("back at the first build: pass %+v, want its one reading", p)
		}
		r.shows("+0.2000 in")
		r.ok(bench.Verb{Name: bench.DoTake})
		if n := len(r.pass().Readings); n != 2 {
			t.Errorf("%d readings after another take, want 2", n)
		}
		if words := r.no(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Build: "nowhere"}}); !strings.Contains(words, "no build") {
			t.Errorf("a build that is not there: %s", words)
		}
	})
}

// An own entry that the ledger sets aside stops the bench in words; another's does not.
func TestAnOwnEntrySetAsideStopsTheBench(t *testing.T) {
	inRig(t, rigPlan("press", "", ""), bench.SendsStream, func(r *rig) {
		r.loop.Outcome(context.Background(), bench.Outcome{N: 99, ID: "another bench's", Trouble: "does not follow"})
		r.ok(bench.Verb{Name: bench.DoAgain})
		r.shows("+0.1000 in")
		r.ok(bench.Verb{Name: bench.DoTake})
		own := r.log.entries[len(r.log.entries)-1]
		r.loop.Outcome(context.Background(), bench.Outcome{N: own.N, ID: own.ID, Trouble: "does not follow the ledger"})
		before := len(r.log.entries)
		words := r.no(bench.Verb{Name: bench.DoTake})
		for _, want := range []string{"set aside", "does not follow the ledger", "stopped", "thoud quarantine list"} {
			if !strings.Contains(words, want) {
				t.Errorf("%q does not say %q", words, want)
			}
		}
		if fault := r.tell.last("fault"); fault != words {
			t.Errorf("the screen says %q, the answer %q", fault, words)
		}
		if len(r.log.entries) != before {
			t.Errorf("%d entries were made after the bench had stopped", len(r.log.entries)-before)
		}
	})
}
