package calc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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
		near(t, "clearance now", value(t, res, "clearance_now"), math.Max(now, 0), 1e-9)
		if inside := strings.Contains(strings.Join(res.Warnings, " "), "inside contact"); inside != (now < -1e-9) {
			t.Errorf("stands %g mm from contact: warnings %q", now, res.Warnings)
		}
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
	if a := res.Adjustment[0]; a.Direction != "grind" || a.Words.MM != "grind 0.27 mm off the cam side" {
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

// every30 reads an outside face every 30° of crank from 0 on.
func every30(readings []float64) given {
	var angle []float64
	for i := range readings {
		angle = append(angle, 30*float64(i))
	}
	return given{"protrusion": readings, "crank_angle": angle, "clearance": 1.27, "side": "outside"}
}

// The plateau after the last push, not the greatest reading. Computed independently, no published example.
func TestContactPlateauMean(t *testing.T) {
	readings := []float64{3.21, 3.30, 3.52, 3.86, 4.20, 4.47, 4.650, 4.742, 4.751, 4.748, 4.750, 4.752, 4.749, 4.751, 4.783, 4.779, 4.782, 4.780, 4.781, 4.778, 4.783, 4.780, 4.779, 4.782}
	out := figuresOf(t, "contact-clearance", every30(readings))
	figureNear(t, out, "contact", 4.7807, 5e-5)
	if len(out.warnings) != 0 {
		t.Errorf("warnings %q", out.warnings)
	}
	// The last six 0.03 mm lower: the block went back.
	back := slices.Clone(readings)
	for i := len(back) - 6; i < len(back); i++ {
		back[i] -= 0.03
	}
	refused(t, "contact-clearance", every30(back), "protrusion")
	// 0.009 mm stands out of the scatter of a long row but is no cause to begin again: what was read before it counts.
	long := readings[:14:14]
	for i := range 46 {
		long = append(long, 4.780+0.001*float64(i%3-1)-0.009*float64(i/40))
	}
	var angle []float64
	for i := range long {
		angle = append(angle, 12*float64(i))
	}
	out = figuresOf(t, "contact-clearance", every30(long).with("crank_angle", angle))
	figureNear(t, out, "contact", 4.780, 5e-5)
	if all := strings.Join(out.warnings, " "); !strings.Contains(all, "went back by 0.0090 mm") {
		t.Errorf("warnings %q", out.warnings)
	}
	// A last push seen by three readings only.
	few := append(readings[:14:14], 4.75, 4.752, 4.748, 4.751, 4.749, 4.75, 4.751, 4.83, 4.831, 4.829)
	out = figuresOf(t, "contact-clearance", every30(few))
	figureNear(t, out, "contact", 4.830, 1e-9)
	if all := strings.Join(out.warnings, " "); !strings.Contains(all, "only 3 readings") {
		t.Errorf("warnings %q", out.warnings)
	}
}

// Blocks pushed by two lobes in steps, read with scatter and rounded to a display: the plateau is found without the bias of
// the greatest reading, honest turns are not refused, and a block that fell 0.03 mm is seen.
func TestContactPlateauOverManyTurns(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 720))
	const turns = 800
	for _, c := range []struct{ scatter, step float64 }{{0.001, 0.0005}, {0.002, 0.001}, {0.005, 0.001}, {0.005, 0.010}, {0.010, 0.010}} {
		bias, top, refusals, seen := 0.0, 0.0, 0, 0
		for i := range turns {
			contact := 4.78 + 0.01*rng.Float64()
			fall := 0.0
			if i%2 == 1 {
				fall = 0.03
			}
			y := make([]float64, 144)
			for j := range y {
				a := 5 * float64(j)
				x := contact - 1.5
				if a > 60 {
					x += 1.4 * math.Min(1, (a-60)/100) // the first lobe pushes it most of the way
				}
				if a > 300 {
					x = contact
				}
				if a > 560 {
					x -= fall
				}
				y[j] = c.step * math.Round((x+c.scatter*rng.NormFloat64())/c.step)
			}
			out := &Out{method: ptrTo(contactClearance()), nums: map[string]float64{}}
			var angle []float64
			for j := range y {
				angle = append(angle, 5*float64(j))
			}
			vals := given{"protrusion": y, "crank_angle": angle, "clearance": 1.27, "side": "outside"}.vals()
			for j := range vals["protrusion"].List {
				vals["protrusion"].List[j].Us = []Component{{Name: "resolution", U: c.step / math.Sqrt(12)}}
			}
			err := out.method.Compute(Args{out.method.Inputs, vals}, out)
			switch {
			case fall > 0 && err != nil:
				seen++
			case fall == 0 && err != nil:
				refusals++
			case fall == 0:
				bias += (out.nums["contact"] - contact) / (turns / 2)
				top += (slices.Max(y) - contact) / (turns / 2)
			}
		}
		if refusals > 0 || seen < turns/2*95/100 || math.Abs(bias) > 0.0004 || top < 1.5*c.scatter {
			t.Errorf("scatter %g, step %g: %d refused wrongly, %d of %d falls seen, bias %.5f mm (of the greatest reading %.5f)", c.scatter, c.step, refusals, seen, turns/2, bias, top)
		}
	}
}

