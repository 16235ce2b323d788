package view

import (
	"slices"

	"thoud/capture/bench"
)

// Lead is one of the things that a new machine wants before the first figure, and the page where it is done.
type Lead struct {
	Words, Page string
	Done        bool
}

// leads are what comes before the first build: a gauge, an engine, a build. None where a build was begun before: whoever
// knows the way needs no signpost.
func leads(s bench.State) []Lead {
	if len(s.Index) > 0 {
		return nil
	}
	gauge := slices.ContainsFunc(s.Gauges, func(g bench.GaugeState) bool { return !g.Removed })
	return []Lead{
		{"Plug in a gauge, and say what it is used for.", "gauges", gauge},
		{"Say which engine it is, and what is known of it.", "engine", len(s.Recorded) > 0},
		{"Start a build: a job number, the engine, a plan.", "builds", false},
	}
}

// begin is what to do where no build is on the bench.
func begin(l []Lead) string {
	for _, step := range l {
		if !step.Done {
			return step.Words
		}
	}
	return "Start a build, or go to one."
}
