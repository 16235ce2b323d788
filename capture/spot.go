package capture

import (
	"errors"
	"fmt"
	"strings"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// spot is where the next reading belongs.
type spot struct {
	build *bench.Build
	step  plan.Step
	state *bench.StepState
	place bench.Place
	opens bool // a new pass is opened first
}

// nextSpot finds where the next reading belongs, or says in words why none may be taken.
func (l *Loop) nextSpot() (spot, error) {
	s := l.State()
	b, step := s.Current()
	switch {
	case b == nil:
		return spot{}, errors.New("no build is on the bench: start one (thoud build start), or go to one (thoud goto)")
	case b.Closed:
		return spot{}, fmt.Errorf("job %s is closed: no reading is added to it", b.Job)
	case step == nil:
		return spot{}, fmt.Errorf("job %s stands at no step: go to one (thoud goto)", b.Job)
	case len(step.Points) == 0:
		return spot{}, fmt.Errorf("nothing is read in step %s: confirm it when it is done", step.ID)
	}
	if why := bench.Hindrance(b, *step, l.Results()); why != "" {
		return spot{}, errors.New(why)
	}
	if data := bench.Unconfirmed(b, *step); len(data) > 0 {
		var words []string
		for _, d := range data {
			words = append(words, fmt.Sprintf("%s %s (%s)", d.Name, d.Words(), d.Source))
		}
		return spot{}, fmt.Errorf("confirm or change before the first reading: %s", strings.Join(words, ", "))
	}
	sp := spot{build: b, step: *step, state: b.Step(step.ID), place: s.Place}
	last := sp.state.Last()
	switch {
	case last == nil:
		sp.open()
	case last.Status == bench.PassIsClosed:
		v, whole := l.Results().Verdict(b, *step, last.Number)
		if !whole {
			return spot{}, fmt.Errorf("the result of pass %d is not there yet: wait a moment", last.Number)
		}
		if v == calc.VerdictIn || v == calc.NoVerdict || b.PassedOver(step.ID) {
			return spot{}, fmt.Errorf("pass %d is closed and %s: go on (next), or ask for another pass (again)", last.Number, verdictWords(v))
		}
		sp.open()
	}
	if sp.place.Point == "" {
		return spot{}, errors.New("every point of this pass is read: answer what is asked first")
	}
	return sp, nil
}

func (sp *spot) open() {
	n := len(sp.state.Passes) + 1
	sp.opens = true
	if sp.place.Pass == 0 && sp.place.Point != "" {
		sp.place.Pass = n // gone to before the first pass
		return
	}
	point, seating, _ := sp.state.Missing(sp.step, n, bench.Place{})
	sp.place = bench.Place{Build: sp.build.Job, Step: sp.step.ID, Pass: n, Point: point, Seating: seating}
	if point == "" && sp.step.Datum != nil && sp.step.Datum.Close {
		sp.place.Point, sp.place.Seating = bench.DatumPoint, 1
	}
}

// point is the plan's point of the spot; the datum's closing reading has the step's own settings.
func (sp spot) point() plan.Point {
	pt, _ := sp.step.Point(sp.place.Point)
	return pt
}

func (sp spot) mode() plan.Mode {
	if m := sp.point().Mode; m != "" {
		return m
	}
	if sp.step.Capture.Mode == "" || sp.place.Point == bench.DatumPoint && isSweep(sp.step.Capture.Mode) {
		return plan.Press // the datum is rested on, whatever is swept from there
	}
	return sp.step.Capture.Mode
}

func (sp spot) role() string {
	if r := sp.point().Role; r != "" {
		return r
	}
	return sp.step.Capture.Role
}

func verdictWords(v calc.Verdict) string {
	if v == calc.NoVerdict {
		return "has no limits to meet"
	}
	return string(v)
}

// gaugeFor gives the gauge that reads for a role, or says what to do where none or several could be meant.
func (l *Loop) gaugeFor(role string) (bench.GaugeState, error) {
	all, pick := l.State().GaugesFor(role)
	if pick >= 0 {
		return all[pick], nil
	}
	of := ""
	if role != "" {
		of = fmt.Sprintf(" of role %q", role)
	}
	if len(all) == 0 {
		return bench.GaugeState{}, fmt.Errorf("no gauge%s is registered: thoud gauge add", of)
	}
	var names []string
	for _, g := range all {
		names = append(names, g.Name)
	}
	return bench.GaugeState{}, fmt.Errorf("%d gauges%s (%s): say which one with --gauge, or press its data key", len(all), of, strings.Join(names, ", "))
}
