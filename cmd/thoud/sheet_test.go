package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"html"
	"path/filepath"
	"strings"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/service"
	"thoud/pipeline"
	"thoud/store"
	"thoud/store/sheet"
)

// stateOfPlan is a state folder in which a build of a shipped plan went through every step: confirmed, counted, read
// once at every point and seating somewhere in its plausible range, signed. The values are nonsense and many verdicts
// out; what is asked here is that everything a plan can have comes through ledger, verification and sheet.
func stateOfPlan(t *testing.T, name string) (string, *plan.Plan) {
	t.Helper()
	dir := t.TempDir()
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}()
	text, err := plan.ShippedText(name)
	if err != nil {
		t.Fatal(err)
	}
	var chain bench.Chain
	state, results := bench.State{}, bench.Results{}
	add := func(e bench.Entry) string {
		t.Helper()
		e.Bench, e.ID, e.ClockOK = "bench-1", fmt.Sprintf("0190-%06d", chain.N+1), true
		e.At = 1_790_000_000_000_000 + int64(chain.N)*30_000_000
		e, body, err := chain.Number(e)
		if err != nil {
			t.Fatal(err)
		}
		if chain, err = chain.Next(e, body); err != nil {
			t.Fatal(err)
		}
		if state, err = bench.Apply(state, e); err != nil {
			t.Fatal(err)
		}
		news := pipeline.Compute(state, e, results)
		results = results.With(news...)
		if err := s.Record(ctx, "bench-1", e, body, chain.Seal, news, store.Checkpoint{Generation: "g", Seq: chain.N}); err != nil {
			t.Fatal(err)
		}
		return e.ID
	}
	roles := map[string]bool{}
	rules := bench.RulesNow("")
	add(bench.Entry{Kind: bench.RulesNamed, Rules: &rules})
	add(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: "9", Engine: "shop twin no. 4", Plan: name, Text: string(text)}})
	b, _ := state.Build("9")
	p := b.Plan
	for _, step := range p.Steps {
		place := bench.Place{Build: "9", Step: step.ID}
		add(bench.Entry{Kind: bench.StepEntered, Place: place})
		for _, c := range step.Confirms {
			add(bench.Entry{Kind: bench.Confirmed, Place: place, Item: c.ID, By: "K.B."})
		}
		for _, it := range step.Items {
			add(bench.Entry{Kind: bench.TallyIn, Place: place, Item: it.Name, By: "K.B."})
		}
		for _, item := range step.Out {
			add(bench.Entry{Kind: bench.TallyOut, Place: place, Item: item, By: "K.B."})
		}
		if len(step.Points) == 0 {
			add(bench.Entry{Kind: bench.Signed, Place: place, Initials: "K.B."})
			continue
		}
		role := step.Capture.Role
		if !roles[role] {
			roles[role] = true
			add(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "g-" + role, Profile: "text", Known: bench.KnownKeyed, Role: role, Sends: bench.SendsKey, Sense: 1}})
		}
		place.Pass = 1
		add(bench.Entry{Kind: bench.PassOpened, Place: place})
		n := 0
		for seating := 1; seating <= max(step.Seatings, 1); seating++ {
			for _, pt := range step.Wanted(1) {
				at := place
				at.Point, at.Seating = pt.ID, seating
				v := somewhere(t, step, pt, n)
				n++
				r := &bench.Reading{Gauge: "g-" + role, Mode: "keyed", Keyed: true, Raw: v, Value: v, Text: v.String()}
				if step.Capture.Mode == plan.Trace || pt.Mode == plan.Trace {
					r.Samples = ramp()
				}
				add(bench.Entry{Kind: bench.ReadingTaken, Place: at, By: "K.B.", Reading: r})
			}
		}
		add(bench.Entry{Kind: bench.PassClosed, Place: place})
		add(bench.Entry{Kind: bench.Signed, Place: place, Initials: "K.B."})
	}
	return dir, p
}

