package plan_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/plan"
)

const inch = 25.4

// trueReadings is what ideal gauges would read on an example engine that is as it should be, in base units; a key is
// STEP/POINT with stars for whole parts. Made up so that every step's limits are met; where a number follows from a
// formula, the formula stands there.
var trueReadings = []struct {
	key string
	x   float64
}{
	{"rod-weighing/*.small", 142}, {"rod-weighing/*.big", 318}, {"rod-weighing/*.whole", 460},
	// Balance factor (hung + small ends)/(reciprocating), for each cylinder (174.82 + 142)/(369 + 142) = 0.62.
	{"balance/*.piston", 285}, {"balance/*.pin", 62}, {"balance/*.rings", 18}, {"balance/*.clips", 4}, {"balance/hung", 174.82},
	{"float-gap/push", 0}, {"float-gap/pull", 0.031 * inch}, // 0.023 in of shims leave 0.008 in
	{"end-float/push", 0}, {"end-float/pull", 0.008 * inch},
	{"block-holes/*", 25}, {"block-fit/*", 25 - 0.001*inch},
	{"follower-holes/*.*", 12.7}, {"follower-fit/*.*", 12.7 - 0.0014*inch},
	{"screw-line/*.top", 8}, {"screw-line/*.bottom", 8.02},
	{"guide-clearance/*.start", 0.300 * inch}, {"guide-clearance/*.contact", 0.212 * inch}, {"guide-clearance/*.now", 0.162 * inch},
	{"cone-seat/*.pilot", inch * 3 / 16}, {"cone-seat/*.seat", inch / 8},
	{"guide-cone/*.now", 0.162 * inch},
	{"piston-size/*", 71 - 0.0047*inch}, {"bore-map/*.10mm.*", 71.004}, {"bore-map/*.40mm.*", 71}, {"bore-map/*.75mm.*", 70.998},
	{"ring-gap-top/*", 0.0045*70.998 + math.Pi*0.002}, {"ring-gap-second/*", 0.0050*70.998 + math.Pi*0.002},
	{"ring-side/*.*", 0.002 * inch},
	{"pin-fit/*", 18}, {"pin-holes/*.small-end", 18 + 0.00075*inch}, {"pin-holes/*.boss", 18 + 0.0002*inch},
	{"deck/*.front", 0.5}, {"deck/*.rear", 0.3},
	{"compression/*.chamber", 36}, {"compression/*.crown", 3.5},
	{"tdc/*.forward", 360 - stopAngle()}, {"tdc/*.back", stopAngle()},
	{"spring-height/*.*", 40}, {"spring-height/*.*.inner", 38.5},
	{"inlet-to-piston-*/push", 2.6}, {"exhaust-to-piston-*/push", 3.4},
	{"rockers/*.*", 7.1048}, // asin(lift/2/arm) = asin(4.7/38): square at half lift
	{"base-bolts/*", 0.133}, {"head-bolts/*", 31},
	{"lash-inlet/*", 0.004 * inch}, {"lash-exhaust/*", 0.006 * inch},
	{"ignition/*", 8},
}

// drop is the piston's way down from the top for the example engine, without pin offset: slider and crank.
func drop(deg float64) float64 {
	const r, l = 41, 165
	s, c := math.Sincos(deg * math.Pi / 180)
	return r + l - r*c - math.Sqrt(l*l-r*r*s*s)
}

