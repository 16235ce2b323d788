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
	s       bench.State
	b       *bench.Build
	step    plan.Step
	st      *bench.StepState
	results bench.Results
	v       *View

	pass  int    // that the next reading belongs to
	point string // where it belongs; "" none
	seat  int
	gauge *bench.GaugeState
}

func (w *work) look() {
	v, step := w.v, w.step
	v.Step, v.StepNo, v.Phase = step.Title, w.b.Plan.Index(step.ID)+1, string(step.Phase)
	v.Cautions, v.Notes = step.Cautions, step.Notes
	for _, q := range w.st.Questions {
		v.Asked = append(v.Asked, Ask{ID: q.ID, Words: q.Words, Choices: q.Choices})
	}
	w.spot()
	w.pickGauge()
	v.Unit = Text{MM: quantity.Metric.For(w.kind()).Code, Inch: quantity.Inch.For(w.kind()).Code}
	v.Pass, v.Point = w.pass, ""
	if w.point != "" {
		v.Point = pointTitle(step, w.point)
		v.Title = titled(w.b.Plan, v.Point)
	}
	if n := max(step.Seatings, 1); n > 1 && w.point != "" && w.point != bench.DatumPoint {
		v.Seating = fmt.Sprintf("seating %d of %d", w.seat, n)
	}
	w.lookAtTurn()
	w.lookAtResults()
	w.lookAtPoints()
	w.lookAtPasses()
	w.decide()
	w.usual()
	v.Next = w.next()
	v.Closed = w.st.Last() != nil && w.st.Last().Status == bench.PassIsClosed && w.pass == w.st.Last().Number || len(v.Rows) > 0 && w.st.Last() != nil
	if v.Closed {
		v.Pass = w.st.Last().Number
	}
	v.Reads = v.Gauge != nil && v.Entry == "" && !v.Gauge.Keyed && v.Gauge.Open && (v.Stage == StageRead || v.Stage == StageDatum || v.Stage == StageZero || v.Stage == StageMove) && w.point != ""
	v.Types = w.point != "" && (v.Stage == StageRead || v.Stage == StageDatum || v.Stage == StageMove || v.Stage == StageZero || v.Stage == StageGauge)
	if last := w.st.Last(); v.Stage == StageGauge && last != nil && last.Status != bench.PassIsClosed {
		v.Kept = keptWords(last)
	}
	for i := range v.Actions {
		w.hands(&v.Actions[i])
	}
	v.BySelf = v.Stage == StageRead && w.mode() == plan.Settle && w.point != ""
	if last := w.st.Last(); last != nil {
		v.CanVoid = true
		v.CanPass = last.Status == bench.PassIsClosed && !w.settled(last)
	}
	v.IsSigned = w.st.Signed != nil
	v.Remind = v.Stage == StageBlocked || v.Stage == StageCaution
	v.Drawing = Drawing{View: step.View, Step: step.ID, Point: w.lit(), Cylinders: w.b.Plan.Cylinders, Valves: w.b.Plan.Valves, Angles: angles(step), Depths: depths(step)}
}

// spot finds where the next reading belongs, as the bench does: the place where it stands, or the first point of the
// pass that the next reading opens.
func (w *work) spot() {
	at := w.s.Place
	w.pass, w.point, w.seat = at.Pass, at.Point, max(at.Seating, 1)
	last := w.st.Last()
	if last == nil || last.Status == bench.PassIsClosed && !w.settled(last) {
		w.pass = len(w.st.Passes) + 1
		w.point, w.seat, _ = w.st.Missing(w.step, w.pass, bench.Place{})
		if w.point == "" && w.step.Datum != nil && w.step.Datum.Close && len(w.step.Points) > 0 {
			w.point, w.seat = bench.DatumPoint, 1
		}
	}
}

// settled reports whether a closed pass leaves nothing to measure again: nothing is outside its limits, or somebody
// decided to go on all the same.
func (w *work) settled(p *bench.Pass) bool {
	if w.awaited(p) {
		return true
	}
	verdict, _ := w.results.Verdict(w.b, w.step, p.Number)
	return verdict == calc.VerdictIn || verdict == calc.NoVerdict || w.b.PassedOver(w.step.ID)
}

// awaited reports whether results of a closed pass are still to come.
func (w *work) awaited(p *bench.Pass) bool {
	_, whole := w.results.Verdict(w.b, w.step, p.Number)
	return !whole
}

func (w *work) role() string {
	if pt, ok := w.step.Point(w.point); ok && pt.Role != "" {
		return pt.Role
	}
	return w.step.RoleOf(w.point)
}