// ramp is a trace of a lobe: lift against angle, up and down once.
func ramp() *bench.Samples {
	s := &bench.Samples{Unit: "mm", Places: 4}
	for i := range 73 {
		lift := max(0, 8-float64((i-36)*(i-36))/60)
		s.At = append(s.At, int64(i)*10_000)
		s.Angle = append(s.Angle, int64(i)*10_000)
		s.Value = append(s.Value, int64(lift*quantity.PerMillimetre))
	}
	return s
}

// somewhere is a value in a point's plausible range, another for each reading.
func somewhere(t *testing.T, step plan.Step, pt plan.Point, n int) quantity.Value {
	t.Helper()
	unit := quantity.Base(step.Capture.Kind)
	lo, hi := 1.0, 2.0
	if pt.Least.Valid() {
		unit, lo, hi = pt.Least.Unit, pt.Least.Unit.FromBase(pt.Least.Float()), pt.Least.Unit.FromBase(pt.Least.Float())+1
	}
	if pt.Most.Valid() {
		hi = pt.Most.Unit.FromBase(pt.Most.Float())
	}
	x := lo + (hi-lo)*(0.5+0.01*float64(n%7))
	v, err := quantity.ParseAs(unit.Kind, fmt.Sprintf("%.4f %s", x, unit.Code))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestEveryShippedPlanComesThrough(t *testing.T) {
	names, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			dir, p := stateOfPlan(t, name)
			if name == "pushrod-twin" {
				unitsOfAnyKind(t, dir)
			}
			out, errs, code := command(dir, "verify", "--json")
			if code != 0 {
				t.Errorf("verify: status %d, %.2000s%s", code, out, errs)
			}
			var rep store.Report
			if err := json.Unmarshal([]byte(out), &rep); err != nil || rep.Results == 0 {
				t.Errorf("verify: %d results, %v", rep.Results, err)
			}
			page, errs, code := command(dir, "sheet", "9", "--format", "html", "--readings")
			if code != 0 {
				t.Fatal(errs)
			}
			page = html.UnescapeString(page)
			for _, step := range p.Steps {
				if !strings.Contains(page, step.Title) {
					t.Errorf("step %q is not on the page", step.Title)
				}
				for _, c := range step.Cautions {
					if !strings.Contains(page, c) {
						t.Errorf("step %s: caution %q is not on the page", step.ID, c)
					}
				}
			}
			table, errs, code := command(dir, "sheet", "9", "--format", "csv", "--units", "mm")
			if code != 0 {
				t.Fatal(errs)
			}
			if _, err := csv.NewReader(strings.NewReader(table)).ReadAll(); err != nil {
				t.Error(err)
			}
			if out, errs, code := command(dir, "sheet", "9", "--format", "json"); code != 0 || !json.Valid([]byte(out)) {
				t.Errorf("json: status %d, %s", code, errs)
			}
			for _, paper := range []string{"a4", "letter"} {
				pdf, errs, code := command(dir, "sheet", "9", "--format", "pdf", "--paper", paper)
				if code != 0 || !strings.HasPrefix(pdf, "%PDF-") {
					t.Errorf("%s: status %d, %s", paper, code, errs)
				}
			}
		})
	}
}

// unitsOfAnyKind asks that a method that serves any kind of quantity gives lengths where lengths were read.
func unitsOfAnyKind(t *testing.T, dir string) {
	t.Helper()
	out, errs, code := command(dir, "sheet", "9", "--format", "json")
	if code != 0 {
		t.Fatal(errs)
	}
	var s sheet.Sheet
	if err := json.Unmarshal([]byte(out), &s); err != nil {
		t.Fatal(err)
	}
	found := 0
	for _, st := range s.Steps {
		for _, p := range st.Passes {
			for _, r := range p.Runs {
				for _, f := range r.Figures {
					if st.Method == "statistics" && f.Name == "greatest" {
						found++
						if f.Kind != p.Readings[0].Kind || f.Kind != quantity.Number && !strings.HasSuffix(f.Shown.MM, " "+calc.UnitName(quantity.Base(f.Kind))) {
							t.Errorf("step %s: the greatest of %s readings is a %s, shown as %q", st.ID, p.Readings[0].Kind, f.Kind, f.Shown.MM)
						}
					}
				}
			}
		}
	}
	if found == 0 {
		t.Error("no step computes statistics")
	}
}
