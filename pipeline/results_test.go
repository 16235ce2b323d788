package pipeline_test

import (
	"fmt"
	"math"
	"os"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/pipeline"
)

// shop folds entries and computes what they bring, as the recorder does, without bus or file.
type shop struct {
	t       *testing.T
	chain   bench.Chain
	state   bench.State
	results bench.Results
	last    []bench.Result
}

func newShop(t *testing.T, planName string) *shop {
	t.Helper()
	text, err := plan.ShippedText(planName)
	if err != nil {
		t.Fatal(err)
	}
	return newShopOf(t, string(text))
}

// kept is the text of a plan that shipped before.
func kept(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile("../testdata/plan/" + name + ".toml")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// newShopOf begins a build with a plan's text.
func newShopOf(t *testing.T, text string) *shop {
	t.Helper()
	s := &shop{t: t}
	s.write(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "dial-1", Role: "indicator", Known: bench.KnownPath,
		Calibration: s.length("0.0002 in"), K: 2}})
	s.write(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: "17", Plan: "plan", Text: text}})
	return s
}

func (s *shop) length(text string) quantity.Value {
	v, err := quantity.Parse(text)
	if err != nil {
		s.t.Fatal(err)
	}
	return v
}

func (s *shop) write(e bench.Entry) bench.Entry {
	s.t.Helper()
	e.Bench, e.ID, e.At = "test", fmt.Sprintf("id-%d", s.chain.N+1), int64(s.chain.N+1)
	e, body, err := s.chain.Number(e)
	if err != nil {
		s.t.Fatal(err)
	}
	if s.chain, err = s.chain.Next(e, body); err != nil {
		s.t.Fatal(err)
	}
	if s.state, err = bench.Apply(s.state, e); err != nil {
		s.t.Fatal(err)
	}
	s.last = pipeline.Compute(s.state, e, s.results)
	s.results = s.results.With(s.last...)
	return e
}

func (s *shop) at(kind bench.Kind, step string, pass int) {
	s.t.Helper()
	s.write(bench.Entry{Kind: kind, Place: bench.Place{Build: "17", Step: step, Pass: pass}})
}

func (s *shop) read(value string) bench.Entry {
	s.t.Helper()
	v := s.length(value)
	return s.write(bench.Entry{Kind: bench.ReadingTaken, Place: s.state.Place, Reading: &bench.Reading{Gauge: "dial-1", Raw: v, Value: v, Zero: "z"}})
}

func (s *shop) result(step string, pass int, key string) bench.Result {
	s.t.Helper()
	r, ok := s.results.Get(bench.Slot{Build: "17", Step: step, Pass: pass, Key: key})
	if !ok {
		s.t.Fatalf("no result of %s, pass %d, %q", step, pass, key)
	}
	return r
}

func figure(t *testing.T, r bench.Result, name string) float64 {
	t.Helper()
	f, ok := r.Figure(name)
	if !ok || f.Value == nil {
		t.Fatalf("%s: no figure %q (%s)", r.Slot(), name, r.Refused)
	}
	return *f.Value
}

func (s *shop) contact() {
	s.t.Helper()
	s.at(bench.StepEntered, "guide-clearance", 0)
	s.at(bench.PassOpened, "guide-clearance", 1)
	for _, v := range []string{"0.3000 in", "0.3010 in", "0.2120 in", "0.2140 in"} {
		s.read(v)
	}
}

// The clearance of a block that stands at contact is nothing, and what is still to move is the wanted clearance: plane
// geometry.
func TestPassIsProvisionalUntilClosed(t *testing.T) {
	s := newShop(t, "first-fit")
	s.contact()
	r := s.result("guide-clearance", 1, "left")
	if !r.Provisional {
		t.Error("a full pass that is not closed counts")
	}
	if got, want := figure(t, r, "move"), 0.050*25.4; math.Abs(got-want) > 1e-9 {
		t.Errorf("move %v mm, want %v", got, want)
	}
	if len(r.Readings) != 2 {
		t.Errorf("used %v, want the start and the contact", r.Readings)
	}
	s.at(bench.PassClosed, "guide-clearance", 1)
	if r := s.result("guide-clearance", 1, "left"); r.Provisional || r.Verdict != calc.VerdictOut {
		t.Errorf("closed: provisional %v, verdict %q, want out", r.Provisional, r.Verdict)
	}
}

