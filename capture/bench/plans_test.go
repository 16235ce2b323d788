package bench_test

import (
	"testing"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// A text is read once for all builds and answers that make the same plan of it: without an answer, with the answer that is
// taken until there is one, and in the next build. An answer that makes another plan reads it again, once.
func TestATextIsReadOnceForAllThatMakesTheSameOfIt(t *testing.T) {
	fold := bench.Fold{Plans: &bench.Plans{}}.Reading()
	s, n := bench.State{Bench: "bench"}, uint64(0)
	next := func(e bench.Entry) *plan.Plan {
		t.Helper()
		n++
		e.V, e.Bench, e.N, e.ID = bench.Version, "bench", n, "id"
		var err error
		if s, err = fold.Apply(s, e); err != nil {
			t.Fatal(err)
		}
		b, ok := s.Build(s.Index[len(s.Index)-1].Job)
		if !ok {
			t.Fatal("no build")
		}
		return b.Plan
	}
	begun := func(job string) *plan.Plan {
		return next(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: job, Plan: "asking", Text: asking}})
	}
	answered := func(job, choice string) *plan.Plan {
		return next(bench.Entry{Kind: bench.Answered, Place: bench.Place{Build: job, Step: "look"}, Item: "holes", Choice: choice})
	}
	one := begun("one")
	if answered("one", "none") != one {
		t.Error("the answer that is taken anyway read the text again")
	}
	left := answered("one", "left")
	if left == one {
		t.Error("an answer that makes another plan did not")
	}
	if begun("two") != one || answered("two", "left") != left || answered("two", "none") != one {
		t.Error("the second build read the text again")
	}
}