func (w *work) mode() plan.Mode {
	if pt, ok := w.step.Point(w.point); ok && pt.Mode != "" {
		return pt.Mode
	}
	if w.step.Capture.Mode == "" {
		return plan.Press
	}
	return w.step.ModeOf(w.point)
}

// pickGauge finds the gauge that reads here.
func (w *work) pickGauge() {
	all, pick := w.s.GaugesFor(w.role())
	for i := range all {
		// Where several could be meant the bench asks which; the page shows one that is open until then.
		if i == pick || pick < 0 && (w.gauge == nil || !w.gauge.Open && all[i].Open) {
			w.gauge = &all[i]
		}
	}
	if len(w.step.Points) == 0 || w.gauge == nil {
		return
	}
	g := w.gauge
	gv := &GaugeView{Name: g.Name, Open: g.Open, Stream: g.Sends != bench.SendsKey && g.Known != bench.KnownKeyed, Keyed: g.Known == bench.KnownKeyed, Turns: g.PerTurn.Valid()}
	switch {
	case !g.Open:
		gv.State = "not there"
	case g.Known == bench.KnownKeyed:
		gv.State = "typed by hand"
	default:
		gv.State = "there"
	}
	switch z, _ := w.zero(); {
	case z != nil:
		gv.Zero = "zero set " + Clock(z.At)
	case g.Lost != "":
		gv.Zero = "zero lost: " + g.Lost
	default:
		gv.Zero = "no zero"
	}
	w.v.Gauge = gv
}

// zero is the zero that counts for the next reading, nil where there is none; missing reports that one must be set first.
func (w *work) zero() (z *bench.ZeroInForce, missing bool) {
	if w.gauge == nil {
		return nil, false
	}
	z, words := bench.ZeroAt(*w.gauge, w.step, bench.Place{Build: w.b.Job, Step: w.step.ID, Pass: w.pass})
	return z, words != ""
}

// needsZero reports whether a zero must be set before the next reading.
func (w *work) needsZero() bool {
	_, missing := w.zero()
	return missing
}

// next tells what comes after what is to be done now.
func (w *work) next() string {
	v := w.v
	switch {
	case w.point == "" || v.Done:
		return ""
	case len(v.Rows) > 0:
		return "Next: " + v.Title
	}
	if n := max(w.step.Seatings, 1); w.point != bench.DatumPoint && w.seat < n {
		return fmt.Sprintf("Next: the same again, seating %d of %d", w.seat+1, n)
	}
	for _, p := range v.Points {
		if !p.Here && (len(p.Values) == 0) {
			return "Next: " + p.Title
		}
	}
	return "Then: the result"
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
	if strings.TrimSpace(s) == "" {
		return otherwise
	}
	return s
}

func angles(step plan.Step) map[string]float64 {
	out := map[string]float64{}
	for _, p := range step.Points {
		if p.Angle != nil {
			out[p.ID] = *p.Angle
		}
	}
	return out
}

// depths are the names of the depths of a bore, from ids like "left.top.thrust", in plan order.
func depths(step plan.Step) []string {
	var out []string
	for _, p := range step.Points {
		if parts := strings.Split(p.ID, "."); len(parts) == 3 && !contains(out, parts[1]) {
			out = append(out, parts[1])
		}
	}
	return out
}

// keptWords says what is kept of a pass while its gauge is gone.
func keptWords(p *bench.Pass) string {
	n := 0
	for _, r := range p.Readings {
		if !r.Withdrawn {
			n++
		}
	}
	switch n {
	case 0:
		return ""
	case 1:
		return "The reading of this pass is kept."
	}
	return fmt.Sprintf("The %d readings of this pass are kept.", n)
}

// hands makes an action fit for hands that are busy: a zero stands apart and is asked about inside a pass, and what
// confirms something takes a press of its own.
func (w *work) hands(a *Action) {
	switch a.Verb {
	case bench.DoZero:
		a.Apart = !a.Primary
		if last := w.st.Last(); last != nil && last.Status != bench.PassIsClosed && keptWords(last) != "" {
			a.Sure = "Set the zero anew inside this pass? Only readings on the same zero count together."
		}
	case bench.DoConfirm, bench.DoAcknowledge, bench.DoSign, bench.DoTallyIn, bench.DoTallyOut, bench.DoAnswer, bench.DoFound:
		a.Slow = true
	}
}

// lit is the point that the drawing lights: that of the order to carry out, else the one in work.
func (w *work) lit() string {
	for _, row := range w.v.Rows {
		if row.First && row.Point != "" {
			return row.Point
		}
	}
	return w.point
}
