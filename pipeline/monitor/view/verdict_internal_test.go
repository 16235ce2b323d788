package view

import (
	"slices"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// lashRow is the row of a lash that was found, in inches: adjuster of 26 threads an inch (BS 811), six flats.
func lashRow(t *testing.T, found string) Row {
	t.Helper()
	num := func(s string) calc.Val {
		v, err := quantity.Parse(s)
		if err != nil {
			t.Fatal(err)
		}
		x := v.Float()
		return calc.Val{Num: &calc.Num{X: x}}
	}
	req := calc.Request{Method: "valve-lash", Inputs: map[string]calc.Val{"lash": num(found), "target": num("0.004 in"), "pitch": num("26 tpi")}}
	res, err := calc.Run(req)
	if err != nil {
		t.Fatal(err)
	}
	w := &work{b: &bench.Build{}, v: &View{}, st: &bench.StepState{}, step: plan.Step{Compute: &plan.Compute{Shown: []string{"flats"}}}}
	return w.row(bench.Result{Key: "left", Result: res, Request: req})
}

// TestLashIsToldAsAHandTurns: half a flat is an order, though it has no digit; a twentieth of one is to be left. Half a flat at 26
// threads an inch is 1/26/12 = 0.0032 in.
func TestLashIsToldAsAHandTurns(t *testing.T) {
	if row := lashRow(t, "0.0072 in"); row.Order == nil || row.Order.Large.Inch != "half a flat" || row.Leave {
		t.Errorf("half a flat: %+v", row)
	}
	if row := lashRow(t, "0.0043 in"); row.Order != nil || !row.Leave || row.Value.Inch != "leave it" {
		t.Errorf("a twentieth of a flat: %+v", row)
	}
}

// TestDerivedLimitsAreShownAsTheyCanBeRead: a limit worked out of others has more places than the indicator; the row rounds it into
// the band, the rule's figure too, and the limit that decides stays as it is.
func TestDerivedLimitsAreShownAsTheyCanBeRead(t *testing.T) {
	raw, err := quantity.Parse("0.0105 in")
	if err != nil {
		t.Fatal(err)
	}
	lower, upper, value := 0.00063*25.4, 0.02063*25.4, 0.0105*25.4
	w := &work{b: &bench.Build{}, v: &View{}, step: plan.Step{Compute: &plan.Compute{Shown: []string{"deck"}}},
		st: &bench.StepState{Passes: []*bench.Pass{{Number: 1, Readings: []bench.Taken{{ID: "r1", Reading: bench.Reading{Raw: raw}}}}}}}
	f := calc.FigureResult{Name: "deck", Kind: quantity.Length, Value: &value, Limit: &calc.Limit{Lower: &lower, Upper: &upper}, Verdict: calc.VerdictIn}
	row := w.row(bench.Result{Key: "left", Readings: []string{"r1"}, Result: calc.Result{Method: "deck-height", Figures: []calc.FigureResult{f}, Verdict: calc.VerdictIn}})
	if row.Limits.Inch != "0.0007 to 0.0206 in" || row.Word != "in" {
		t.Errorf("the row wants %q, %s", row.Limits.Inch, row.Word)
	}
	r := newRule(bench.Band{Lower: &lower, Upper: &upper, Target: 0.01 * 25.4}, quantity.Length, 0.0001*25.4, "up", "down")
	var limits []string
	for _, l := range r.Labels() {
		if l.Class == "limit" {
			limits = append(limits, l.Text.Inch)
		}
	}
	if !slices.Equal(limits, []string{".0206", ".0007"}) {
		t.Errorf("beside the rule: %q", limits)
	}
}

// TestTheRowAskedAboutComesFirst: beside the question after two thirds stands the torque of two thirds, large, not another's.
func TestTheRowAskedAboutComesFirst(t *testing.T) {
	rows := []Row{{Name: "a third", Order: &Order{}, First: true}, {Name: "two thirds", Order: &Order{}}, {Name: "the whole", Order: &Order{}}}
	for now, want := range map[string]string{"All to a third, in order?": "a third", "All to two thirds, in order?": "two thirds", "Once more round, at the whole?": "the whole", "The head is on?": "a third"} {
		w := &work{v: &View{Stage: StageConfirm, Now: now, Rows: slices.Clone(rows)}}
		w.leadAsked()
		first := 0
		for _, r := range w.v.Rows {
			if r.First {
				first++
			}
		}
		if w.v.Rows[0].Name != want || !w.v.Rows[0].First || first != 1 || len(w.v.Rows) != 3 {
			t.Errorf("%s: %+v", now, w.v.Rows)
		}
	}
}

// TestNothingAskedIsNoQuestion: a page that has nothing to ask is no question, whatever the bench waits for.
func TestNothingAskedIsNoQuestion(t *testing.T) {
	if got := (&View{Stage: StageAsk}).face(); got == FaceQuestion {
		t.Error("a question without one")
	}
	if got := (&View{Stage: StageAsk, Asked: []Ask{{}}}).face(); got != FaceQuestion {
		t.Errorf("a question is shown as %s", got)
	}
}