func TestNextPassWaitsForItsOwnReading(t *testing.T) {
	s := newShop(t, "first-fit")
	s.contact()
	s.at(bench.PassClosed, "guide-clearance", 1)
	s.at(bench.PassOpened, "guide-clearance", 2)
	if _, ok := s.results.Get(bench.Slot{Build: "17", Step: "guide-clearance", Pass: 2, Key: "left"}); ok {
		t.Error("a pass that asks for a reading computes as if there were none")
	}
	s.read("0.1640 in")
	r := s.result("guide-clearance", 2, "left")
	// Contact 0.2120 in less 0.050 in is 0.1620 in: from 0.1640 in there are two thou to go.
	if got, want := figure(t, r, "move"), 0.002*25.4; math.Abs(got-want) > 1e-9 {
		t.Errorf("move %v mm, want %v", got, want)
	}
}

// The band is the limits carried back to what the gauge shows: 0.048 to 0.052 in of clearance below a contact at
// 0.2120 in is 0.1600 to 0.1640 in.
func TestBandIsWhereThePartComesToRest(t *testing.T) {
	s := newShop(t, "first-fit")
	s.contact()
	b := s.result("guide-clearance", 1, "left").Band
	if b == nil || b.Lower == nil || b.Upper == nil {
		t.Fatal("no band")
	}
	for _, tc := range []struct {
		name      string
		got, want float64
	}{{"lower", *b.Lower, 0.160 * 25.4}, {"upper", *b.Upper, 0.164 * 25.4}, {"target", b.Target, 0.162 * 25.4}} {
		if math.Abs(tc.got-tc.want) > 1e-6 {
			t.Errorf("%s %v mm, want %v", tc.name, tc.got, tc.want)
		}
	}
	if b.Point != "left.now" {
		t.Errorf("stands at %q, want left.now", b.Point)
	}
	// The first move begins where the block was read at contact: what is left and its pace count from there.
	contact := figure(t, s.result("guide-clearance", 1, "left"), "contact")
	if b.Now == nil || math.Abs(*b.Now-contact) > 1e-9 {
		t.Errorf("the move begins at %v, want the reading at contact, %v mm", b.Now, contact)
	}
}

func TestWithdrawnReadingTakesItsResultBack(t *testing.T) {
	s := newShop(t, "first-fit")
	s.contact()
	var id string
	b, _ := s.state.Build("17")
	for _, r := range b.Step("guide-clearance").Pass(1).Readings {
		if r.Point == "left.contact" {
			id = r.ID
		}
	}
	s.write(bench.Entry{Kind: bench.Withdrawn, Place: bench.Place{Build: "17", Step: "guide-clearance", Pass: 1}, Refers: id})
	if r := s.result("guide-clearance", 1, "left"); r.Refused == "" {
		t.Error("a result stands though its reading was withdrawn")
	}
	if r := s.result("guide-clearance", 1, "right"); r.Refused != "" {
		t.Errorf("the other side lost its result too: %s", r.Refused)
	}
	s.read("0.2100 in")
	if got, want := figure(t, s.result("guide-clearance", 1, "left"), "contact"), 0.2100*25.4; math.Abs(got-want) > 1e-9 {
		t.Errorf("contact %v mm, want %v", got, want)
	}
}

// Runout of a shaft that is eccentric by e reads e·cos; total reading 2e (plane geometry).
func TestStepUsesEveryPointWithItsAngle(t *testing.T) {
	s := newShop(t, "first-fit")
	s.at(bench.StepEntered, "crank-runout", 0)
	s.at(bench.PassOpened, "crank-runout", 1)
	const e = 0.040
	for i := range 8 {
		x := e * math.Cos(float64(i)*math.Pi/4-1)
		s.read(fmt.Sprintf("%.4f mm", x))
	}
	s.at(bench.PassClosed, "crank-runout", 1)
	r := s.result("crank-runout", 1, "")
	if got := figure(t, r, "eccentricity"); math.Abs(got-e) > 1e-4 {
		t.Errorf("eccentricity %v mm, want %v", got, e)
	}
	if got, want := figure(t, r, "high_point"), 180/math.Pi; math.Abs(got-want) > 0.2 {
		t.Errorf("high point %v°, want %v", got, want)
	}
}

