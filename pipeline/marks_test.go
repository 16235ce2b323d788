package pipeline_test

import (
	"fmt"
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// measured is a pass of a step of the twin on the example engine, some of whose readings are others, in mm.
func (s *shop) measured(step string, pass int, others map[string]string) {
	s.t.Helper()
	b, _ := s.state.Build("17")
	st, _ := b.Plan.Step(step)
	s.at(bench.StepEntered, step, 0)
	s.at(bench.PassOpened, step, pass)
	for _, pt := range st.Wanted(pass) {
		r := s.trueReading(b.Plan, st, pt)
		if x, ok := others[pt.ID]; ok {
			r.Value = s.length(x)
			r.Raw = r.Value
		}
		s.write(bench.Entry{Kind: bench.ReadingTaken, Reading: r, Place: bench.Place{Build: "17", Step: step, Pass: pass, Point: pt.ID, Seating: 1}})
	}
	s.at(bench.PassClosed, step, pass)
}

func twinText(t *testing.T) string {
	t.Helper()
	text, err := plan.ShippedText("pushrod-twin")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func (s *shop) given(step string, pass int, key string) bench.Result {
	s.t.Helper()
	r, ok := s.results.Get(bench.Slot{Build: "17", Step: step, Pass: pass, Key: key})
	if !ok || r.Refused != "" {
		s.t.Fatalf("%s %q: there %v, refused %q", step, key, ok, r.Refused)
	}
	return r
}

// A follower that goes to another hole than the one it came from: the fit is that of the follower which goes there, and
// where it goes in, it is told again. The sizes are such that by hand follower 3 goes to the left inlet: its hole is 0.030 mm
// larger than the others, and so is follower 3.
func TestTheFitIsThatOfThePartThatGoesThere(t *testing.T) {
	s := newShopOf(t, twinText(t))
	s.measured("ready", 1, nil)
	s.measured("block-fit", 1, map[string]string{"left.inlet.hole": "12.030 mm", "right.inlet.follower": "11.994 mm",
		"left.inlet.follower": "11.964 mm", "left.exhaust.follower": "11.9640 mm", "right.exhaust.follower": "11.9640 mm"})
	places := s.given("block-fit", 1, "places")
	numbers, _ := places.Figure("part_number")
	if numbers.List[0] != 3 {
		t.Fatalf("the left inlet gets follower %v of %v", numbers.List[0], numbers.List)
	}
	for _, key := range []string{"left.inlet", "left.exhaust", "right.inlet", "right.exhaust"} {
		r := s.given("block-fit", 1, key+".follower")
		f, _ := r.Figure("clearance")
		if f.Value == nil || *f.Value < 0.0359 || *f.Value > 0.0361 { // 12.030 − 11.994 = 12.000 − 11.964
			t.Errorf("%s: clearance %+v, want 0.036 mm", key, f.Value)
		}
	}
	if r := s.given("block-fit", 1, "follower-clearance-spread"); r.Verdict != "in" {
		t.Errorf("apart: %s", figuresOf(r))
	}
	s.at(bench.StepEntered, "followers", 0)
	if got := s.given("followers", 0, "").Orders()[0].Words.MM; got != "follower 3: left inlet" {
		t.Errorf("told where it goes in: %q", got)
	}
}

// The plate that is under the barrels is asked once. Out of its ratio the whole plate is told; with it in, the deck read on
// it and the answer given, nothing is ordered any more, and the joint names it.
func TestThePlateThatIsInIsNotOrderedAgain(t *testing.T) {
	s := newShopOf(t, twinText(t))
	answer := func(choice string) {
		s.write(bench.Entry{Kind: bench.Answered, Item: "plate", Choice: choice, Place: bench.Place{Build: "17", Step: "barrels-dry"}})
	}
	s.measured("ready", 1, nil)
	s.at(bench.StepEntered, "barrels-dry", 0)
	answer("none")
	// A piston 0.5 mm higher: by hand the clearance volume is 42.3 mm²·0.5 = 2.1 cm³ less of 39.8, and the ratio 9.9.
	high := func(plate float64) map[string]string {
		deck := func(x float64) string { return fmt.Sprintf("%.4f mm", x-0.5+plate) }
		return map[string]string{"left.front": deck(0.35), "right.front": deck(0.35), "left.rear": deck(0.25), "right.rear": deck(0.25)}
	}
	s.measured("deck", 1, high(0))
	s.measured("compression", 1, nil)
	r := s.given("compression", 1, "plates")
	if o := r.Orders()[0]; r.Verdict != "out" || !o.Target || !strings.HasPrefix(o.Words.Inch, "fit 0.020 under both: ratios ") {
		t.Fatalf("%s: %q", r.Verdict, o.Words.Inch)
	}
	answer("0.020 in")
	s.measured("deck", 2, high(0.508))
	s.measured("compression", 2, nil)
	r = s.given("compression", 2, "plates")
	if o := r.Orders()[0]; r.Verdict != "in" || o.Target || o.Words.Inch != "leave it" {
		t.Errorf("with the plate in: %s, %q", r.Verdict, o.Words.Inch)
	}
	plates, _ := r.Figure("plates")
	if len(plates.List) != 1 || plates.List[0] != 0.508 {
		t.Errorf("the plate is %v", plates.List)
	}
	b, _ := s.state.Build("17")
	board, _ := b.Plan.Step("board-clamps")
	if got := board.Confirms[1].Text; got != "Plate: 0.020 in; gasket; sealant last and thin." {
		t.Errorf("the joint is told as %q", got)
	}
}
