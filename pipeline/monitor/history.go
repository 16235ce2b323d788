package monitor

import (
	"context"
	"net/http"

	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// Histories follows dimensions over the builds of an engine. Nil where there is no ledger to look into.
type Histories interface {
	// History fills rows, wear and picture of a dimension ("" for none yet), and the dimensions there are.
	History(ctx context.Context, life bench.EngineLife, dimension string) (view.HistoryData, error)
}

// historyPage follows one dimension of an engine, and the parts that were in it.
func (s *Server) historyPage(w http.ResponseWriter, r *http.Request) {
	state := s.cfg.Bench.State()
	engines := state.EngineNames()
	engine := r.URL.Query().Get("engine")
	if engine == "" && len(engines) > 0 {
		engine = engines[0]
	}
	d := view.HistoryData{}
	dimension := r.URL.Query().Get("dimension")
	if s.cfg.Histories != nil && engine != "" {
		var err error
		if d, err = s.cfg.Histories.History(r.Context(), state.LifeOf(engine), dimension); err != nil {
			d.Fault = err.Error()
		}
	}
	d.Engine, d.Engines, d.Dimension, d.Fitted = engine, engines, dimension, view.FittedIn(state, engine)
	s.page(w, r, "history", Page{Title: "History", Data: d})
}
