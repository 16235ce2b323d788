package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The block on its axis: x grows away from the cam, the lobes reach to 0. Following the adjustment brings the block to
// the clearance asked for, whichever face is read and however it stands now.
func TestContactClearanceReachesTarget(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		clearance := rapid.Float64Range(0.5, 2).Draw(t, "clearance")
		now := rapid.Float64Range(-1, 4).Draw(t, "now") // where the block's cam face stands
		joint := rapid.Float64Range(5, 40).Draw(t, "joint")
		side := rapid.SampledFrom([]string{"cam", "outside"}).Draw(t, "side")
		read := func(x float64) float64 { return joint - x } // the cam face's protrusion beyond the joint face
		if side == "outside" {
			read = func(x float64) float64 { return joint + x }
		}
		res := mustRun(t, Request{Method: "contact-clearance", Inputs: map[string]Val{
			"protrusion": list(read(0)), "start": num(read(-0.5)), "now": num(read(now)), "clearance": num(clearance), "side": {Text: side}}})
		move := value(t, res, "move")
		near(t, "clearance after the move", now+move, clearance, 1e-9)
		near(t, "reading after the move", read(now+move), value(t, res, "target"), 1e-9)
		near(t, "clearance now", value(t, res, "clearance_now"), now, 1e-9)
		if a := res.Adjustment[0]; (a.Direction == "away") != (move >= 0) || math.Abs(a.Amount-move) > 1e-12 {
			t.Errorf("adjustment %+v for a move of %g", a, move)
		}
		// A thicker joint at assembly lifts the block with the cylinder, away from the cam.
		plate := mustRun(t, Request{Method: "contact-clearance", Inputs: map[string]Val{"protrusion": list(read(0)), "now": num(read(clearance)), "clearance": num(clearance), "side": {Text: side},
			"joint_at_contact": num(0.2), "joint_at_assembly": num(0.7)}})
		near(t, "built clearance", value(t, plate, "built_clearance"), clearance+0.5, 1e-9)
	})
}

// Once on its cone the block is ground, never driven.
func TestContactClearanceSeated(t *testing.T) {
	yes := true
	in := map[string]Val{"protrusion": list(10), "now": num(9), "clearance": num(1.27), "seated": {Flag: &yes}}
	res := mustRun(t, Request{Method: "contact-clearance", Inputs: in})
	near(t, "grind", value(t, res, "grind"), 0.27, 1e-12)
	if a := res.Adjustment[0]; a.Direction != "grind" || a.Words.MM != "grind 0.270 mm off the cam side" {
		t.Errorf("got %+v", a)
	}
	in["now"] = num(8.5)
	res = mustRun(t, Request{Method: "contact-clearance", Inputs: in})
	if a := res.Adjustment[0]; a.Target || !strings.HasPrefix(a.Words.MM, "leave it") || value(t, res, "grind") != 0 {
		t.Errorf("got %+v", a)
	}
}

// Over the turn the outside face grows in steps as each lobe comes by, and rests on the plateau after the last.
func TestContactClearancePlateau(t *testing.T) {
	form := func(readings string) string {
		return fmt.Sprintf(`{"protrusion": {"value": [%s], "unit": "mm"}, "crank_angle": {"value": [0, 60, 120, 180, 240, 300, 360, 420, 480, 540, 600, 660], "unit": "deg"}, "clearance": "1.27 mm", "side": "outside"}`, readings)
	}
	run := func(s string) (Result, error) {
		req, err := ReadForm(contactClearance(), []byte(s))
		if err != nil {
			t.Fatal(err)
		}
		return Run(req)
	}
	res, err := run(form("5.0, 5.0, 5.1, 5.3, 5.3, 5.3, 5.3, 5.42, 5.42, 5.42, 5.42, 5.42"))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "contact", value(t, res, "contact"), 5.42, 1e-12)
	near(t, "target", value(t, res, "target"), 6.69, 1e-12)
	for name, s := range map[string]string{
		"driven back":  form("5.0, 5.0, 5.1, 5.3, 5.3, 5.3, 5.3, 5.42, 5.42, 5.3, 5.3, 5.3"),
		"half a turn":  `{"protrusion": ["5 mm", "5.1 mm"], "crank_angle": ["0 deg", "60 deg"], "clearance": "1 mm", "side": "outside"}`,
		"no angles":    `{"protrusion": ["5 mm", "5.1 mm"], "clearance": "1 mm", "side": "outside"}`,
		"cam side":     `{"protrusion": ["5 mm", "5.1 mm"], "crank_angle": ["0 deg", "60 deg"], "clearance": "1 mm"}`,
		"untouched":    `{"protrusion": {"value": 5, "unit": "mm", "u": 0.01}, "start": {"value": 5.02, "unit": "mm", "u": 0.01}, "clearance": "1 mm"}`,
		"wrong way":    `{"protrusion": "5 mm", "start": "4 mm", "clearance": "1 mm"}`,
		"wrong way, 2": `{"protrusion": "5 mm", "start": "6 mm", "clearance": "1 mm", "side": "outside"}`,
	} {
		if res, err := run(s); err != nil || res.Refused == "" {
			t.Errorf("%s: got %+v, %v, want a refusal", name, res, err)
		}
	}
}
