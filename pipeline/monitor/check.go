package monitor

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/pipeline/monitor/view"
)

// checkPair is the size of a standard and what the gauge showed on it, as typed or read.
type checkPair struct {
	Size  string `json:"size"`
	Shown string `json:"shown"`
}

// mostPairs is how many standards, or readings of a study, a check may have.
const mostPairs = 100

// CheckData is what the page for checking a gauge shows.
type CheckData struct {
	Gauge  string
	Role   string // in words
	Last   view.Text
	Reads  bool // it can be read; else its values are typed
	Unit   view.Text
	Times  int // readings of a study, to begin with
	Least  int
	Most   int
	Speaks bool
}

// studyTimes is how many readings a study has where nobody says otherwise.
const studyTimes = 10

func (s *Server) checkPage(w http.ResponseWriter, r *http.Request) {
	name := r.URL.Query().Get("gauge")
	if name == "" {
		http.Redirect(w, r, s.cfg.Root+"/gauges", http.StatusSeeOther) // a gauge is chosen there
		return
	}
	g, ok := s.cfg.Bench.State().Gauge(name)
	if !ok || g.Removed {
		http.Error(w, fmt.Sprintf("no gauge %q is registered: choose one on the page Gauges", name), http.StatusNotFound)
		return
	}
	kind := s.kindOf(g)
	d := CheckData{Gauge: g.Name, Role: plan.RoleWords(g.Role), Last: view.Text{MM: "never checked", Inch: "never checked"}, Reads: g.Known != bench.KnownKeyed, Times: studyTimes, Least: bench.LeastStudy, Most: mostPairs,
		Unit:   view.Text{MM: quantity.Metric.For(kind).Code, Inch: quantity.Inch.For(kind).Code},
		Speaks: g.Sends != bench.SendsKey && g.Known != bench.KnownKeyed}
	if n := len(g.Checks); n > 0 {
		d.Last = view.CheckWords(g.Checks[n-1], kind)
	}
	_, id, err := s.hub.regions("gauges")
	if err != nil {
		s.fail(w, err)
		return
	}
	s.page(w, r, "check", Page{Title: "Check " + g.Name, Stream: "gauges", At: id, Data: d})
}

// kindOf is the kind of what a gauge shows: of its newest value, else of its resolution, else a length.
func (s *Server) kindOf(g bench.GaugeState) quantity.Kind {
	for _, l := range s.cfg.Bench.Live() {
		if l.Gauge == g.Name && l.Raw.Valid() {
			return l.Raw.Kind()
		}
	}
	if g.Resolution.Valid() {
		return g.Resolution.Kind()
	}
	return quantity.Length
}

// nowOf is what a gauge shows now, against its zero where it has one, in its own unit and with all its digits: what a
// check reads must not pass through a rounded text.
func (s *Server) nowOf(w http.ResponseWriter, r *http.Request) {
	name := r.URL.Query().Get("gauge")
	live := s.cfg.Bench.Live()
	i := slices.IndexFunc(live, func(l bench.Live) bool { return l.Gauge == name && l.Open && l.Raw.Valid() })
	if i < 0 {
		http.Error(w, fmt.Sprintf("gauge %q shows nothing: is it switched on?", name), http.StatusConflict)
		return
	}
	v := live[i].Raw
	if live[i].Value != nil {
		v = *live[i].Value
	}
	w.Header().Set("Content-Type", "application/json")
	if err := json.NewEncoder(w).Encode(map[string]string{"value": v.String()}); err != nil {
		s.cfg.Logger.Debug().Err(err).Msg("value not sent")
	}
}

// checkVerb makes a check, or a study, of what was typed and read.
func (s *Server) checkVerb(v bench.Verb, a ask) (bench.Verb, error) {
	g, ok := s.cfg.Bench.State().Gauge(a.Gauge)
	if !ok {
		return v, fmt.Errorf("no gauge %q is registered", a.Gauge)
	}
	if len(a.Pairs) > mostPairs {
		return v, fmt.Errorf("%d readings: want at most %d", len(a.Pairs), mostPairs)
	}
	kind := s.kindOf(g)
	var off []float64
	for i, p := range a.Pairs {
		size, err := s.typedAs(kind, p.Size, a.System)
		if err != nil {
			return v, fmt.Errorf("size %d: %w", i+1, err)
		}
		shown, err := s.typedAs(kind, p.Shown, a.System)
		if err != nil {
			return v, fmt.Errorf("reading %d: %w", i+1, err)
		}
		d, err := shown.Sub(size)
		if err != nil {
			return v, fmt.Errorf("%s on %s: %w", shown, size, err)
		}
		off = append(off, d.Float())
	}
	c, err := bench.StudyOf(g.Name, off)
	if !a.Study {
		var u float64
		if a.Standard != "" {
			x, err := s.typedAs(kind, a.Standard, a.System)
			if err != nil {
				return v, fmt.Errorf("uncertainty of the standards: %w", err)
			}
			u = x.Float() / 2 // a certificate states U with k = 2
		}
		c, err = bench.CheckOf(g.Name, off, u)
	}
	if err != nil {
		return v, err
	}
	if a.Due < 0 || a.Due > 10*365 {
		return v, fmt.Errorf("%d days until the next check: want 0 to %d", a.Due, 10*365)
	}
	if a.Due > 0 {
		c.Due = s.cfg.Now().AddDate(0, 0, a.Due).UnixMicro()
	}
	v.Gauge, v.Check = "", &c
	return v, nil
}
