package view

import (
	"time"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// GaugeRow is one gauge of the register.
type GaugeRow struct {
	bench.GaugeState
	RoleWords string
	Stream    bool
	Typed     bool // its values are typed: nothing is plugged in
	ZeroAt    Text
	Check     Text
	Due       string
	Rests     int
}

// Gauges lists the register, those that are there first.
func (v View) Gauges() []GaugeRow {
	var there, gone []GaugeRow
	for _, g := range v.state.Gauges {
		if g.Removed {
			continue
		}
		row := GaugeRow{GaugeState: g, Rests: len(g.Rests), Check: plain("never checked"), RoleWords: plan.RoleWords(g.Role), Typed: g.Known == bench.KnownKeyed,
			Stream: g.Sends != bench.SendsKey && g.Known != bench.KnownKeyed}
		switch {
		case g.Zero != nil:
			shows := Shown(g.Zero.Shows)
			row.ZeroAt = Text{MM: "set " + Moment(g.Zero.At) + ", reads " + shows.MM + " there", Inch: "set " + Moment(g.Zero.At) + ", reads " + shows.Inch + " there"}
		case g.Lost != "":
			row.ZeroAt = plain("lost: " + g.Lost)
		default:
			row.ZeroAt = plain("none")
		}
		if n := len(g.Checks); n > 0 {
			row.Check = CheckWords(g.Checks[n-1], kindOf(g))
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

// kindOf is what a gauge reads: by its resolution, else by its role.
func kindOf(g bench.GaugeState) quantity.Kind {
	if g.Resolution.Valid() {
		return g.Resolution.Kind()
	}
	if r, ok := plan.Role(g.Role); ok && len(r.Kinds) > 0 {
		return r.Kinds[0]
	}
	return quantity.Length
}

// CheckWords puts a check of a gauge that reads a kind into words.
func CheckWords(c bench.Check, kind quantity.Kind) Text {
	say := func(x float64) Text { return calc.ShowFigure(kind, x, calc.Grain{U: c.U}) }
	e, u := say(c.Error), say(c.U)
	if c.Study {
		return beforeBoth("study: standard uncertainty ", u)
	}
	return Text{MM: "error " + e.MM + ", standard uncertainty " + u.MM, Inch: "error " + e.Inch + ", standard uncertainty " + u.Inch}
}
