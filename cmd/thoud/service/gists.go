package service

import (
	"context"
	"errors"
	"slices"
	"time"

	"thoud/capture/bench"
	"thoud/store"
)

// gists gives what was kept of a ledger's builds, and reckons up what is missing: builds that something was recorded in since,
// and those of a ledger that an earlier program kept.
type gists struct {
	s  *store.Store
	in string // whose builds
	// held gives builds that are in memory; nil where none is.
	held func() (bench.State, bench.Results)
	// most is how long a look may reckon, the newest builds first; what is left is told. 0: until all is there.
	most time.Duration
}

// lookReckons is how long a look at a page reckons before it shows what there is.
const lookReckons = 400 * time.Millisecond

// get lists the builds that are wanted, with what they found. Left is how many could not be reckoned up in time: they are not
// fresh.
func (g gists) get(ctx context.Context, want store.GistWant) (all []store.KeptBuild, left int, err error) {
	if all, err = g.s.Gists(ctx, g.in, want); err != nil {
		return nil, 0, err
	}
	if g.held != nil {
		state, results := g.held()
		for i := range all {
			if b, ok := state.Build(all[i].Job); ok && !all[i].Fresh {
				all[i].Fill(bench.GistOf(b, results), want)
			}
		}
	}
	if !slices.ContainsFunc(all, func(b store.KeptBuild) bool { return !b.Fresh }) {
		return all, 0, nil
	}
	may := true
	if g.most > 0 {
		end, ok := g.s.TryReckon()
		if may = ok; may {
			defer end()
		}
	}
	began, reckoned := time.Now(), 0
	for i, b := range slices.Backward(all) {
		switch {
		case b.Fresh:
		case !may, g.most > 0 && reckoned > 0 && time.Since(began) > g.most: // one at least: each look comes nearer
			left++
		default:
			gist, err := g.reckon(ctx, b.Job)
			if err != nil {
				return nil, 0, err
			}
			all[i].Fill(gist, want)
			reckoned++
		}
	}
	return all, left, nil
}

// reckon folds a build, and keeps what it found where the ledger may be written.
func (g gists) reckon(ctx context.Context, job string) (bench.Gist, error) {
	end, err := g.s.End(ctx, g.in)
	if err != nil {
		return bench.Gist{}, err
	}
	b, results, err := g.s.Build(ctx, g.in, job, store.Newest)
	if err != nil {
		return bench.Gist{}, err
	}
	gist := bench.GistOf(b, results)
	err = g.s.KeepGists(ctx, g.in, end.N, map[string]bench.Gist{job: gist})
	if errors.Is(err, store.ErrReadOnly) {
		err = nil
	}
	return gist, err
}

// Seatings gives the repeated seatings of builds.
func (a archive) Seatings(ctx context.Context, jobs []string) (map[string][]bench.Seating, int, error) {
	all, left, err := gists{s: a.s, in: a.bench, most: lookReckons}.get(ctx, store.GistWant{Jobs: jobs, Seatings: true})
	out := map[string][]bench.Seating{}
	for _, b := range all {
		if b.Fresh {
			out[b.Job] = b.Seatings
		}
	}
	return out, left, err
}

// Findings gives the figures of builds that their plans want shown.
func (a archive) Findings(ctx context.Context, jobs []string) (map[string][]bench.Finding, int, error) {
	all, left, err := gists{s: a.s, in: a.bench, most: lookReckons}.get(ctx, store.GistWant{Jobs: jobs, Large: true})
	out := map[string][]bench.Finding{}
	for _, b := range all {
		if b.Fresh {
			out[b.Job] = b.Findings
		}
	}
	return out, left, err
}

// Seated gives the repeated seatings of every build of a ledger that is read.
func Seated(ctx context.Context, s *store.Store, benchName string) ([]bench.Seated, error) {
	all, _, err := gists{s: s, in: benchName}.get(ctx, store.GistWant{Seatings: true})
	var out []bench.Seated
	for _, b := range all {
		out = append(out, bench.Seated{Job: b.Job, Seatings: b.Seatings})
	}
	return out, err
}
