package monitor

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// FindData is what the page for a new gauge shows.
type FindData struct {
	Ports    []Port
	Taken    map[string]string // port → gauge
	Profiles []string
	Roles    []plan.GaugeRole
	Units    []string // that a display may show
	Fault    string
	Teaches  bool // a gauge that no profile fits can be taught here
}

func (s *Server) findPage(w http.ResponseWriter, r *http.Request) {
	d := FindData{Taken: map[string]string{}, Roles: plan.Roles, Units: displayUnits(), Teaches: s.cfg.Teacher != nil}
	for _, g := range s.cfg.Bench.State().Gauges {
		if !g.Removed {
			d.Taken[g.Gauge.Port], d.Taken[g.Identity] = g.Name, g.Name
		}
	}
	if s.cfg.Finder == nil {
		d.Fault = "this service cannot look for gauges; register one with: thoud gauge add"
	} else {
		d.Profiles = s.cfg.Finder.Profiles()
		ports, err := s.cfg.Finder.Ports(r.Context())
		if err != nil {
			d.Fault = err.Error()
		}
		d.Ports = ports
	}
	s.page(w, r, "find", Page{Title: "New gauge", Data: d})
}

// displayUnits are the units that a gauge's display may show, lengths first.
func displayUnits() []string {
	var codes []string
	for _, u := range quantity.Units() {
		if u.Code != "" && !slices.Contains(codes, u.Code) {
			codes = append(codes, u.Code)
		}
	}
	return codes
}

// takenPort says whose port it is where a registered gauge has it: the service itself holds it open then. "" where none has.
func (s *Server) takenPort(port string) string {
	for _, g := range s.cfg.Bench.State().Gauges {
		if !g.Removed && g.Known != bench.KnownKeyed && port != "" && (g.Port == port || g.Gauge.Port == port) {
			return fmt.Sprintf("%s is the port of %s, which is registered: remove it first", port, g.Name)
		}
	}
	return ""
}

// identify listens at a port and streams how far it is, one JSON object a line, the last with the gauge it found.
func (s *Server) identify(w http.ResponseWriter, r *http.Request) {
	if s.cfg.Finder == nil {
		http.Error(w, "this service cannot look for gauges", http.StatusNotImplemented)
		return
	}
	if !isJSON(r) {
		http.Error(w, "want application/json", http.StatusUnsupportedMediaType)
		return
	}
	var want struct {
		Port string `json:"port"`
	}
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, 4<<10)).Decode(&want); err != nil {
		http.Error(w, "not understood: "+err.Error(), http.StatusBadRequest)
		return
	}
	if words := s.takenPort(want.Port); words != "" {
		http.Error(w, words, http.StatusConflict)
		return
	}
	s.longWork(w, r, func(ctx context.Context, progress func(done, total int, words string)) (map[string]any, error) {
		g, err := s.cfg.Finder.Identify(ctx, want.Port, progress)
		return map[string]any{"gauge": g}, err
	})
}
