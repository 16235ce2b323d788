package pipeline

import (
	"strconv"

	"thoud/capture/bench"
)

// WhatIf computes what entries would bring, on a copy of the state: they are numbered and folded one after the other, each
// with its results, and with the steps that these reopen. Nothing is kept and nothing is sealed; before stays as it is.
// It is what the recorder and the rules do with entries that are made, and so it cannot differ from it.
func WhatIf(sc bench.Scene, entries []bench.Entry) (bench.Preview, bench.Standing) {
	before := bench.Standing{State: sc.State, Results: sc.Results}
	now := before
	var changed []bench.Result
	var reopened []bench.Entry
	make := func(e bench.Entry) []bench.Result {
		e.V, e.Bench, e.N, e.At, e.Boot = bench.Version, now.State.Bench, now.State.N+1, sc.Now, sc.Boot
		if e.ID == "" {
			e.ID = supposedID(e.N)
		}
		next, err := bench.Apply(now.State, e)
		if err != nil {
			return nil // it means nothing there, and the recorder would keep it so
		}
		now.State = next
		results := Compute(now.State, e, now.Results)
		now.Results = now.Results.With(results...)
		return results
	}
	for _, e := range entries {
		results := make(e)
		changed = append(changed, results...)
		if len(results) == 0 {
			continue
		}
		again := sc
		again.State, again.Results = now.State, now.Results
		d, err := bench.Decide(again, bench.Computed{Results: results})
		if err != nil {
			continue
		}
		for _, r := range d.Entries {
			reopened = append(reopened, r)
			make(r)
		}
	}
	return bench.PreviewOf(before, now, changed, reopened), now
}

// supposedID names an entry that is never made.
func supposedID(n uint64) string { return "supposed-" + strconv.FormatUint(n, 10) }
