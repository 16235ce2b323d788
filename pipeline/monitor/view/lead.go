package view

import (
	"slices"

	"thoud/capture/bench"
)

// Lead is one of the things that a new machine wants before the first figure, and the page where it is done.
type Lead struct {
	Words, Page string
	No          int
	Done        bool
	Now         bool // it comes next: it is said in large type
}

// leads are what comes before the first build: a gauge, an engine, a build. None where a build was begun before: whoever
// knows the way needs no signpost.
func leads(s bench.State) []Lead {
	if len(s.Index) > 0 {
		return nil
	}
	gauge := slices.ContainsFunc(s.Gauges, func(g bench.GaugeState) bool { return !g.Removed })
	out := []Lead{
		{Words: "Plug in a gauge, and say what it is used for.", Page: "gauges", Done: gauge},
		{Words: "Say which engine it is, and what is known of it.", Page: "engine", Done: len(s.Recorded) > 0},
		{Words: "Start a build: a job number, the engine, a plan.", Page: "builds"},
	}
	for i := range out {
		out[i].No = i + 1
	}
	out[slices.IndexFunc(out, func(l Lead) bool { return !l.Done })].Now = true
	return out
}

// begin is what to do where no build is on the bench.
func begin(l []Lead) string {
	for _, step := range l {
		if step.Now {
			return step.Words
		}
	}
	return "Start a build, or go to one."
}
