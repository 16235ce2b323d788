package service

import (
	"context"
	"fmt"
	"time"

	"thoud/capture/bench"
	"thoud/pipeline"
	"thoud/store"
)

// sceneOf is how a bench stands by its ledger, with what some parts need in memory. It has no gauges' values: nothing is
// read by it.
func sceneOf(ctx context.Context, s *store.Store, benchName string, parts ...bench.Part) (bench.Scene, error) {
	l, err := s.Load(ctx, benchName)
	if err != nil {
		return bench.Scene{}, err
	}
	sc := bench.Scene{State: l.State, Results: l.Results, Committed: l.Chain.N, Now: time.Now().UnixMicro(), Boot: bootID()}
	err = withParts(ctx, archive{s, benchName}, &sc, parts)
	return sc, err
}

// withParts brings into a scene what is not in its memory.
func withParts(ctx context.Context, from archive, sc *bench.Scene, parts []bench.Part) error {
	for _, part := range sc.State.Lacks(parts) {
		if part.Engine != "" {
			g, err := from.Engine(ctx, part.Engine)
			if err != nil {
				return err
			}
			sc.State = sc.State.JoinRecord(g)
			continue
		}
		b, results, err := from.Build(ctx, part.Build)
		if err != nil {
			return err
		}
		sc.State, sc.Results = sc.State.Join(b), sc.Results.Beside(results)
	}
	return nil
}

// WhatIf shows what some changes to an open build would bring, by its ledger, and the verbs that would make it so. An
// empty job is the build on the bench.
func WhatIf(ctx context.Context, s *store.Store, benchName, job string, texts []string, sure bool) (bench.Preview, []bench.Verb, error) {
	sc, err := sceneOf(ctx, s, benchName, bench.Part{Build: job})
	if err != nil {
		return bench.Preview{}, nil, err
	}
	return whatIf(ctx, archive{s, benchName}, sc, job, texts, sure)
}

func whatIf(ctx context.Context, from archive, sc bench.Scene, job string, texts []string, sure bool) (bench.Preview, []bench.Verb, error) {
	if job == "" {
		job = sc.State.Place.Build
	}
	if job == "" {
		return bench.Preview{}, nil, fmt.Errorf("no build stands on the bench: name one with --job")
	}
	if err := withParts(ctx, from, &sc, []bench.Part{{Build: job}}); err != nil {
		return bench.Preview{}, nil, err
	}
	if b, ok := sc.State.Build(job); ok && b.Engine != "" {
		if err := withParts(ctx, from, &sc, []bench.Part{{Engine: b.Engine, All: true}}); err != nil {
			return bench.Preview{}, nil, err
		}
	}
	sup, err := bench.Suppose(sc, job, texts, sure)
	if err != nil {
		return bench.Preview{}, nil, err
	}
	p, _ := pipeline.WhatIf(sc, sup.Entries)
	p.Job, p.Changes, p.Loses, p.Keeps = job, sup.Changes, sup.Loses, len(sup.Keep) > 0
	return p, sup.Keep, nil
}

// PreviewEngine shows what a verb that keeps values of an engine would bring to its open builds, by its ledger.
func PreviewEngine(ctx context.Context, s *store.Store, benchName string, v bench.Verb) (bench.Preview, error) {
	sc, err := sceneOf(ctx, s, benchName, bench.VerbParts(v)...)
	if err != nil {
		return bench.Preview{}, err
	}
	return previewEngine(ctx, archive{s, benchName}, sc, v)
}

func previewEngine(ctx context.Context, from archive, sc bench.Scene, v bench.Verb) (bench.Preview, error) {
	if err := withParts(ctx, from, &sc, bench.VerbParts(v)); err != nil {
		return bench.Preview{}, err
	}
	d, err := bench.Decide(sc, v)
	if err != nil {
		return bench.Preview{}, err
	}
	p, _ := pipeline.WhatIf(sc, d.Entries)
	p.Engine, p.Changes, p.Own, p.Keeps = v.Engine.Engine, bench.ChangesOf(sc, v), bench.OwnValues(sc.State, *v.Engine), true
	return p, nil
}

// foresight answers the pages what a change would bring, from how the bench stands.
type foresight struct {
	scene func() bench.Scene
	from  archive
}

// WhatIf supposes changes to an open build.
func (f foresight) WhatIf(ctx context.Context, job string, texts []string, sure bool) (bench.Preview, error) {
	p, _, err := whatIf(ctx, f.from, f.scene(), job, texts, sure)
	return p, err
}

// Before shows what a verb that keeps values of an engine would bring.
func (f foresight) Before(ctx context.Context, v bench.Verb) (bench.Preview, error) {
	return previewEngine(ctx, f.from, f.scene(), v)
}
