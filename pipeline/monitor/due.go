package monitor

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// DueData is what the page of what is due shows.
type DueData struct {
	Due     []view.DueRow
	Engines []view.EngineRow
	Parts   []view.PartRow
}

func (s *Server) duePage(w http.ResponseWriter, r *http.Request) {
	sc := s.cfg.Bench.Scene()
	open, results, err := s.openBuilds(r.Context(), sc)
	if err != nil {
		s.fail(w, err)
		return
	}
	d := DueData{Due: view.DueRows(bench.DueOf(sc.State, open, results, sc.Moment())), Engines: view.EngineRows(sc.State), Parts: view.PartRows(sc.State)}
	s.page(w, r, "due", Page{Title: "Due", Data: d})
}

// openBuilds gives the open builds of which something may be due, with their results, from memory or from the ledger.
func (s *Server) openBuilds(ctx context.Context, sc bench.Scene) ([]*bench.Build, bench.Results, error) {
	if s.cfg.Archive != nil {
		return s.cfg.Archive.Open(ctx, sc)
	}
	open := slices.DeleteFunc(slices.Clone(sc.State.Builds), func(b *bench.Build) bool { return b.Closed })
	return open, sc.Results, nil
}

// lifeAsk is what goes with hours, parts and regular work, as typed.
type lifeAsk struct {
	Hours string `json:"hours,omitempty"` // in all, or with + since
	Mark  string `json:"mark,omitempty"`
	What  string `json:"what,omitempty"`
	Every string `json:"every,omitempty"` // hours: the life of a part, how often work comes round
	Ran   string `json:"ran,omitempty"`
}

// lifeVerb fills a verb about an engine's running.
func (s *Server) lifeVerb(v bench.Verb, a ask) (bench.Verb, error) {
	l := bench.Life{Engine: a.Engine, Mark: strings.TrimSpace(a.Mark), What: strings.TrimSpace(a.What)}
	for _, f := range []struct {
		typed string
		to    *float64
	}{{strings.TrimPrefix(a.Hours, "+"), &l.Hours}, {a.Every, &l.Due}, {a.Ran, &l.Ran}} {
		text := strings.TrimSpace(strings.TrimSuffix(strings.ReplaceAll(strings.TrimSpace(f.typed), ",", "."), "h"))
		if text == "" {
			continue
		}
		h, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return v, fmt.Errorf("%q is no number of hours: want it as 12.5", f.typed)
		}
		*f.to = h
	}
	if strings.HasPrefix(strings.TrimSpace(a.Hours), "+") {
		l.Plus, l.Hours = l.Hours, 0
	}
	if v.Name == bench.DoHours && a.Hours == "" {
		return v, fmt.Errorf("nothing was typed")
	}
	v.Life = &l
	return v, nil
}
