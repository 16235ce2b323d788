package view

import "thoud/capture/bench"

// BuildRow is one build in the list.
type BuildRow struct {
	Job, Engine, Plan, Started string
	Stands                     string // where the bench stood in it last
	Closed, Here               bool
	Reckoned                   bool // Done to Loose are known
	Done, Steps                int
	Inside, Loose              int
}

// Listed is a build as a list knows it without folding it. A Summary without steps was not reckoned yet.
type Listed struct {
	bench.BuildRow
	bench.Summary
}

// Builds lists the builds of a bench, the newest first. What is in memory is reckoned anew.
func Builds(all []Listed, s bench.State, results bench.Results) []BuildRow {
	var out []BuildRow
	for i := len(all) - 1; i >= 0; i-- {
		l := all[i]
		if b, ok := s.Build(l.Job); ok {
			l.Summary = bench.Summarise(b, results)
		}
		row := BuildRow{Job: l.Job, Engine: l.Engine, Plan: l.Title, Started: Day(l.At), Closed: l.Closed > 0, Here: l.Job == s.Place.Build,
			Reckoned: l.Steps > 0, Done: l.Done, Steps: l.Steps, Inside: l.Inside, Loose: l.Loose, Stands: l.Stands}
		if row.Plan == "" {
			row.Plan = l.BuildRow.Plan
		}
		out = append(out, row)
	}
	return out
}

// Listing lists the builds that a state holds, for a bench without a ledger to look into.
func Listing(s bench.State, results bench.Results) []Listed {
	var out []Listed
	for _, row := range s.Index {
		l := Listed{BuildRow: row}
		if b, ok := s.Build(row.Job); ok {
			l.Summary = bench.Summarise(b, results)
		}
		out = append(out, l)
	}
	return out
}
