package monitor

import (
	"context"
	"math"
	"net/http"
	"slices"
	"strconv"

	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// BuildsData is what the page of the builds shows.
type BuildsData struct {
	Builds  []view.BuildRow
	Plans   []PlanChoice
	Engines []string
	Open    bool   // a build is on the bench
	Older   uint64 // the page of the older builds is of those begun before this entry; 0: there is none
	Past    bool   // these are not the newest
	Fault   string
}

// PlanChoice is a plan that a build can be started with.
type PlanChoice struct{ Name, Title string }

// mostBuilds is how many builds a page lists.
const mostBuilds = 50

func (s *Server) buildsPage(w http.ResponseWriter, r *http.Request) {
	state, results := s.cfg.Bench.State(), s.cfg.Bench.Results()
	d := BuildsData{Open: state.Place.Build != "", Engines: state.EngineNames()}
	before := uint64(math.MaxUint64)
	if n, err := strconv.ParseUint(r.URL.Query().Get("before"), 10, 64); err == nil {
		before, d.Past = n, true
	}
	listed, err := s.listed(r.Context(), state, results, before)
	if err != nil {
		s.fail(w, err)
		return
	}
	if len(listed) > mostBuilds {
		listed = listed[len(listed)-mostBuilds:]
		d.Older = listed[0].N
	}
	if here, ok := state.Known(state.Place.Build); ok && !d.Past && !slices.ContainsFunc(listed, func(l view.Listed) bool { return l.Job == here.Job }) {
		listed = append(listed, view.Listed{BuildRow: here}) // however old it is, it is the one that is worked on
	}
	d.Builds = view.Builds(listed, state, results)
	rows, err := s.planRows()
	if err != nil {
		d.Fault = err.Error()
	}
	for _, p := range rows {
		d.Plans = append(d.Plans, PlanChoice{p.Name, p.Title})
	}
	s.page(w, r, "builds", Page{Title: "Builds", Data: d})
}

// listed gives the newest builds begun before an entry, one more than a page has.
func (s *Server) listed(ctx context.Context, state bench.State, results bench.Results, before uint64) ([]view.Listed, error) {
	if s.cfg.Archive != nil {
		return s.cfg.Archive.Builds(ctx, before, mostBuilds+1)
	}
	all := slices.DeleteFunc(view.Listing(state, results), func(l view.Listed) bool { return l.N >= before })
	return all[max(0, len(all)-mostBuilds-1):], nil
}

func (s *Server) comparePage(w http.ResponseWriter, r *http.Request) {
	engine := r.URL.Query().Get("engine")
	if all := s.cfg.Bench.State().EngineNames(); engine == "" && len(all) > 0 {
		engine = all[0]
	}
	builds, left, err := s.foundBy(r.Context(), engine)
	if err != nil {
		s.fail(w, err)
		return
	}
	d := view.SideBySide(builds)
	d.Engine, d.Left = engine, view.LeftWords(left, len(builds)+left)
	s.page(w, r, "compare", Page{Title: "Compare", Data: d})
}

// mostCompared is how many builds of an engine stand side by side, the newest of them.
const mostCompared = 8

// foundBy gives what the builds of an engine found, from memory or as it was kept; left is how many are not reckoned up yet.
func (s *Server) foundBy(ctx context.Context, engine string) (builds []view.Compared, left int, err error) {
	state, results := s.cfg.Bench.State(), s.cfg.Bench.Results()
	rows := newestOf(state, engine, mostCompared)
	kept := map[string][]bench.Finding{}
	if away := notHeld(state, rows); len(away) > 0 && s.cfg.Archive != nil {
		if kept, left, err = s.cfg.Archive.Findings(ctx, away); err != nil {
			return nil, 0, err
		}
	}
	for _, row := range rows {
		findings, ok := kept[row.Job]
		if b, held := state.Build(row.Job); held {
			findings, ok = bench.FindingsOf(b, results), true
		}
		if ok {
			builds = append(builds, view.Compared{Name: "job " + row.Job, Findings: findings})
		}
	}
	return builds, left, nil
}

// newestOf lists the newest builds of an engine, in the order they were started.
func newestOf(state bench.State, engine string, most int) []bench.BuildRow {
	var rows []bench.BuildRow
	for _, row := range slices.Backward(state.Index) {
		if row.Engine == engine && engine != "" && len(rows) < most {
			rows = append(rows, row)
		}
	}
	slices.Reverse(rows)
	return rows
}

// buildsOf gives the newest builds of an engine, from memory or folded from the ledger.
func (s *Server) buildsOf(ctx context.Context, engine string, most int) ([]*bench.Build, error) {
	state := s.cfg.Bench.State()
	var builds []*bench.Build
	for _, row := range newestOf(state, engine, most) {
		b, ok := state.Build(row.Job)
		if !ok && s.cfg.Archive != nil {
			var err error
			if b, _, err = s.cfg.Archive.Build(ctx, row.Job); err != nil {
				return nil, err
			}
			ok = true
		}
		if ok {
			builds = append(builds, b)
		}
	}
	return builds, nil
}
