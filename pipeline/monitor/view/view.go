// Package view is what a page shows, computed from the state, the results and the troubles of a bench: words, rows, places
// on a rule, pictures. It is pure: it reads no clock but the times that entries carry, and it computes no figure; those
// come with the results. Texts stand in both unit systems, so that a page switches between them without asking.
package view

import (
	"fmt"
	"strings"

	"thoud/calc"
	"thoud/calc/markup"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// View is all that the working pages show of a moment, but for the live values. It holds words and places on the
// screen, no figure of its own: those come with the results.
type View struct {
	Bench    string
	N        uint64      // of the last entry
	Place    bench.Place // what the bench says; verbs carry it back
	Job      string
	Engine   string
	Step     string // title
	StepNo   int
	Steps    int
	Phase    string
	Stage    Stage
	Now      string // what to do now, one sentence
	Lead     []Lead // on a machine without a build: what comes before the first one
	Why      string // what stands behind it: a reason, a source
	Point    string // title of the point
	Title    string // the same as a heading
	BySelf   bool   // the reading is taken by itself once the gauge is still
	Hand     string // what the hand does where a wheel is read by eye: which way it runs, how far it still is
	Pass     int
	Seating  string // "seating 2 of 3"
	Gauge    *GaugeView
	Trace    *Trace // nil where no curve is taken
	Reads    bool   // the gauge's value is what matters now
	Types    bool   // a value may be typed
	Kept     string // what is kept of a pass whose gauge is gone
	Closed   bool   // the pass in work is closed
	Rule     *Rule
	Face     Face
	Next     string        // what comes after this, always shown
	Clocks   []string      // times that run, and open times that ran out
	Curve    []markup.HTML // the picture of what was traced, in mm and in inches, where the curve was
	Told     []Text        // what is worked out before the first reading
	Rows     []Row         // the verdict, a row a side
	RowsMore int           // rows that had no room
	AskRows  []AskRow      // beside a question: what tells which answer is right
	Figures  []FigureView
	Actions  []Action
	Entry    string // the verb of a typed value where one is wanted; ""
	Unit     Text   // that a typed number without one is taken in
	Remind   bool   // say what is loose and inside, before anything is done
	Points   []PointView
	Confirms []ConfirmRow // still to be confirmed here, while readings are taken
	Near     []PointView  // those around the point in work, beside the drawing
	Passes   []PassView
	Cautions []string
	Notes    []string
	Inside   []string
	Loose    []string
	Asked    []Ask
	Answered []Answered // what was answered of the plan's questions, and what else may be true by now
	Troubles []string
	Scene    *Scene // the drawing of this job; nil where there is none
	Done     bool
	CanVoid  bool // the pass in work may be void
	CanDrop  bool // something dropped may be told
	CanPass  bool // the verdict may be overridden
	IsSigned bool

	state   bench.State
	results bench.Results
}

// Face is what the working page shows: one at a time, never two. A fourth, the part on its way, comes over the stream with
// the live value: it hides the others while it lasts.
type Face string

// The faces.
const (
	FaceInstruct Face = "instruct" // what the hand does now
	FaceVerdict  Face = "verdict"  // a row a side
	FaceCaution  Face = "caution"
	FaceQuestion Face = "question"
	FaceTrouble  Face = "trouble" // the gauge is gone
)

// face is the face of a stage.
func (v *View) face() Face {
	switch {
	case v.Stage == StageCaution:
		return FaceCaution
	case v.Stage == StageAsk && len(v.Asked) > 0: // between a last reading and the closing of its pass nothing is asked
		return FaceQuestion
	case v.Stage == StageGauge:
		return FaceTrouble
	case len(v.Rows) > 0:
		return FaceVerdict
	}
	return FaceInstruct
}

// Stage names what the bench is waiting for.
type Stage string

// The stages of the work, in the order they are looked for.
const (
	StageNoBuild Stage = "no-build"
	StageDropped Stage = "dropped"
	StageNoStep  Stage = "no-step"
	StageBlocked Stage = "blocked"
	StageCaution Stage = "caution"
	StageConfirm Stage = "confirm"
	StageGauge   Stage = "gauge"
	StageZero    Stage = "zero"
	StageRead    Stage = "read"
	StageDatum   Stage = "datum"
	StageAsk     Stage = "ask"
	StageMove    Stage = "move" // a pass is closed and something is to be moved
	StageDone    Stage = "done"
	StageSign    Stage = "sign"
	StageEnd     Stage = "end"
	StageWait    Stage = "wait" // for a result
)

// Action is a button and the key that does the same.
type Action struct {
	Verb    string
	Label   string
	Key     string // as printed on the button; "" none
	Primary bool   // Space and the pedal do this one
	Item    string
	Choice  string
	Step    string // of a goto
	Asks    string // a word to be typed with it: "reason", "initials"
	Sure    string // asked before it is done
	Link    string // a page to go to, in place of a verb
	Slow    bool   // a press counts only once its text has stood for a moment: a bouncing pedal runs through none
	Apart   bool   // stands apart from the first
}

// FigureView is one figure of a result.
type FigureView struct {
	Of, Name string
	Value, U Text
	Verdict  calc.Verdict
	Limits   Text
}

// PointView is a point of the pass with what was read.
type PointView struct {
	ID, Title string
	Values    []Text
	Here      bool
	Asked     bool
	Earlier   bool // stands from an earlier pass
	// Go is the step whose point the bench can go to instead of the one in work; "" where it cannot, or where it is read already.
	Go string
}

// ConfirmRow is something still to be confirmed, which may be confirmed out of turn.
type ConfirmRow struct{ Item, Text string }

// Answered is a question of the plan with its answer; Others are those that it may get instead, with a reason.
type Answered struct {
	ID, Words, Choice string // the choice as it is said
	Others            []Other
}

// Other is a choice, as it is kept and as it is said.
type Other struct{ Choice, Words string }

// PassView is one line of the passes so far.
type PassView struct {
	Number  int
	Status  string
	Why     string
	Results []FigureView
	Verdict string
	Mark    string
}

// Ask is a question not yet answered.
type Ask struct {
	ID, Words string
	Choices   []string
	Reading   bool // it is about a reading, not asked by the plan
}

// GaugeView is the gauge that reads here.
type GaugeView struct {
	Name   string
	State  string // in words
	Open   bool
	Stream bool // it speaks all the time, so silence means something
	Zero   string
	Keyed  bool // its values are typed: it has nothing to show
	Turns  bool // a plain dial whose hand goes round: a typed value may have revolutions with it
}

// troublesShown is how many troubles stand on the page; more of them would hide the work.
const troublesShown = 2

// Of makes the view of a moment. It is pure: what the bench waits for and would accept is asked of the bench's own rules.
func Of(sc bench.Scene, troubles []bench.Notice) View { return OfAimed(sc, troubles, nil) }

// OfAimed is Of, with what tells the way of a part before its first reading.
func OfAimed(sc bench.Scene, troubles []bench.Notice, aim Aim) View {
	s, results := sc.State, sc.Results
	v := View{Bench: s.Bench, N: s.N, Place: s.Place, Face: FaceInstruct, state: s, results: results}
	for _, t := range Standing(sc, troubles) {
		v.Troubles = append(v.Troubles, t.Words)
	}
	if more := len(v.Troubles) - troublesShown; more > 0 {
		v.Troubles = append(v.Troubles[:troublesShown], fmt.Sprintf("And %d more: see Gauges.", more))
	}
	b, step := s.Current()
	if b == nil {
		v.Lead = leads(s)
		v.Stage, v.Now = StageNoBuild, begin(v.Lead)
		return v
	}
	v.Job, v.Engine, v.Steps = b.Job, b.Engine, len(b.Plan.Steps)
	v.Clocks = b.ClockWords(results, sc.Moment())
	for _, t := range b.Inside() {
		v.Inside = append(v.Inside, insideWords(b, t))
	}
	for _, l := range b.Loose {
		v.Loose = append(v.Loose, looseWords(b, l))
	}
	if b.Dropped != "" {
		v.Stage, v.Now = StageDropped, fmt.Sprintf("Something dropped is not found: %s. Find it and count it.", b.Dropped)
		v.Actions = []Action{action(bench.Verb{Name: bench.DoFound})}
		v.Actions[0].Primary, v.Actions[0].Slow = true, true
		return v
	}
	if step == nil {
		lookForStep(&v, b, results)
		return v
	}
	w := work{sc: sc, b: b, step: *step, st: b.Step(step.ID), results: results, aim: aim, v: &v}
	w.look()
	return v
}

// Standing are the troubles that are worth telling: a gauge that is gone is none where nothing is read any more.
func Standing(sc bench.Scene, troubles []bench.Notice) []bench.Notice {
	var out []bench.Notice
	for _, t := range troubles {
		if t.Words != "" && !(strings.HasPrefix(t.Source, "gauge ") && finished(sc)) {
			out = append(out, t)
		}
	}
	return out
}

// finished reports whether the build on the bench needs no gauge any more: an unplugged one is no trouble then.
func finished(sc bench.Scene) bool {
	b, step := sc.State.Current()
	if b == nil || b.Closed {
		return true
	}
	if step != nil && len(step.Points) > 0 {
		if now, _ := bench.NowOf(sc); now != bench.NowLast {
			return false // a gauge is read here
		}
	}
	for _, st := range b.Plan.Steps {
		if !bench.ProgressOf(b, st, sc.Results).Settled() {
			return false
		}
	}
	return true
}

// lookForStep is the view of a build that stands at no step.
func lookForStep(v *View, b *bench.Build, results bench.Results) {
	v.Stage, v.Remind = StageNoStep, true
	v.Cautions = b.Plan.Cautions
	for _, st := range b.Plan.Steps {
		if bench.ProgressOf(b, st, results).Settled() {
			continue
		}
		v.Now = "Next: " + st.Title + "."
		v.Actions = []Action{{Verb: bench.DoGoto, Label: "Begin", Key: keys[bench.DoGoto], Primary: true, Step: st.ID}}
		return
	}
	v.Stage, v.Now = StageEnd, "Every step is done. Look at the sheet, then close the build."
	v.Done = true
}

// pieces names a thing that goes in, and how many there are of it.
func pieces(t bench.TallyItem) string {
	if t.Count > 1 {
		return fmt.Sprintf("%d × %s", t.Count, plan.Called(t.Name))
	}
	return plan.Called(t.Name)
}

func insideWords(b *bench.Build, t bench.TallyItem) string {
	s := pieces(t)
	if st, ok := b.Plan.Step(t.OutBefore); ok {
		s += ", out before " + lowerTitle(st.Title)
	}
	if st, ok := b.Plan.Step(t.KeepUntil); ok {
		s += ", stays until " + lowerTitle(st.Title)
	}
	return s
}

func looseWords(b *bench.Build, l bench.LooseThing) string {
	if st, ok := b.Plan.Step(l.Ends); ok {
		return plan.Called(l.Name) + ", made fast in " + lowerTitle(st.Title)
	}
	return plan.Called(l.Name)
}

func lowerTitle(s string) string { return "“" + s + "”" }

// runTitle is how a run of a step's method is called: "left", "right inlet"; "" for the whole pass.
func runTitle(key string) string { return plan.RunName(key) }

// belongs reports whether a point is read for a run.
func belongs(point, key string) bool {
	return key == "" || point == key || strings.HasPrefix(point, key+".")
}

// newest gives the newest result of every run up to a pass that is not void, in the order of the step's keys. A step that
// reads nothing has one set of results, of pass 0.
func newest(b *bench.Build, step plan.Step, results bench.Results, pass int) []bench.Result {
	if len(step.Points) == 0 {
		return results.OfPass(b, step, 0)
	}
	var out []bench.Result
	st := b.Step(step.ID)
	for _, key := range b.Plan.Keys(step) {
		for n := pass; n >= 1; n-- {
			if p := st.Pass(n); p == nil || p.Status == bench.PassIsVoid {
				continue
			}
			if r, ok := results.Get(bench.Slot{Build: b.Job, Step: step.ID, Pass: n, Key: key}); ok {
				out = append(out, r)
				break
			}
		}
	}
	return out
}

// pointTitle is a point's title, or its id read aloud.
func pointTitle(step plan.Step, id string) string {
	if id == bench.DatumPoint {
		return "back on the datum"
	}
	if pt, ok := step.Point(id); ok && pt.Title != "" {
		return pt.Title
	}
	return runTitle(id)
}
