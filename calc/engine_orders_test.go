package calc

import (
	"strings"
	"testing"
)

// What lies within its limits is left as it is, whatever the method would move to come nearer to what is wanted.
func TestOrdersFollowVerdicts(t *testing.T) {
	angles := list(0, 30, 60, 90, 120, 150, 180, 210, 240, 270, 300, 330)
	slack := list(26.1, 25.4, 24.8, 24.2, 23.8, 23.5, 23.8, 24.3, 24.9, 25.4, 25.9, 26.3)
	for _, tc := range []struct {
		name, words string // words that must not be printed beside "in"
		req         Request
		out         Limit // limits under which the same is out, so that the order stands
	}{
		{"bore", "next oversize", Request{Method: "bore-map", Limits: map[string]Limit{"clearance_min": {Lower: ptr(0.07), Upper: ptr(0.11)}}, Inputs: topIn{}.list("depths", 10, 40, 75).list("axes", 0, 90).
			grid("diameters", []float64{72.085, 72.072}, []float64{72.073, 72.071}, []float64{72.072, 72.071}).num("piston_diameter", 71.98).num("clearance", 0.09)}, Limit{Upper: ptr(0.05)}},
		{"chain", "too much slack", Request{Method: "chain-slack", Limits: map[string]Limit{"tight_slack": {Lower: ptr(20), Upper: ptr(30)}}, Inputs: map[string]Val{
			"angle": angles, "slack": slack, "straight_run": num(600), "radius_front": num(34), "radius_rear": num(76), "min_slack": num(22), "adjust": {Text: "tensioner"}}}, Limit{Upper: ptr(15)}},
		{"bolt", "begin again", Request{Method: "bolt-preload", Limits: map[string]Limit{"preload": {Lower: ptr(20000), Upper: ptr(40000)}}, Inputs: given{
			"modulus": 206000.0, "segments": []given{{"length": 60.0, "diameter": 8.0}}, "stretch": 0.2, "preload_wanted": 30000.0}.vals()}, Limit{Upper: ptr(10000)}},
		{"block", "move the block", Request{Method: "contact-clearance", Limits: map[string]Limit{"clearance_now": {Lower: ptr(1.2), Upper: ptr(1.3)}}, Inputs: map[string]Val{
			"protrusion": list(5), "clearance": num(1.27), "now": num(3.78)}}, Limit{Lower: ptr(1.5)}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			res := mustRun(t, tc.req)
			if res.Verdict != VerdictIn {
				t.Fatalf("verdict %q, so this shows nothing", res.Verdict)
			}
			for _, a := range res.Adjustment {
				if a.Verdict != VerdictIn || a.Words.MM != leaveIt || a.Target || a.Large.MM != "" {
					t.Errorf("beside in: %+v", a)
				}
			}
			for name := range tc.req.Limits {
				tc.req.Limits = map[string]Limit{name: tc.out}
			}
			res = mustRun(t, tc.req)
			if a := res.Adjustment[0]; res.Verdict != VerdictOut || a.Verdict != VerdictOut || !strings.Contains(a.Words.MM, tc.words) {
				t.Errorf("out: verdict %q, %+v", res.Verdict, a)
			}
		})
	}
}

// A limit on a figure that says nothing about the order leaves the order standing: a proof stress that is not reached is
// no reason to stop tightening, and shims that leave the wanted float have still to be fitted.
func TestOrdersStandBesideOtherVerdicts(t *testing.T) {
	res := mustRun(t, Request{Method: "bolt-preload", Limits: map[string]Limit{"share_of_proof": {Upper: ptr(0.9)}}, Inputs: given{
		"modulus": 206000.0, "segments": []given{{"length": 60.0, "diameter": 8.0}}, "stretch": 0.1, "preload_wanted": 30000.0, "proof_stress": 830.0}.vals()})
	if a := res.Adjustment[0]; res.Verdict != VerdictIn || a.Verdict != NoVerdict || !a.Target || !strings.Contains(a.Words.MM, "tighten") {
		t.Errorf("bolt: %q, %+v", res.Verdict, a)
	}
	res = mustRun(t, Request{Method: "shim-stack", Limits: map[string]Limit{"resulting": {Lower: ptr(0.15), Upper: ptr(0.25)}}, Inputs: given{"gap": 0.9, "wanted": 0.2, "shims": []float64{0.5, 0.2, 0.1}}.vals()})
	if a := res.Adjustment[0]; res.Verdict != VerdictIn || !a.Target || !strings.HasPrefix(a.Words.MM, "fit") {
		t.Errorf("shims: %q, %+v", res.Verdict, a)
	}
}

// Results of versions before this have one verdict for all their orders.
func TestOrdersOfOlderResults(t *testing.T) {
	old := Result{Verdict: VerdictIn, Adjustment: []AdjustmentResult{{What: "bore", Amount: 0.01, Words: Shown{"hone", "hone"}, Large: Shown{"0.01 mm", "0.0004 in"}, Target: true}}}
	if a := old.Orders()[0]; a.Target || a.Words.MM != leaveIt || a.Amount != 0.01 {
		t.Errorf("got %+v", a)
	}
	if a := old.Adjustment[0]; !a.Target || a.Words.MM != "hone" {
		t.Errorf("the stored order was changed: %+v", a)
	}
	old.Verdict = VerdictOut
	if a := old.Orders()[0]; !a.Target {
		t.Errorf("got %+v", a)
	}
}

// Two sides held against each other can be limited.
func TestDifferenceOfTwoSides(t *testing.T) {
	res := mustRun(t, Request{Method: "statistics", Kind: "length", Inputs: map[string]Val{"values": list(1.30, 1.24)}, Limits: map[string]Limit{"difference": {Lower: ptr(-0.05), Upper: ptr(0.05)}}})
	near(t, "difference", value(t, res, "difference"), 0.06, 1e-12)
	if res.Verdict != VerdictOut {
		t.Errorf("verdict %q", res.Verdict)
	}
	res = mustRun(t, Request{Method: "shim-both-sides", Inputs: given{"gap_left": 0.9, "gap_right": 1.2, "wanted": 0.2, "shims": []float64{0.5, 0.4, 1}}.vals()})
	near(t, "difference", value(t, res, "difference"), -0.3, 1e-12)
	res = mustRun(t, Request{Method: "deck-height", Inputs: given{"reading_1": 0.5, "arm_1": 30.0, "reading_2": 0.4, "arm_2": -30.0}.vals()})
	near(t, "difference", value(t, res, "difference"), 0.1, 1e-12)
}
