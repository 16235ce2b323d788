package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/store"
)

// mustKnow fails where a filter that found nothing names a job, a step, a point or a gauge that there is not: nothing found
// and nothing to find are two answers.
func mustKnow(ctx context.Context, s *store.Store, name string, f store.Filter) error {
	if f.Build != "" {
		if err := mustKnowJob(ctx, s, name, f.Build); err != nil {
			return err
		}
	}
	if f.Gauge != "" {
		if known, err := anyEntry(ctx, s, name, store.Filter{Gauge: f.Gauge}); err != nil || !known {
			return orUnknown(err, "no gauge %q was ever registered: thoud gauge list shows what there is", f.Gauge)
		}
	}
	if f.Step == "" && (f.Point == "" || strings.ContainsAny(f.Point, "*?")) {
		return nil
	}
	return mustKnowPlace(ctx, s, name, f)
}

// mustKnowPlace asks the plans of the builds that are meant for a step and a point.
func mustKnowPlace(ctx context.Context, s *store.Store, name string, f store.Filter) error {
	rows, err := s.Builds(ctx, name)
	if err != nil {
		return err
	}
	step := f.Step == ""
	for _, row := range rows {
		if f.Build != "" && row.Job != f.Build {
			continue
		}
		b, _, err := s.Build(ctx, name, row.Job, 0)
		if err != nil {
			return err
		}
		for _, st := range b.Plan.Steps {
			if f.Step != "" && st.ID != f.Step {
				continue
			}
			step = true
			if f.Point == "" || strings.ContainsAny(f.Point, "*?") || f.Point == bench.DatumPoint || slices.ContainsFunc(st.Points, func(p plan.Point) bool { return p.ID == f.Point }) {
				return nil
			}
		}
	}
	if !step {
		return fmt.Errorf("no step %q in the plan of any build that is meant: thoud build show JOB lists them", f.Step)
	}
	return fmt.Errorf("no point %q in any step that is meant: thoud build show JOB lists them; * and ? stand for anything", f.Point)
}

// anyEntry reports whether an entry passes a filter.
func anyEntry(ctx context.Context, s *store.Store, name string, f store.Filter) (found bool, err error) {
	f.Limit = 1
	err = s.EachEntry(ctx, name, f, func(store.EntryRow) bool { found = true; return false })
	return found, err
}

func orUnknown(err error, words, name string) error {
	if err != nil {
		return err
	}
	return fmt.Errorf(words, name)
}
