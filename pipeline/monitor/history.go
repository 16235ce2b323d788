package monitor

import (
	"context"
	"fmt"
	"net/http"
	"slices"

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

// AllHistories follows dimensions over the builds that an engine had at any of the benches that may be looked at.
type AllHistories interface {
	// Engines lists the engines there are.
	Engines(ctx context.Context, may func(bench string) bool) ([]string, error)
	// History fills rows, wear, picture and parts of a dimension ("" for none yet), and the dimensions there are.
	History(ctx context.Context, may func(bench string) bool, engine, dimension string) (view.HistoryData, error)
}

// history follows one dimension of an engine over all benches that the request may see.
func (b *Benches) history(w http.ResponseWriter, r *http.Request) {
	if b.sent(w, r, b.rows(r)) {
		return
	}
	may := func(name string) bool { return b.may(r, name) }
	engines, err := b.cfg.Histories.Engines(r.Context(), may)
	if err != nil {
		b.fail(w, err)
		return
	}
	d, engine, dimension := view.HistoryData{}, r.URL.Query().Get("engine"), r.URL.Query().Get("dimension")
	if engine == "" && len(engines) > 0 {
		engine = engines[0]
	}
	switch {
	case engine == "":
	case !slices.Contains(engines, engine):
		d.Fault, engine = fmt.Sprintf("there is no engine %q: choose from the list", engine), ""
	default:
		if d, err = b.cfg.Histories.History(r.Context(), may, engine, dimension); err != nil {
			d.Fault = err.Error()
		}
	}
	d.Engine, d.Engines, d.Dimension = engine, engines, dimension
	b.show(w, r, "hub-history", benchesPage{Past: &d})
}