func TestOverriddenDataIsComputedAgainAndSaysWhy(t *testing.T) {
	s := newShop(t, "first-fit")
	s.contact()
	s.at(bench.PassClosed, "guide-clearance", 1)
	v := s.length("0.060 in")
	s.write(bench.Entry{Kind: bench.Overridden, Reason: "a wilder cam", Place: bench.Place{Build: "17", Step: "guide-clearance"},
		Override: &bench.Override{What: "engine", Name: "guide_clearance", Value: &v}})
	r := s.result("guide-clearance", 1, "left")
	if got, want := figure(t, r, "move"), 0.060*25.4; math.Abs(got-want) > 1e-9 {
		t.Errorf("move %v mm, want %v", got, want)
	}
	if r.Because == "" || r.Was == nil {
		t.Error("does not say why it changed, or from what")
	}
	before := len(s.last)
	s.at(bench.StepEntered, "guide-clearance", 0)
	if len(s.last) != 0 || before == 0 {
		t.Errorf("stored %d results again with nothing changed", len(s.last))
	}
}

// chainPlan has a second step that uses a figure of the first.
const chainPlan = `
title = "Two steps, the second leaning on the first"
version = 1
guard = "0.82"
cylinders = ["left", "right"]

[[step]]
id = "float"
title = "End float"
do = "Push and pull."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }
[[step.point]]
id = "push"
title = "pushed"
[[step.point]]
id = "pull"
title = "pulled"
[step.compute]
method = "end-float"
per = "pass"
[step.compute.inputs]
push = "@reading:push"
pull = "@reading:pull"

[[step]]
id = "fit"
title = "Fit made of it"
do = "Read the hole."
phase = "dry"
kind = "measure"
needs = ["float"]
capture = { mode = "press", role = "indicator" }
[[step.point]]
id = "hole"
title = "hole"
[step.compute]
method = "running-fit"
per = "pass"
[step.compute.inputs]
hole = "@reading:hole"
shaft = "@figure:float.end_float"
`

func TestDependentsAreComputedAgainWhenTheirGroundIsTakenAway(t *testing.T) {
	s := &shop{t: t}
	s.write(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "dial-1", Role: "indicator", Known: bench.KnownPath}})
	s.write(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: "17", Plan: "chain", Text: chainPlan}})
	if b, _ := s.state.Build("17"); b.Plan.Guard != 0.82 {
		t.Errorf("guard %v, want the plan's 0.82", b.Plan.Guard)
	}
	s.at(bench.StepEntered, "float", 0)
	s.at(bench.PassOpened, "float", 1)
	s.read("0.500 mm")
	pull := s.read("0.200 mm")
	s.at(bench.PassClosed, "float", 1)
	s.at(bench.StepEntered, "fit", 0)
	s.at(bench.PassOpened, "fit", 1)
	s.read("0.340 mm")
	s.at(bench.PassClosed, "fit", 1)
	if g := s.result("float", 1, "").Request.Guard; g != 0.82 {
		t.Errorf("decided with a guard of %v, want the plan's 0.82", g)
	}
	if got := figure(t, s.result("fit", 1, ""), "clearance"); math.Abs(got-0.040) > 1e-9 {
		t.Fatalf("clearance %v mm, want 0.040", got)
	}
	s.write(bench.Entry{Kind: bench.Withdrawn, Place: bench.Place{Build: "17", Step: "float", Pass: 1}, Refers: pull.ID})
	if r := s.result("fit", 1, ""); r.Refused == "" || r.Because == "" {
		t.Errorf("the fit still stands on a withdrawn reading: refused %q, because %q", r.Refused, r.Because)
	}
	s.read("0.210 mm")
	s.at(bench.PassClosed, "float", 1)
	r := s.result("fit", 1, "")
	if got := figure(t, r, "clearance"); math.Abs(got-0.050) > 1e-9 {
		t.Errorf("clearance %v mm, want 0.050", got)
	}
	if r.Because == "" {
		t.Error("does not say that the float changed")
	}
}
