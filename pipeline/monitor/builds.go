package monitor

import (
	"net/http"
	"slices"

	"thoud/calc/chart"
	"thoud/capture/bench"
	"thoud/capture/plan"
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

// PlanChoice is a plan that ships.
type PlanChoice struct{ Name, Title string }

func (s *Server) buildsPage(w http.ResponseWriter, r *http.Request) {
	state, results := s.cfg.Bench.State(), s.cfg.Bench.Results()
	d := BuildsData{Open: state.Place.Build != "", Builds: view.Builds(state, results)}
	for _, row := range d.Builds {
		if row.Engine != "" && !slices.Contains(d.Engines, row.Engine) {
			d.Engines = append(d.Engines, row.Engine)
		}
	}
	names, err := plan.Shipped()
	if err != nil {
		d.Fault = err.Error()
	}
	for _, name := range names {
		title := name
		if p, err := plan.Load(name); err == nil {
			title = p.Title
		}
		d.Plans = append(d.Plans, PlanChoice{name, title})
	}
	s.page(w, r, "builds", Page{Title: "Builds", Data: d})
}

func (s *Server) comparePage(w http.ResponseWriter, r *http.Request) {
	engine := r.URL.Query().Get("engine")
	state := s.cfg.Bench.State()
	var builds []*bench.Build
	for _, b := range state.Builds {
		if b.Engine == engine && engine != "" {
			builds = append(builds, b)
		}
	}
	s.page(w, r, "compare", Page{Title: "Compare", Data: view.Compare(engine, builds, s.cfg.Bench.Results())})
}

func (s *Server) chartStyle(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/css; charset=utf-8")
	w.Header().Set("Cache-Control", "no-cache")
	if _, err := w.Write([]byte(chart.Style())); err != nil {
		s.cfg.Logger.Debug().Err(err).Msg("style not sent")
	}
}
