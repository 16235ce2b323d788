package view

import (
	"fmt"
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
			row.ZeroAt = "set " + Clock(g.Zero.At) + ", reads " + g.Zero.Shows.String() + " there"
		case g.Lost != "":
			row.ZeroAt = "lost: " + g.Lost
		default:
			row.ZeroAt = "none"
		}
		if n := len(g.Checks); n > 0 {
			row.Check = CheckWords(g.Checks[n-1])
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

// CheckWords puts a check in words; its numbers are in mm or deg, as checks are kept.
func CheckWords(c bench.Check) string {
	if c.Study {
		return fmt.Sprintf("study: standard uncertainty %.4g", c.U)
	}
	return fmt.Sprintf("error %.4g, standard uncertainty %.4g", c.Error, c.U)
}
