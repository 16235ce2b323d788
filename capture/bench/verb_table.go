package bench

import (
	"slices"
	"sync"
)

// Given is what a person gives with a verb.
type Given string

// What can be given.
const (
	GivesReason   Given = "reason"
	GivesInitials Given = "initials"
	GivesValue    Given = "value"
	GivesBlades   Given = "blades"
	GivesGauge    Given = "gauge"   // a gauge to register
	GivesBuild    Given = "build"   // a build to start
	GivesPlan     Given = "plan"    // the text of a plan
	GivesLife     Given = "life"    // hours, a part, regular work
	GivesCheck    Given = "check"   // of a gauge against standards
	GivesStep     Given = "step"    // where to go
	GivesChange   Given = "change"  // what is overridden
	GivesName     Given = "name"    // of what was dropped
	GivesPicture  Given = "picture" // a photo
	GivesEngine   Given = "engine"  // values of an engine
)

// VerbRow is one verb of the bench and everything that is said of it in one place only.
type VerbRow struct {
	Name    string
	Placed  bool    // means the place its sender sees: refused where the bench has moved on
	Gives   []Given // what a person gives with it
	Command string  // of the command line
	Button  string  // on the page; "" where it is reached from a menu or a form
	Form    string  // the page's form, where it is no button
	decide  func(Scene, Verb) (Decision, error)
	drawn   func(Scene, Spot) []Verb // arguments drawn from a scene, at least one of which is accepted where any is
}

// VerbTable lists the verbs. A new one is a constant, a row here, and a rule; commands and page are held against the rows by
// tests of theirs.
func VerbTable() []VerbRow {
	return []VerbRow{
		{Name: DoTake, Placed: true, Command: "take", Button: "Take", decide: decideTake, drawn: drawnHere},
		{Name: DoSweep, Placed: true, Command: "take", Button: "Begin the turn", decide: decideTake, drawn: drawnHere},
		{Name: DoZero, Placed: true, Command: "zero", Button: "Zero", decide: decideZero, drawn: drawnGauges},
		{Name: DoKey, Placed: true, Gives: []Given{GivesValue}, Command: "key", Form: "value", decide: decideKeyed, drawn: drawnTyped},
		{Name: DoBracket, Placed: true, Gives: []Given{GivesBlades}, Command: "bracket", Form: "value", decide: decideKeyed, drawn: drawnTyped},
		{Name: DoRetake, Placed: true, Command: "retake", Button: "Retake", decide: decideRetake, drawn: drawnPlain},
		{Name: DoNext, Placed: true, Command: "next", Button: "Next", decide: decideNext, drawn: drawnPlain},
		{Name: DoAgain, Placed: true, Command: "again", Button: "Again", decide: decideAgain, drawn: drawnPlain},
		{Name: DoVoid, Placed: true, Gives: []Given{GivesReason}, Command: "void", Form: "void", decide: decideVoid, drawn: drawnReason},
		{Name: DoAnswer, Placed: true, Command: "answer", Button: "the choice", decide: decideAnswer, drawn: drawnAnswers},
		{Name: DoConfirm, Placed: true, Command: "confirm", Button: "Confirm", decide: aboutStep(decideConfirm), drawn: drawnConfirms},
		{Name: DoAcknowledge, Placed: true, Command: "acknowledge", Button: "Understood", decide: aboutStep(decideAcknowledge), drawn: drawnPlain},
		{Name: DoTallyIn, Placed: true, Command: "tally in", Button: "It is in", decide: aboutStep(decideTallyIn), drawn: drawnItems},
		{Name: DoTallyOut, Placed: true, Command: "tally out", Button: "It is out", decide: aboutStep(decideTallyOut), drawn: drawnInside},
		{Name: DoSign, Placed: true, Gives: []Given{GivesInitials}, Command: "sign", Button: "Sign", decide: aboutStep(decideSign), drawn: drawnSteps},
		{Name: DoReopen, Placed: true, Gives: []Given{GivesReason}, Command: "reopen", Form: "reopen", decide: aboutStep(decideReopen), drawn: drawnSteps},
		{Name: DoOverride, Placed: true, Gives: []Given{GivesChange, GivesReason}, Command: "override", Form: "override", decide: aboutStep(decideOverride), drawn: drawnOverrides},
		{Name: DoDropped, Gives: []Given{GivesName}, Command: "dropped", Form: "dropped", decide: aboutStep(decideDropped), drawn: drawnItem},
		{Name: DoFound, Command: "found", Form: "found", decide: aboutStep(decideFound), drawn: drawnPlain},
		{Name: DoPhoto, Gives: []Given{GivesPicture}, Command: "photo", Form: "photo", decide: aboutStep(decidePhoto), drawn: drawnPicture},
		{Name: DoGoto, Gives: []Given{GivesStep}, Command: "goto", Button: "Go there", decide: decideGoto, drawn: drawnPlaces},
		{Name: DoGaugeAdd, Gives: []Given{GivesGauge}, Command: "gauge add", Form: "gauge", decide: decideGaugeAdd, drawn: drawnRegister},
		{Name: DoGaugeRemove, Command: "gauge remove", Form: "gauge", decide: decideGaugeRemove, drawn: drawnGauges},
		{Name: DoGaugeCheck, Gives: []Given{GivesCheck}, Command: "gauge check", Form: "check", decide: decideGaugeCheck, drawn: drawnCheck},
		{Name: DoUse, Command: "gauge use", Form: "gauge", decide: decideUse, drawn: drawnGauges},
		{Name: DoBuildStart, Gives: []Given{GivesBuild}, Command: "build start", Form: "build", decide: decideBuildStart, drawn: drawnBuild},
		{Name: DoPlan, Gives: []Given{GivesPlan, GivesReason}, Command: "plan adopt", Form: "plan", decide: decidePlan, drawn: drawnPlan},
		{Name: DoEngineSet, Gives: []Given{GivesEngine}, Command: "engine set", Form: "engine", decide: decideEngineSet, drawn: drawnEngine},
		{Name: DoHours, Gives: []Given{GivesLife}, Command: "hours", Form: "due", decide: decideHours, drawn: drawnHours},
		{Name: DoFit, Gives: []Given{GivesLife}, Command: "part fit", Form: "due", decide: decideFit, drawn: drawnFit},
		{Name: DoPartOut, Gives: []Given{GivesLife}, Command: "part out", Form: "due", decide: decidePartOut, drawn: drawnParts},
		{Name: DoRegular, Gives: []Given{GivesLife}, Command: "regular", Form: "due", decide: decideRegular, drawn: drawnRegular},
		{Name: DoBuildClose, Command: "build close", Form: "build", decide: decideBuildClose, drawn: drawnPlaces},
	}
}

// verbRows is the table, made once: it is looked into at every value that a gauge sends.
var verbRows = sync.OnceValue(VerbTable)

// VerbOf finds the row of a verb.
func VerbOf(name string) (VerbRow, bool) {
	rows := verbRows()
	i := slices.IndexFunc(rows, func(r VerbRow) bool { return r.Name == name })
	if i < 0 {
		return VerbRow{}, false
	}
	return rows[i], true
}
