package bench

import (
	"errors"
	"fmt"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// Lack is what stands between the bench and its next reading.
type Lack string

// What can be lacking, in the order in which it is asked for.
const (
	LacksNothing     Lack = ""
	LacksBuild       Lack = "build"        // none is on the bench, or it is closed
	LacksStep        Lack = "step"         // the bench stands at none
	LacksPoints      Lack = "points"       // nothing is read in this step
	LacksEarlier     Lack = "earlier"      // something else comes first
	LacksData        Lack = "data"         // customary values are not confirmed
	LacksResult      Lack = "result"       // the last pass is not computed yet
	LacksNothingMore Lack = "nothing more" // the last pass is closed and nothing is to be measured again
	LacksAnswer      Lack = "answer"       // every point is read, a question is open
	LacksGauge       Lack = "gauge"        // none of the role, or several
	LacksLine        Lack = "line"         // the gauge is not there
	LacksZero        Lack = "zero"         // it has none that counts here
)

// Spot is where the next reading belongs, and how it is taken. It is filled in as far as it is known: Lacks names the
// first thing that is missing, Why says in words what and what to do about it.
type Spot struct {
	Build *Build
	Step  *plan.Step
	State *StepState
	Place Place // under which the next reading is kept
	Opens bool  // a new pass is opened first
	Anew  bool  // the point was read in this pass and was out: it is read once more after the order
	Point plan.Point
	Mode  plan.Mode
	Role  string       // of the gauge wanted; "" for any that measures
	Gauge *GaugeState  // that reads here; nil where none or several could be meant
	Zero  *ZeroInForce // that counts here; nil where the raw value does
	Lacks Lack
	Why   string
}

// Ready reports whether a reading may be taken now as far as the record goes; whether the gauge speaks is another matter.
func (sp Spot) Ready() bool { return sp.Lacks == LacksNothing }

// Err is Why as an error, nil where nothing is lacking. Gauge, line and zero are left out where of is false: typed values
// need none, and a verb may name another gauge.
func (sp Spot) err(gauge bool) error {
	switch sp.Lacks {
	case LacksNothing:
		return nil
	case LacksGauge, LacksLine, LacksZero:
		if !gauge {
			return nil
		}
	}
	return errors.New(sp.Why)
}

// OnDatum reports whether the next reading is the closing one on the datum.
func (sp Spot) OnDatum() bool { return sp.Place.Point == DatumPoint }

// Name is what people call the place of the next reading: the point's title, or the datum.
func (sp Spot) Name() string { return pointName(*sp.Step, sp.Place) }

// pointName is what people call a point; its seating where it is not the first.
func pointName(step plan.Step, at Place) string {
	name := at.Point
	if pt, ok := step.Point(at.Point); ok && pt.Title != "" {
		name = pt.Title
	}
	if at.Point == DatumPoint {
		name = "on the datum"
	}
	if at.Seating > 1 {
		name += fmt.Sprintf(", seating %d", at.Seating)
	}
	return name
}

// Sweeps reports whether the next reading is collected over a turn.
func (sp Spot) Sweeps() bool { return sp.Mode.Sweeps() }

// Typed reports whether the next reading is typed by hand.
func (sp Spot) Typed() bool {
	return sp.Mode.Typed() || sp.Gauge != nil && sp.Gauge.Known == KnownKeyed
}

// SpotOf finds where the next reading belongs.
func SpotOf(sc Scene) Spot {
	var sp Spot
	sp.Lacks, sp.Why = sp.find(sc)
	if sp.Step == nil || sp.Place.Point == "" {
		return sp
	}
	lacks, why := sp.equip(sc)
	if sp.Lacks == LacksNothing {
		sp.Lacks, sp.Why = lacks, why
	}
	return sp
}

// find finds the place, and what in the record stands in its way.
func (sp *Spot) find(sc Scene) (Lack, string) {
	b, step := sc.current()
	sp.Build, sp.Place = b, sc.State.Place
	switch {
	case b == nil:
		return LacksBuild, "no build is on the bench: start one (thoud build start), or go on with one (thoud bench JOB)"
	case step == nil && !b.Closed:
		return LacksStep, fmt.Sprintf("job %s stands at no step: go to one (thoud goto)", b.Job)
	case step == nil:
		return LacksBuild, fmt.Sprintf("job %s is closed: no reading is added to it", b.Job)
	}
	sp.Step, sp.State = step, b.Step(step.ID)
	settled, whole := sp.lastPass(sc)
	switch {
	case b.Closed:
		return LacksBuild, fmt.Sprintf("job %s is closed: no reading is added to it", b.Job)
	case len(step.Points) == 0:
		return LacksPoints, fmt.Sprintf("nothing is read in step %s: confirm it when it is done", step.ID)
	}
	if why := sc.hindrance(b, *step); why != "" {
		return LacksEarlier, why
	}
	if data := Unconfirmed(b, *step); len(data) > 0 {
		var words []string
		for _, d := range data {
			words = append(words, fmt.Sprintf("%s %s (%s)", d.Name, d.Words(), d.Source))
		}
		return LacksData, "confirm or change before the first reading: " + strings.Join(words, ", ")
	}
	if a, open := b.openAsk(*step); open {
		return LacksAnswer, "answer first: " + a.Text
	}
	switch last := sp.State.Last(); {
	case !whole:
		return LacksResult, resultAwaited(sc, last)
	case settled:
		v, _ := sc.Results.Verdict(b, *step, last.Number)
		return LacksNothingMore, fmt.Sprintf("pass %d is closed and %s: go on (next), or ask for another pass (again)", last.Number, verdictWords(v))
	case sp.Place.Point == "":
		return LacksAnswer, "every point of this pass is read: answer what is asked first"
	}
	if why := sp.free(sc); why != "" {
		return LacksEarlier, why
	}
	if why := sp.first(sc); why != "" {
		return LacksResult, why
	}
	return LacksNothing, ""
}

// lastPass looks at the last pass: settled where it leaves nothing to measure again, whole where its results are there.
// Where the next reading opens a pass, the place is moved into it.
func (sp *Spot) lastPass(sc Scene) (settled, whole bool) {
	last := sp.State.Last()
	if last == nil {
		sp.open()
		return false, true
	}
	if last.Status != PassIsClosed {
		return false, true
	}
	v, whole := sc.Results.Verdict(sp.Build, *sp.Step, last.Number)
	if !whole {
		return false, false
	}
	more := last.Number < sp.Step.Passes() // a later pass asks for points that this one does not
	if !leavesWork(v) && !more || sp.Build.PassedOver(sp.Step.ID) {
		return true, true
	}
	sp.open()
	return false, true
}

// leavesWork reports whether a verdict asks for another pass.
func leavesWork(v calc.Verdict) bool { return v != calc.VerdictIn && v != calc.NoVerdict }

// resultAwaited says why a closed pass has no result yet: its entry is still on its way, or it was computed and gave
// none.
func resultAwaited(sc Scene, last *Pass) string {
	if sc.Committed >= last.Ended.N {
		return fmt.Sprintf("pass %d was closed, but no result came of it: look at the ledger page for what was set aside, or make the pass void and read it again", last.Number)
	}
	return fmt.Sprintf("the result of pass %d is not there yet: wait a moment", last.Number)
}

// open moves the place into a new pass: to the point that somebody went to, if this pass asks for it, else to the first
// that is missing.
func (sp *Spot) open() {
	if len(sp.Step.Points) == 0 {
		return
	}
	n := len(sp.State.Passes) + 1
	sp.Opens = true
	gone := sp.Place
	sp.Place = Place{Build: sp.Build.Job, Step: sp.Step.ID, Pass: n}
	if wanted(*sp.Step, n, gone.Point) {
		sp.Place.Point, sp.Place.Seating = gone.Point, max(gone.Seating, 1)
		return
	}
	sp.Place.Point, sp.Place.Seating, _ = sp.State.Missing(*sp.Step, n, Place{})
	if sp.Place.Point == "" && sp.Step.Datum != nil && sp.Step.Datum.Close {
		sp.Place.Point, sp.Place.Seating = DatumPoint, 1
	}
}

func wanted(step plan.Step, pass int, point string) bool {
	for _, pt := range step.Wanted(pass) {
		if pt.ID == point {
			return true
		}
	}
	return false
}

// equip finds how the reading is taken there: point, mode, gauge and zero.
func (sp *Spot) equip(sc Scene) (Lack, string) {
	if len(sp.Step.Gauges) > 0 {
		at := sp.Step.At(sp.Place.Point) // of several gauges the one of this point, with its datum
		sp.Step = &at
	}
	sp.Point, _ = sp.Step.Point(sp.Place.Point)
	sp.Mode, sp.Role = modeAt(*sp.Step, sp.Place.Point), sp.Step.RoleOf(sp.Place.Point)
	g, err := gaugeFor(sc.State, sp.Role)
	typed := sp.Mode.Typed() && (sp.Mode != plan.Crossings || err != nil || g.Known == KnownKeyed)
	if err != nil {
		if typed {
			return LacksNothing, ""
		}
		return LacksGauge, err.Error()
	}
	sp.Gauge = &g
	z, missing := ZeroAt(g, *sp.Step, sp.Place)
	sp.Zero = z
	switch {
	case g.Known == KnownKeyed, typed && g.Zero == nil:
		return LacksNothing, "" // a typed value is as it is read
	case !g.Open && !typed:
		return LacksLine, fmt.Sprintf("gauge %q is not there: plug it in and switch it on", g.Name)
	case missing != "":
		return LacksZero, missing
	}
	return LacksNothing, ""
}

// modeAt is how a point is captured. The datum is rested on, whatever is swept from there.
func modeAt(step plan.Step, point string) plan.Mode {
	m := step.ModeOf(point)
	if m == "" || point == DatumPoint && m.Sweeps() {
		return plan.Press
	}
	return m
}

func verdictWords(v calc.Verdict) string {
	if v == calc.NoVerdict {
		return "has no limits to meet"
	}
	return string(v)
}

// gaugeFor gives the gauge that reads for a role, or says what to do where none or several could be meant.
func gaugeFor(s State, role string) (GaugeState, error) {
	all, pick := s.GaugesFor(role)
	if pick >= 0 {
		return all[pick], nil
	}
	of := ""
	if role != "" {
		of = fmt.Sprintf(" of role %q", role)
	}
	if len(all) == 0 {
		return GaugeState{}, fmt.Errorf("no gauge%s is registered: thoud gauge add", of)
	}
	var names []string
	for _, g := range all {
		names = append(names, g.Name)
	}
	return GaugeState{}, fmt.Errorf("%d gauges%s (%s): say which one with --gauge, or press its data key", len(all), of, strings.Join(names, ", "))
}

// kind is what the next reading is of; "" for anything.
func (sp Spot) kind() quantity.Kind { return sp.Step.KindOf(sp.Place.Point) }

// fits reports whether a value is of the kind that the step wants.
func (sp Spot) fits(v quantity.Value) bool {
	return sp.kind() == "" || v.Kind() == sp.kind()
}
