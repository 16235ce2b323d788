package plan_test

import (
	"fmt"
	"strings"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/plan"
	"thoud/capture/plan/example"
)

// doubt is the uncertainty a reading has from the step's stated set-up repeatability; where it is found from seatings,
// or from the feelers on both sides, two ten-thousandths of an inch stand for it.
func doubt(s plan.Step, ref plan.Ref) []calc.Component {
	if ref.Kind != plan.RefReading && ref.Kind != plan.RefReadings {
		return nil
	}
	u := 0.0002 * 25.4
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
		angles, values := example.Trace(from.ID)
		if ref.Kind == plan.RefSampleAngle {
			return list(angles)
		}
		return list(values)
	}
	var out calc.Val
	rows := map[string]int{}
	for _, pt := range pts {
		x, ok := example.Reading(a.p, from, pt)
		switch {
		case ref.Kind == plan.RefAngles:
			x = *pt.Angle
		case ref.Kind == plan.RefDepths:
			x = pt.Depth.Float()
		case !ok:
			a.t.Fatalf("the example has no reading for %s/%s", from.ID, pt.ID)
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
				one := a.ref(s, r.Text, key)
				if one.Num != nil {
					v.List = append(v.List, *one.Num)
				}
				v.List = append(v.List, one.List...)
			}
			out[name] = v
		default:
			out[name] = a.ref(s, b.Refs[0].Text, key)
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
