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
	builds, results, err := s.buildsOf(r.Context(), engine)
	if err != nil {
		s.fail(w, err)
		return
	}
	s.page(w, r, "compare", Page{Title: "Compare", Data: view.Compare(engine, builds, results)})
}

// mostCompared is how many builds of an engine stand side by side, the newest of them.
const mostCompared = 8

// buildsOf gives the builds of an engine with their results, from memory or from the ledger.
func (s *Server) buildsOf(ctx context.Context, engine string) ([]*bench.Build, bench.Results, error) {
	state, results := s.cfg.Bench.State(), s.cfg.Bench.Results()
	var rows []bench.BuildRow
	for _, row := range state.Index {
		if row.Engine == engine && engine != "" {
			rows = append(rows, row)
		}
	}
	var builds []*bench.Build
	for _, row := range rows[max(0, len(rows)-mostCompared):] {
		b, ok := state.Build(row.Job)
		if !ok && s.cfg.Archive != nil {
			loaded, own, err := s.cfg.Archive.Build(ctx, row.Job)
			if err != nil {
				return nil, results, err
			}
			b, ok, results = loaded, true, results.Beside(own)
		}
		if ok {
			builds = append(builds, b)
		}
	}
	return builds, results, nil
}
