package monitor

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"time"

	"thoud/capture/bench"
)

// GaugeRow is one gauge of the register.
type GaugeRow struct {
	bench.GaugeState
	Stream bool
	There  string
	ZeroAt string
	Check  string
	Due    string
	Rests  int
}

// Gauges lists the register, those that are there first.
func (v View) Gauges() []GaugeRow {
	var there, gone []GaugeRow
	for _, g := range v.state.Gauges {
		if g.Removed {
			continue
		}
		row := GaugeRow{GaugeState: g, There: "not there", Rests: len(g.Rests), Check: "never checked",
			Stream: g.Sends != bench.SendsKey && g.Known != bench.KnownKeyed}
		switch {
		case g.Known == bench.KnownKeyed:
			row.There = "typed by hand"
		case g.Open:
			row.There = "there, at " + g.Port
		}
		switch {
		case g.Zero != nil:
			row.ZeroAt = "set " + clock(g.Zero.At) + ", reads " + g.Zero.Shows.String() + " there"
		case g.Lost != "":
			row.ZeroAt = "lost: " + g.Lost
		default:
			row.ZeroAt = "none"
		}
		if n := len(g.Checks); n > 0 {
			row.Check = checkWords(g.Checks[n-1])
			if due := g.Checks[n-1].Due; due > 0 {
				row.Due = time.UnixMicro(due).Local().Format("2006-01-02")
			}
		}
		if g.Open {
			there = append(there, row)
		} else {
			gone = append(gone, row)
		}
	}
	return append(there, gone...)
}

// checkWords puts a check in words; its numbers are in mm or deg, as checks are kept.
func checkWords(c bench.Check) string {
	if c.Study {
		return fmt.Sprintf("study: standard uncertainty %.4g", c.U)
	}
	return fmt.Sprintf("error %.4g, standard uncertainty %.4g", c.Error, c.U)
}

// FindData is what the page for a new gauge shows.
type FindData struct {
	Ports    []Port
	Taken    map[string]string // port → gauge
	Profiles []string
	Roles    []string
	Fault    string
}

// gaugeRoles are those the plans that ship ask for, and "key" for a pedal.
var gaugeRoles = []string{"indicator", "caliper", "micrometer", "bore", "depth", "height", "angle", "scale", "force", "feeler", "key"}

func (s *Server) findPage(w http.ResponseWriter, r *http.Request) {
	d := FindData{Taken: map[string]string{}, Roles: gaugeRoles}
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
	s.longWork(w, r, func(ctx context.Context, progress func(done, total int, words string)) (map[string]any, error) {
		g, err := s.cfg.Finder.Identify(ctx, want.Port, progress)
		return map[string]any{"gauge": g}, err
	})
}
