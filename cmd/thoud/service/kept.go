package service

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"thoud/capture/bench"
	"thoud/store"
	"thoud/store/sheet"
)

// Kept is one history of a bench as a ledger keeps it.
type Kept struct {
	Name  string // of the bench; NAME~2 of its second history
	Store *store.Store
	In    string // the name that its rows have there
	From  uint64 // up to this entry it is another history's too, and counted there; 0 of a first one
}

// KeptIn are the histories in a ledger: at a bench its own, at a hub those of every bench. end is to be called once nobody reads
// them any more.
func KeptIn(ctx context.Context, s *store.Store, forks *Forks) (all []Kept, end func(), err error) {
	lines, err := s.Lines(ctx)
	if err != nil {
		return nil, nil, err
	}
	if len(lines) == 0 {
		name, err := s.Bench(ctx)
		if err == nil && name == "" {
			err = fmt.Errorf("ledger %s: nothing was recorded yet", s.Path())
		}
		return []Kept{{Name: name, Store: s, In: name}}, func() {}, err
	}
	var ends []func()
	end = func() {
		for _, e := range ends {
			e()
		}
	}
	for _, l := range lines {
		k, e, err := forks.Kept(ctx, l.Name)
		if err != nil {
			end()
			return nil, nil, err
		}
		all, ends = append(all, k), append(ends, e)
	}
	return all, end, nil
}

// builds are those that were begun in a history itself, not before it parted from another.
func (k Kept) builds(ctx context.Context) ([]bench.BuildRow, error) {
	rows, err := k.Store.Builds(ctx, k.In)
	return slices.DeleteFunc(rows, func(r bench.BuildRow) bool { return r.N <= k.From }), err
}

// wentOn reports whether anything of a build was recorded in a history after it parted.
func (k Kept) wentOn(ctx context.Context, job string) (bool, error) {
	on := false
	err := k.Store.EachEntry(ctx, k.In, store.Filter{Build: job, From: k.From + 1, Limit: 1}, func(store.EntryRow) bool { on = true; return false })
	return on, err
}

// enginesIn lists the engines that builds of some benches name, each once.
func enginesIn(ctx context.Context, all []Kept) ([]string, error) {
	var out []string
	for _, k := range all {
		rows, err := k.builds(ctx)
		if err != nil {
			return nil, err
		}
		for _, row := range rows {
			out = append(out, row.Engine)
		}
	}
	slices.Sort(out)
	return slices.DeleteFunc(slices.Compact(out), func(name string) bool { return name == "" }), nil
}

// ErrEngine marks an engine that no build names, or one that has to be said.
var ErrEngine = errors.New("no such engine")

// Followed is what the builds of an engine found under one name, and which figures each has.
type Followed struct {
	Builds  []sheet.Found
	Figures [][]bench.FigureName // of each build, where they are wanted
	Left    int                  // builds that are not reckoned up yet
}

// Follow gives what the builds of an engine at some benches found under the name of a dimension, "" for their figures' names
// alone. An engine is known by its name, wherever it was built. Where the builds are all of one engine, its name may be left out.
// Wraps ErrEngine.
func Follow(ctx context.Context, all []Kept, engine, dimension string) (Followed, error) {
	return follow(ctx, all, engine, dimension, gists{})
}

// follow is Follow with a way to look: its ledger is each of the benches' own.
func follow(ctx context.Context, all []Kept, engine, dimension string, look gists) (Followed, error) {
	var out Followed
	if engine == "" {
		have, err := engineNames(ctx, all)
		if err != nil {
			return out, err
		}
		if len(have) > 1 {
			return out, fmt.Errorf("%w: the ledger has several engines: say which with --engine: %s", ErrEngine, strings.Join(have, ", "))
		}
	}
	_, named := sheet.SplitDimension(dimension)
	for _, k := range all {
		look.s, look.in = k.Store, k.In
		builds, left, err := look.get(ctx, store.GistWant{Engine: engine, Named: named, Figures: true})
		if err != nil {
			return out, err
		}
		out.Left += left
		for _, b := range builds {
			if b.Fresh && b.N > k.From { // it was begun in this history itself, not before it parted from another
				out.Builds = append(out.Builds, sheet.Found{Bench: k.Name, Job: b.Job, Engine: b.Engine, Findings: b.Findings})
				out.Figures = append(out.Figures, b.Figures)
			}
		}
	}
	if engine != "" && len(out.Builds)+out.Left == 0 {
		have, err := engineNames(ctx, all)
		if err != nil {
			return out, err
		}
		return out, fmt.Errorf("%w: --engine %q: no build of it; the ledger has %s", ErrEngine, engine, strings.Join(have, ", "))
	}
	return out, nil
}

// engineNames lists the engines of some benches' builds in quotation marks, each once; a build without one is of "".
func engineNames(ctx context.Context, all []Kept) ([]string, error) {
	var out []string
	for _, k := range all {
		rows, err := k.builds(ctx)
		if err != nil {
			return nil, err
		}
		for _, row := range rows {
			out = append(out, fmt.Sprintf("%q", row.Engine))
		}
	}
	slices.Sort(out)
	return slices.Compact(out), nil
}

// FoundBy gives all that one build of a ledger found. Wraps sheet.ErrNoBuild.
func FoundBy(ctx context.Context, s *store.Store, benchName, job string) (sheet.Found, error) {
	all, _, err := gists{s: s, in: benchName}.get(ctx, store.GistWant{Jobs: []string{job}, Findings: true})
	if err == nil && len(all) == 0 {
		_, err = SheetOf(ctx, s, benchName, job, false) // says which builds there are
	}
	if err != nil {
		return sheet.Found{}, err
	}
	return sheet.Found{Bench: benchName, Job: job, Engine: all[0].Engine, Findings: all[0].Findings}, nil
}

// livesIn folds what was told at some benches of the engines' hours and parts, and nothing else, in the order it was told.
func livesIn(ctx context.Context, all []Kept, kinds ...bench.Kind) (bench.State, error) {
	var told []bench.Entry
	for _, k := range all {
		for _, kind := range kinds {
			err := k.Store.EachEntry(ctx, k.In, store.Filter{Kind: kind, From: k.From + 1}, func(r store.EntryRow) bool {
				told = append(told, r.Entry)
				return true
			})
			if err != nil {
				return bench.State{}, err
			}
		}
	}
	slices.SortStableFunc(told, func(a, b bench.Entry) int { return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.N, b.N)) })
	var s bench.State
	for _, e := range told {
		s, _ = (bench.Fold{}).Apply(s, e) // what means nothing where it stands was told when it was recorded
	}
	return s, nil
}

// LifeIn is what was told at some benches of how an engine ran. The hours are those told last, at whichever bench; the words
// say where they were told to be fewer than before, "" where they were not.
func LifeIn(ctx context.Context, all []Kept, engine string) (bench.EngineLife, string, error) {
	s, err := livesIn(ctx, all, bench.HoursTold)
	if err != nil {
		return bench.EngineLife{}, "", err
	}
	life := s.LifeOf(engine)
	for i, t := range life.Told {
		if i > 0 && t.Hours < life.Told[i-1].Hours {
			return life, fmt.Sprintf("the hours of %s went down, from %s to %s: look at which bench they were told wrong", engine, bench.HourWords(life.Told[i-1].Hours), bench.HourWords(t.Hours)), nil
		}
	}
	return life, "", nil
}
