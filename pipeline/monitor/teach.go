package monitor

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
)

// Teacher learns how a gauge speaks that no profile fits. Nil where there is none: it is taught by command then. What was
// heard goes to the page and comes back with the lesson, so nothing is kept between two requests.
type Teacher interface {
	// Begin listens for a moment and says how the lesson goes.
	Begin(ctx context.Context, at TaughtLine) (TeachPlan, error)
	// Hear takes one press of the data key, or listens to a gauge that sends by itself.
	Hear(ctx context.Context, at TaughtLine, streams bool) (Heard, error)
	// Learn makes a profile of what was heard, keeps it, and lets gauges be registered by it from now on.
	Learn(ctx context.Context, l Lesson) (Taught, error)
}

// TaughtLine is a port with the settings of its line.
type TaughtLine struct {
	Port   string `json:"port"`
	Baud   int    `json:"baud"`
	Bits   int    `json:"bits"`
	Stop   int    `json:"stop"`
	Parity string `json:"parity"` // "none", "even" or "odd"
}

// TeachPlan is how a lesson goes: what the gauge is set to, one after the other, the last one for proof.
type TeachPlan struct {
	Streams bool     `json:"streams"` // it sends by itself
	Asks    []string `json:"asks"`
	Least   int      `json:"least"` // of the values before the proof
}

// Heard is what came of one value.
type Heard struct {
	Bytes  []byte `json:"bytes"`
	Pauses []int  `json:"pauses,omitempty"`
	Words  string `json:"words"`
}

// Lesson is all that was shown and heard.
type Lesson struct {
	At      TaughtLine    `json:"at"`
	Name    string        `json:"name"`
	Streams bool          `json:"streams"`
	Presses []TaughtPress `json:"presses"`
}

// TaughtPress is one value as the display showed it, with its unit, and what was heard.
type TaughtPress struct {
	Shown  string `json:"shown"`
	Bytes  []byte `json:"bytes"`
	Pauses []int  `json:"pauses,omitempty"`
}

// Taught is what was learnt, as the gauge is to be registered.
type Taught struct {
	Profile string   `json:"profile"`
	Channel string   `json:"channel,omitempty"`
	Unit    string   `json:"unit,omitempty"` // to be named, because its frames name none
	Open    []string `json:"open,omitempty"` // what the values left open
}

// profileName is what a profile may be called.
var profileName = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)

// teach carries out one part of a lesson; see longWork for what the page is told.
func (s *Server) teach(w http.ResponseWriter, r *http.Request) {
	what := r.PathValue("what")
	switch {
	case s.cfg.Teacher == nil:
		http.Error(w, "this service cannot learn from the page; use: thoud teach", http.StatusNotImplemented)
		return
	case !isJSON(r):
		http.Error(w, "want application/json", http.StatusUnsupportedMediaType)
		return
	}
	var l Lesson
	dec := json.NewDecoder(http.MaxBytesReader(w, r.Body, 1<<20))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&l); err != nil {
		http.Error(w, "not understood: "+err.Error(), http.StatusBadRequest)
		return
	}
	if words := s.takenPort(l.At.Port); words != "" {
		http.Error(w, words, http.StatusConflict)
		return
	}
	if what == "learn" && !profileName.MatchString(l.Name) {
		http.Error(w, fmt.Sprintf("%q is no name for a profile: a to z, 0 to 9 and -", l.Name), http.StatusBadRequest)
		return
	}
	s.longWork(w, r, func(ctx context.Context, _ func(done, total int, words string)) (map[string]any, error) {
		switch what {
		case "begin":
			p, err := s.cfg.Teacher.Begin(ctx, l.At)
			return map[string]any{"plan": p}, err
		case "hear":
			h, err := s.cfg.Teacher.Hear(ctx, l.At, l.Streams)
			return map[string]any{"heard": h}, err
		case "learn":
			t, err := s.cfg.Teacher.Learn(ctx, l)
			return map[string]any{"taught": t}, err
		}
		return nil, fmt.Errorf("%q is no part of a lesson", what)
	})
}
