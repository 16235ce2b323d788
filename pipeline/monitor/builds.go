package monitor

import (
	"context"
	"net/http"
	"slices"

	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// BuildsData is what the page of the builds shows.
type BuildsData struct {
	Builds  []view.BuildRow
	Plans   []PlanChoice
	Engines []string
	Open    bool // a build is on the bench
	Fault   string
}

// PlanChoice is a plan that a build can be started with.
type PlanChoice struct{ Name, Title string }

func (s *Server) buildsPage(w http.ResponseWriter, r *http.Request) {
	state, results := s.cfg.Bench.State(), s.cfg.Bench.Results()
	listed := view.Listing(state, results)
	if s.cfg.Archive != nil {
		var err error
		if listed, err = s.cfg.Archive.Builds(r.Context()); err != nil {
			s.fail(w, err)
			return
		}
	}
	d := BuildsData{Open: state.Place.Build != "", Builds: view.Builds(listed, state, results)}
	for _, row := range d.Builds {
		if row.Engine != "" && !slices.Contains(d.Engines, row.Engine) {
			d.Engines = append(d.Engines, row.Engine)
		}
	}
	rows, err := s.planRows()
	if err != nil {
		d.Fault = err.Error()
	}
	for _, p := range rows {
		d.Plans = append(d.Plans, PlanChoice{p.Name, p.Title})
	}
	s.page(w, r, "builds", Page{Title: "Builds", Data: d})
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