// stopAngle is where the piston is 20 mm down, by bisection.
func stopAngle() float64 {
	lo, hi := 0.0, 180.0
	for range 60 {
		if mid := (lo + hi) / 2; drop(mid) < 20 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// lobe is a smooth lift curve of a half-width of 150 degrees.
func lobe(deg, centre, lift float64) float64 {
	u := (math.Mod(deg-centre+1080, 720) - 360) / 150
	if math.Abs(u) >= 1 {
		return 0
	}
	return lift * math.Pow(1-u*u, 3)
}

// trace gives the samples of a trace.
func trace(step string) (angles, values []float64) {
	kind := func(names ...string) bool {
		for _, n := range names {
			if strings.HasPrefix(step, n) {
				return true
			}
		}
		return false
	}
	add := func(from, to, by float64, f func(float64) float64) {
		for a := from; a < to; a += by {
			angles, values = append(angles, a), append(values, f(a))
		}
	}
	switch {
	case kind("tdc-fit"):
		add(-45, 45.1, 2, func(a float64) float64 { return 12 - drop(a) })
	case kind("cam-inlet", "cam-final"):
		add(0, 720, 2.5, func(a float64) float64 { return lobe(a, 105, 8) })
	case kind("cam-exhaust"):
		add(0, 720, 2.5, func(a float64) float64 { return lobe(a, -105, 7.8) })
	case kind("inlet-to-piston"):
		add(-60, 61, 2.5, func(a float64) float64 { return lobe(a, 105, 8.5) })
	case kind("exhaust-to-piston"):
		add(-60, 61, 2.5, func(a float64) float64 { return lobe(a, -105, 8.2) })
	}
	return angles, values
}

// reading is the true reading of a point.
func reading(s plan.Step, pt plan.Point) (float64, bool) {
	id := s.ID
	if s.Again != "" {
		id = s.Again
	}
	if pt.Angle != nil { // around a turn: runout of 0.01 mm, slack that is tight at one place
		c := math.Cos(*pt.Angle * math.Pi / 180)
		if id == "chain" {
			return 4.5 + c, true
		}
		return 0.01 * c, true
	}
	for _, r := range trueReadings {
		step, point, _ := strings.Cut(r.key, "/")
		if id != step && !(strings.HasSuffix(step, "*") && strings.HasPrefix(id, strings.TrimSuffix(step, "*"))) {
			continue
		}
		if _, ok := plan.Match(point, pt.ID); ok {
			return r.x, true
		}
	}
	return 0, false
}

// doubt is the uncertainty a reading has from the step's stated set-up repeatability; where it is found from seatings,
// or from the feelers on both sides, two ten-thousandths of an inch stand for it.
func doubt(s plan.Step, ref plan.Ref) []calc.Component {
	if ref.Kind != plan.RefReading && ref.Kind != plan.RefReadings {
		return nil
	}
	u := 0.0002 * inch
	if s.Setup.Valid() {
		u = s.Setup.Float()
	}
	return []calc.Component{{Name: "set-up repeatability", U: u}}
}

// answers works a plan out step by step with the true readings.
type answers struct {
	t       *testing.T
	p       *plan.Plan
	results map[string]calc.Result // STEP.RUN
}

func (a *answers) points(s plan.Step, ref plan.Ref) (plan.Step, []plan.Point) {
	if ref.Step != "" {
		s, _ = a.p.Step(ref.Step)
	}
	var out []plan.Point
	for _, pt := range s.Points {
		if _, ok := plan.Match(ref.Point, pt.ID); ok {
			out = append(out, pt)
		}
	}
	return s, out
}

func (a *answers) ref(s plan.Step, text, key string) calc.Val {
	ref, err := plan.ParseRef(plan.FillRun(text, key))
	if err != nil {
		a.t.Fatal(err)
	}
	num := func(x float64) calc.Val { return calc.Val{Num: &calc.Num{X: x}} }
	list := func(xs []float64) (v calc.Val) {
		for _, x := range xs {
			v.List = append(v.List, calc.Num{X: x})
		}
		return v
	}
	switch ref.Kind {
	case plan.RefEngine:
		d, _ := a.p.Datum(ref.Name)
		switch {
		case d.Word != "":
			return calc.Val{Text: d.Word}
		case d.List == nil:
			return num(d.Value.Float())
		}
		var xs []float64
		for _, v := range d.List {
			xs = append(xs, v.Float())
		}
		return list(xs)
	case plan.RefFigure:
		f, ok := a.results[ref.Step+"."+ref.Run].Figure(ref.Name)
		if !ok || f.Value == nil {
			a.t.Fatalf("%s: no figure %s", s.ID, text)
		}
		return num(*f.Value)
	}
	if ref.Point == "" {
		ref.Point = key
	}
	from, pts := a.points(s, ref)
	if ref.Kind == plan.RefSampleAngle || ref.Kind == plan.RefSampleValue {
		angles, values := trace(from.ID)
		if ref.Kind == plan.RefSampleAngle {
			return list(angles)
		}
		return list(values)
	}
	var out calc.Val
	rows := map[string]int{}
	for _, pt := range pts {
		x, ok := reading(from, pt)
		if pt.ID == "hung" {
			x *= float64(len(a.p.Cylinders))
		}
		switch {
		case ref.Kind == plan.RefAngles:
			x = *pt.Angle
		case ref.Kind == plan.RefDepths:
			x = pt.Depth.Float()
		case !ok:
			a.t.Fatalf("the test has no reading for %s/%s", from.ID, pt.ID)
		}
		n := calc.Num{X: x, Us: doubt(from, ref)}
		if ref.Stars() < 2 {
			out.List = append(out.List, n)
			continue
		}
		stars, _ := plan.Match(ref.Point, pt.ID)
		if _, ok := rows[stars[0]]; !ok {
			rows[stars[0]] = len(out.Grid)
			out.Grid = append(out.Grid, nil)
		}
		out.Grid[rows[stars[0]]] = append(out.Grid[rows[stars[0]]], n)
	}
	if ref.Kind == plan.RefReading {
		return calc.Val{Num: &out.List[0]}
	}
	return out
}

func (a *answers) values(s plan.Step, bs map[string]plan.Binding, key string) map[string]calc.Val {
	out := map[string]calc.Val{}
	for name, b := range bs {
		switch {
		case b.Const != nil:
			out[name] = *b.Const
		case b.Rec != nil:
			out[name] = calc.Val{Rec: a.values(s, b.Rec, key)}
		case b.Recs != nil:
			var v calc.Val
			for _, r := range b.Recs {
				v.Recs = append(v.Recs, a.values(s, r, key))
			}
			out[name] = v
		case b.Many:
			var v calc.Val
			for _, r := range b.Refs {
				one := a.ref(s, r, key)
				if one.Num != nil {
					v.List = append(v.List, *one.Num)
				}
				v.List = append(v.List, one.List...)
			}
			out[name] = v
		default:
			out[name] = a.ref(s, b.Refs[0], key)
		}
	}
	return out
}

// On an engine that is as it should be no method refuses and every verdict is "in": so the plans ask for what their
// methods want, the example engine agrees with its own limits, and the set-up repeatability that a step states leaves
// room between its limits.
func TestAGoodEngineIsIn(t *testing.T) {
	for _, name := range []string{"first-fit", "pushrod-twin", "single-trial"} {
		p := load(t, name)
		a := &answers{t, p, map[string]calc.Result{}}
		in := 0
		for _, s := range p.Steps {
			for _, key := range p.Keys(s) {
				req := calc.Request{Method: s.Compute.Method, Inputs: a.values(s, s.Compute.Inputs, key), Limits: s.Compute.Limits, Kind: s.Capture.Kind}
				res, err := calc.Run(req)
				if err != nil || res.Refused != "" {
					t.Errorf("%s: %s %s: %v %s", name, s.ID, key, err, res.Refused)
				}
				if res.Verdict != calc.VerdictIn && len(s.Compute.Limits) > 0 {
					t.Errorf("%s: %s %s is %q: %s", name, s.ID, key, res.Verdict, figuresOf(res))
				} else if len(s.Compute.Limits) > 0 {
					in++
				}
				a.results[s.ID+"."+key] = res
			}
		}
		if in == 0 {
			t.Errorf("%s: nothing was judged", name)
		}
	}
}

func figuresOf(r calc.Result) string {
	var out []string
	for _, f := range r.Figures {
		if f.Value != nil {
			out = append(out, fmt.Sprintf("%s %.5g %s (%s)", f.Name, *f.Value, quantity.Base(f.Kind).Code, f.Verdict))
		}
	}
	return strings.Join(out, ", ")
}
