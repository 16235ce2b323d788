package view

import "thoud/capture/bench"

// BuildRow is one build in the list.
type BuildRow struct {
	Job, Engine, Plan, Started string
	Closed, Here               bool
	Done, Steps                int
	Inside, Loose              int
}

// Builds lists the builds of a bench, the newest first.
func Builds(s bench.State, results bench.Results) []BuildRow {
	var out []BuildRow
	for i := len(s.Builds) - 1; i >= 0; i-- {
		b := s.Builds[i]
		row := BuildRow{Job: b.Job, Engine: b.Engine, Plan: b.Plan.Title, Started: Day(b.At), Closed: b.Closed, Here: b.Job == s.Place.Build,
			Steps: len(b.Plan.Steps), Inside: len(b.Inside()), Loose: len(b.Loose)}
		for _, st := range b.Plan.Steps {
			if p := bench.ProgressOf(b, st, results); p == bench.Done || p == bench.SignedOff {
				row.Done++
			}
		}
		out = append(out, row)
	}
	return out
}
