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
	Left   string // says that not all builds are in it yet; "" they are
}

func (s *Server) handsPage(w http.ResponseWriter, r *http.Request) {
	builds, here, left, err := s.pastSeatings(r.Context())
	if err != nil {
		s.fail(w, err)
		return
	}
	hands := bench.HandsOf(builds)
	d := HandsData{Rows: view.HandRows(hands, here), Left: view.LeftWords(left, len(builds)+left)}
	if here != nil {
		d.Job, d.Offers, d.Today = here.Job, view.HandOffers(bench.HandOffers(here, hands)), bench.ScatterToday(here, builds)
	}
	s.page(w, r, "hands", Page{Title: "Own hands", Data: d})
}

// mostPooled is of how many builds the seatings are pooled, the newest of them.
const mostPooled = 60

// pastSeatings gives the seatings of the newest builds, from memory or as they were kept, and the build on the bench; nil
// where none is. Left is how many builds are not reckoned up yet.
func (s *Server) pastSeatings(ctx context.Context) (all []bench.Seated, here *bench.Build, left int, err error) {
	state := s.cfg.Bench.State()
	here, _ = state.Current()
	rows := state.Index[max(0, len(state.Index)-mostPooled):]
	kept := map[string][]bench.Seating{}
	if away := notHeld(state, rows); len(away) > 0 && s.cfg.Archive != nil {
		if kept, left, err = s.cfg.Archive.Seatings(ctx, away); err != nil {
			return nil, nil, 0, err
		}
	}
	for _, row := range rows {
		seatings, ok := kept[row.Job]
		if b, held := state.Build(row.Job); held {
			seatings, ok = bench.SeatingsOf(b), true
		}
		if ok {
			all = append(all, bench.Seated{Job: row.Job, Seatings: seatings})
		}
	}
	return all, here, left, nil
}

// notHeld lists the builds that are not in memory.
func notHeld(state bench.State, rows []bench.BuildRow) []string {
	var out []string
	for _, row := range rows {
		if _, ok := state.Build(row.Job); !ok {
			out = append(out, row.Job)
		}
	}
	return out
}

// setupVerb takes the builder's own hands for a step, in place of what is stated.
func (s *Server) setupVerb(v bench.Verb, step string) (bench.Verb, error) {
	builds, here, left, err := s.pastSeatings(context.Background())
	if err != nil {
		return v, err
	}
	if left > 0 {
		return v, fmt.Errorf("your own hands are not to be taken yet: %s", view.LeftWords(left, len(builds)+left))
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
