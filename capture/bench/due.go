package bench

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"thoud/capture/plan"
)

// Due is one thing that is to be done on an engine, at once or later.
type Due struct {
	Sort   DueSort `json:"sort"`
	Engine string  `json:"engine,omitempty"`
	Job    string  `json:"job,omitempty"`
	Step   string  `json:"step,omitempty"`
	Mark   string  `json:"mark,omitempty"`
	What   string  `json:"what"`
	When   string  `json:"when"` // in words: "now", "3 h 20 min to go", "in 7.5 h of running"
	Now    bool    `json:"now"`
	Left   float64 `json:"left"` // hours: of running, or by the clock
}

// DueSort is where something that is due comes from.
type DueSort string

// What can be due.
const (
	DueClock DueSort = "running" // what cures or cools
	DueHeat  DueSort = "heat"    // steps that wait for the first heat
	DuePart  DueSort = "part"    // its life ends
	DueWork  DueSort = "work"    // regular work
	DueGauge DueSort = "gauge"   // its check
)

// gaugeSoon is how long before its day a gauge's check is told.
const gaugeSoon = 30 * 24 * time.Hour

// DueOf lists what is due, what runs by the clock first, then what is due now, then by the hours that are left. builds are
// the open ones.
func DueOf(s State, builds []*Build, results Results, now Moment) []Due {
	var out []Due
	for _, b := range builds {
		if b.Closed {
			continue
		}
		for _, c := range b.Running(now) {
			out = append(out, Due{Sort: DueClock, Engine: b.Engine, Job: b.Job, Step: c.Step, What: c.Words() + " of " + titleOf(b, c.Step), When: spanWords(c.Left(now)) + " to go", Left: c.Left(now).Hours()})
		}
		out = append(out, afterHeat(b, results, now)...)
	}
	for _, p := range s.Fitted {
		st, in := p.Fitted()
		if !in || p.Life == 0 {
			continue
		}
		left := p.Life - p.Ran(s)
		out = append(out, Due{Sort: DuePart, Engine: st.Engine, Mark: p.Mark, What: p.What + " " + p.Mark, When: runWords(left), Now: left <= 0, Left: left})
	}
	for _, l := range s.Lives {
		for _, r := range l.Work {
			left := r.Done + r.Every - l.Hours
			out = append(out, Due{Sort: DueWork, Engine: l.Name, What: r.What, When: runWords(left), Now: left <= 0, Left: left})
		}
	}
	out = append(out, gaugesDue(s, now)...)
	slices.SortStableFunc(out, func(a, b Due) int {
		return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(a.Left, b.Left))
	})
	return out
}

func rank(d Due) int {
	switch {
	case d.Sort == DueClock:
		return 0
	case d.Now:
		return 1
	}
	return 2
}

// afterHeat are the steps of the heat that are still to be done, once the engine has been started.
func afterHeat(b *Build, results Results, now Moment) []Due {
	var steps []plan.Step
	started, starts := true, 0
	for _, s := range b.Plan.Steps {
		p := ProgressOf(b, s, results)
		switch s.Phase {
		case plan.Start:
			starts++
			started = started && p.Settled()
		case plan.Heat:
			if !p.Settled() {
				steps = append(steps, s)
			}
		}
	}
	if starts == 0 || !started {
		return nil
	}
	var out []Due
	for _, s := range steps {
		d := Due{Sort: DueHeat, Engine: b.Engine, Job: b.Job, Step: s.ID, What: s.Title, When: "now", Now: true}
		if why := CureHindrance(b, s, now); why != "" {
			d.When, d.Now = why, false
		}
		out = append(out, d)
	}
	return out
}

func gaugesDue(s State, now Moment) []Due {
	var out []Due
	for _, g := range s.Gauges {
		if n := len(g.Checks); !g.Removed && n > 0 && g.Checks[n-1].Due > 0 {
			left := time.Duration(g.Checks[n-1].Due-now.At) * time.Microsecond
			if left > gaugeSoon {
				continue
			}
			d := Due{Sort: DueGauge, What: "check of gauge " + g.Name, Left: left.Hours(), Now: left <= 0, When: "now"}
			if left > 0 {
				d.When = fmt.Sprintf("in %d days", int(left.Hours()/24))
			}
			out = append(out, d)
		}
	}
	return out
}

// runWords says when something is due by hours of running.
func runWords(left float64) string {
	switch {
	case left < 0:
		return fmt.Sprintf("now, %s ago", HourWords(-left))
	case left == 0:
		return "now"
	}
	return fmt.Sprintf("in %s of running", HourWords(left))
}