func ptrTo(m Method) *Method { return &m }

// The stated uncertainty of the contact covers the truth as often as it says (95 %; at least 92.5 is asked), whether the
// readings were stated honestly, ten times too well, or not at all. Computed independently, no published example.
func TestContactCoverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 144))
	for _, c := range []struct{ scatter, step, stated float64 }{{0.005, 0.001, 0}, {0.005, 0.001, 0.005}, {0.005, 0.001, 0.0005}, {0.005, 0.010, 0.003}} {
		const turns = 600
		covered := 0
		for range turns {
			contact := 4.78 + 0.01*rng.Float64()
			var y, angle []float64
			for a := 0.0; a < 720; a += 5 {
				x := contact
				if a <= 300 {
					x -= 0.2
				}
				y, angle = append(y, c.step*math.Round((x+c.scatter*rng.NormFloat64())/c.step)), append(angle, a)
			}
			in := given{"protrusion": y, "crank_angle": angle, "clearance": 1.27, "side": "outside"}.vals()
			if c.stated > 0 {
				in["protrusion"] = spreadList(c.stated, y...)
			}
			res := mustRun(t, Request{Method: "contact-clearance", Inputs: in, Digits: c.step})
			if f, _ := res.Figure("contact"); math.Abs(*f.Value-contact) <= f.U {
				covered++
			}
		}
		if share := float64(covered) / turns; share < 0.925 || share > 0.985 {
			t.Errorf("scatter %g, display %g, stated %g: covered %.1f %%", c.scatter, c.step, c.stated, 100*share)
		}
	}
}

// The slopes given are those of the computation.
func TestContactSlopes(t *testing.T) {
	y := []float64{3, 3, 3, 3, 3.5, 4, 4.2, 4.7, 4.75, 4.751, 4.749, 4.75, 4.752, 4.748, 4.75, 4.751, 4.749, 4.75, 4.751, 4.749, 4.75, 4.75, 4.75, 4.75}
	in := every30(y).with("now", 5.9)
	m := contactClearance()
	base := &Out{method: &m, nums: map[string]float64{}, wantSlopes: true}
	if err := m.Compute(Args{m.Inputs, in.vals()}, base); err != nil {
		t.Fatal(err)
	}
	for i := range y {
		moved := slices.Clone(y)
		moved[i] += 1e-6
		out := figuresOf(t, "contact-clearance", in.with("protrusion", moved))
		for _, f := range []string{"contact", "target", "clearance_now", "move", "built_clearance"} {
			if got, want := base.slopes["protrusion"].rows[slotName{f, 0}][i], (out.nums[f]-base.nums[f])/1e-6; math.Abs(got-want) > 1e-6 {
				t.Errorf("%s by reading %d: %g, difference %g", f, i, got, want)
			}
		}
	}
}
