package view

import (
	"fmt"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// work is a step in work, and the view that is made of it.
type work struct {
	sc      bench.Scene
	sp      bench.Spot // where the next reading belongs, and how it is taken
	b       *bench.Build
	step    plan.Step
	at      plan.Step // the same as the point in work sees it: with its own gauge and datum
	st      *bench.StepState
	results bench.Results
	aim     Aim
	aimed   bool // the rule is that of a point which was not read yet
	v       *View
}

func (w *work) look() {
	v, step := w.v, w.step
	v.Step, v.StepNo, v.Phase = step.Title, w.b.Plan.Index(step.ID)+1, string(step.Phase)
	v.Cautions, v.Notes = step.Cautions, step.Notes
	for _, q := range w.b.AskedNow(step) {
		v.Asked = append(v.Asked, Ask{ID: q.ID, Words: q.Words, Choices: q.Choices, Reading: q.Reading != ""})
	}
	w.sp = bench.SpotOf(w.sc)
	w.at = step.At(w.sp.Place.Point)
	w.lookAtGauge()
	typed := w.kind()
	if k := step.KindOf(w.sp.Place.Point); k != "" {
		typed = k
	}
	v.Unit = Text{MM: calc.UnitName(TypedUnit(w.sp, typed, quantity.Metric)), Inch: calc.UnitName(TypedUnit(w.sp, typed, quantity.Inch))}
	still := w.sc
	still.Coming = nil // how far it still is comes with the live value
	v.Hand = bench.HandWords(still, w.sp)
	v.Pass = w.pass()
	if w.point() != "" {
		v.Point = pointTitle(step, w.point())
		v.Title = titled(w.b.Plan, v.Point)
	}
	if n := max(step.Seatings, 1); n > 1 && w.point() != "" && !w.sp.OnDatum() {
		v.Seating = fmt.Sprintf("seating %d of %d", max(w.sp.Place.Seating, 1), n)
	}
	w.lookAtTurn()
	w.lookAtResults()
	w.lookAtAim()
	w.lookAtPoints()
	w.lookAtPasses()
	w.told()
	w.leadAsked()
	offers := bench.Offers(w.sc)
	w.offer(offers)
	w.lookAtRoom(offers)
	w.lookAtConfirms()
	w.lookAtAnswers()
	v.Face = v.face()
	if w.aimed && v.Stage != StageRead {
		v.Rule, w.aimed = nil, false
	}
	w.lookAtTold()
	w.lookAtQuestion()
	w.lookAtDrawing()
}

// lookAtRoom fills in what else the page says and offers.
func (w *work) lookAtRoom(offers []bench.Offer) {
	v, last := w.v, w.st.Last()
	switch v.Stage {
	case StageZero: // the point comes after it
		v.Next, v.Title = "Next: "+v.Title, ""
	case StageConfirm, StageCaution, StageBlocked, StageSign, StageDone, StageEnd, StageAsk:
		v.Title = "" // this is about no point
	default:
		v.Next = w.next()
	}
	v.BySelf = (v.Stage == StageRead || v.Stage == StageMove) && w.sp.Mode == plan.Settle
	if last != nil && last.Status == bench.PassIsClosed {
		v.Closed, v.Pass = true, last.Number
	}
	reading := v.Stage == StageRead || v.Stage == StageDatum || v.Stage == StageMove || v.Stage == StageZero
	v.Reads = reading && v.Gauge != nil && v.Gauge.Open && !v.Gauge.Keyed && (v.Entry == "" || w.sp.Mode == plan.Crossings)
	_, v.Types = bench.Offered(offers, bench.DoKey)
	v.Types = v.Types && v.Entry == "" && reading
	if v.Stage == StageGauge && last != nil && last.Status == bench.PassIsOpen {
		v.Kept = keptWords(last)
	}
	_, v.CanVoid = bench.Offered(offers, bench.DoVoid)
	_, v.CanPass = bench.Offered(offers, bench.DoOverride)
	v.CanPass = v.CanPass && v.Stage == StageMove
	_, v.IsSigned = bench.Offered(offers, bench.DoReopen)
	_, v.CanDrop = bench.Offered(offers, bench.DoDropped)
	v.Remind = v.Stage == StageBlocked || v.Stage == StageCaution
}

// TypedUnit is the unit of a number that is typed without one: what is read off a plain gauge is typed as that gauge shows it,
// anything else as the page does. A burette is marked in cubic centimetres on every page.
func TypedUnit(sp bench.Spot, kind quantity.Kind, page quantity.System) quantity.Unit {
	if g := sp.Gauge; g != nil && g.Known == bench.KnownKeyed && g.Resolution.Valid() && g.Resolution.Kind() == kind {
		return g.Resolution.Unit
	}
	return page.For(kind)
}

func (w *work) point() string { return w.sp.Place.Point }

// pass is the one that the next reading belongs to, or the last one where none is wanted.
func (w *work) pass() int {
	if w.sp.Place.Pass > 0 {
		return w.sp.Place.Pass
	}
	if len(w.step.Points) == 0 {
		return 0
	}
	return max(len(w.st.Passes), 1)
}

// lookAtGauge puts the gauge that reads here into words.
func (w *work) lookAtGauge() {
	g := w.sp.Gauge
	if len(w.step.Points) == 0 || g == nil {
		return
	}
	gv := &GaugeView{Name: g.Name, Open: g.Open, Stream: g.Sends != bench.SendsKey && g.Known != bench.KnownKeyed, Keyed: g.Known == bench.KnownKeyed, Turns: g.PerTurn.Valid()}
	switch {
	case g.Known == bench.KnownKeyed:
		gv.State = "typed by hand"
	case !g.Open:
		gv.State = "not there"
	default:
		gv.State = "there"
	}
	switch {
	case w.sp.Zero != nil:
		gv.Zero = "zero set " + Clock(w.sp.Zero.At)
	case g.Lost != "":
		gv.Zero = "zero lost: " + g.Lost
	default:
		gv.Zero = "no zero"
	}
	w.v.Gauge = gv
}

// next tells what comes after what is to be done now.
func (w *work) next() string {
	v := w.v
	switch {
	case w.point() == "" || v.Done:
		return ""
	case len(v.Rows) > 0:
		return "Next: " + v.Title
	}
	if n := max(w.step.Seatings, 1); !w.sp.OnDatum() && max(w.sp.Place.Seating, 1) < n {
		return fmt.Sprintf("Next: the same again, seating %d of %d", max(w.sp.Place.Seating, 1)+1, n)
	}
	for _, p := range v.Points {
		if !p.Here && len(p.Values) == 0 {
			return "Next: " + p.Title
		}
	}
	return "Then: the result"
}

// lit is the point that the drawing lights: that of the order to carry out, else the one in work.
func (w *work) lit() string {
	for _, row := range w.v.Rows {
		if row.First && row.Point != "" {
			return row.Point
		}
	}
	return w.point()
}

// titled is a point's title as a heading: a cylinder that it begins with in capitals, so that left and right cannot be
// taken for one another.
func titled(p *plan.Plan, title string) string {
	for _, c := range p.Cylinders {
		if rest, ok := strings.CutPrefix(title, c); ok && (rest == "" || rest[0] == ' ' || rest[0] == ',') {
			return strings.ToUpper(c) + rest
		}
	}
	return Capital(title)
}

func sentence(s, otherwise string) string {
	if strings.Trim(s, ". ") == "" {
		return otherwise
	}
	return s
}
