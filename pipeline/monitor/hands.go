package monitor

import (
	"context"
	"fmt"
	"net/http"
	"strings"

	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// HandsData is what the page of the builder's own hands shows.
type HandsData struct {
	Rows   []view.HandRow
	Offers []view.HandOffer
	Today  []string
	Job    string
}

func (s *Server) handsPage(w http.ResponseWriter, r *http.Request) {
	builds, here, err := s.pastBuilds(r.Context())
	if err != nil {
		s.fail(w, err)
		return
	}
	hands := bench.HandsOf(builds)
	d := HandsData{Rows: view.HandRows(hands)}
	if here != nil {
		d.Job, d.Offers, d.Today = here.Job, view.HandOffers(bench.HandOffers(here, hands)), bench.ScatterToday(here, builds)
	}
	s.page(w, r, "hands", Page{Title: "Own hands", Data: d})
}

// mostPooled is of how many builds the seatings are pooled, the newest of them.
const mostPooled = 60

// pastBuilds gives the newest builds, from memory or from the ledger, and the one on the bench; nil where none is.
func (s *Server) pastBuilds(ctx context.Context) (all []*bench.Build, here *bench.Build, err error) {
	state := s.cfg.Bench.State()
	here, _ = state.Current()
	for _, row := range state.Index[max(0, len(state.Index)-mostPooled):] {
		b, ok := state.Build(row.Job)
		if !ok && s.cfg.Archive != nil {
			if b, _, err = s.cfg.Archive.Build(ctx, row.Job); err != nil {
				return nil, nil, err
			}
			ok = true
		}
		if ok {
			all = append(all, b)
		}
	}
	return all, here, nil
}

// setupVerb takes the builder's own hands for a step, in place of what is stated.
func (s *Server) setupVerb(v bench.Verb, step string) (bench.Verb, error) {
	builds, here, err := s.pastBuilds(context.Background())
	if err != nil {
		return v, err
	}
	if here == nil {
		return v, fmt.Errorf("no build is on the bench")
	}
	for _, o := range bench.HandOffers(here, bench.HandsOf(builds)) {
		if o.Step.ID == step {
			over := o.Override()
			v.Item, v.Override, v.Reason = "", &over, "own hands: "+strings.Join(o.Hand.Jobs, ", ")
			return v, nil
		}
	}
	return v, fmt.Errorf("nothing is offered for %s any more: load the page again", step)
}
