package pipeline

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// Compute gives the results that an entry brings: those of its own step, then, in plan order, those of every later step
// that uses them. s is the state after the entry. A result is given only where its inputs differ from those in force,
// or where it is no longer, or only now, provisional. Pure.
func Compute(s bench.State, e bench.Entry, inForce bench.Results) []bench.Result {
	b, ok := s.Build(e.Place.Build)
	if !ok || b.Plan == nil {
		return nil
	}
	var out []bench.Result
	changed := map[string]string{} // step → why its dependents are computed again
	for _, step := range b.Plan.Steps {
		because, own := "", false
		switch e.Kind {
		case bench.ReadingTaken, bench.Withdrawn, bench.PassOpened, bench.PassClosed, bench.PassVoid, bench.Answered:
			own = step.ID == e.Place.Step
		case bench.StepEntered:
			own = step.ID == e.Place.Step && len(step.Points) == 0
		case bench.Overridden:
			own, because = uses(b, step, e)
		}
		for up, why := range changed {
			if b.Plan.DependsOn(step, up) {
				own, because = true, why
			}
		}
		if !own || step.Compute == nil {
			continue
		}
		news := computeStep(s, b, step, e, inForce, because)
		for _, r := range news {
			inForce = inForce.With(r)
			// A result that counts now, or one that counted until now: either way the dependents look again.
			if !r.Provisional || r.Was != nil {
				changed[step.ID] = changeWords(step, r)
			}
		}
		out = append(out, news...)
	}
	return out
}

// uses reports whether an override bears on a step's computation.
func uses(b *bench.Build, step plan.Step, e bench.Entry) (bool, string) {
	o := e.Override
	if o == nil {
		return false, ""
	}
	why := fmt.Sprintf("%s %s was overridden: %s", o.What, o.Name, e.Reason)
	if o.What == "limit" {
		id, _, _ := strings.Cut(o.Name, ".")
		return id == step.ID, why
	}
	for _, d := range b.Plan.Uses(step) {
		if o.What == "engine" && d.Name == o.Name {
			return true, why
		}
	}
	return false, ""
}

// changeWords says what a result changed, for those that are computed again because of it.
func changeWords(step plan.Step, r bench.Result) string {
	if r.Was == nil {
		return step.Title + " has a result"
	}
	for _, f := range r.Figures {
		old, ok := r.Was.Figure(f.Name)
		if ok && f.Value != nil && old.Value != nil && math.Abs(*f.Value-*old.Value) > 1e-9 {
			return fmt.Sprintf("%s: %s changed from %s to %s", step.Title, f.Name, old.Shown.MM, f.Shown.MM)
		}
	}
	return step.Title + " changed"
}

// computeStep runs a step's method for every key of the pass that an entry bears on.
func computeStep(s bench.State, b *bench.Build, step plan.Step, e bench.Entry, inForce bench.Results, because string) []bench.Result {
	st := b.Step(step.ID)
	pass := st.Last()
	if step.ID == e.Place.Step && e.Place.Pass > 0 {
		pass = st.Pass(e.Place.Pass)
	}
	if len(step.Points) == 0 {
		// Nothing is read here: the step computes from what others found, and counts at once.
		if !st.Entered {
			return nil
		}
		pass = &bench.Pass{Status: bench.PassIsClosed}
	}
	if pass == nil {
		return nil
	}
	m, ok := calc.Find(step.Compute.Method)
	if !ok {
		return nil
	}
	var out []bench.Result
	for _, key := range b.Plan.Keys(step) {
		slot := bench.Slot{Build: b.Job, Step: step.ID, Pass: pass.Number, Key: key}
		old, had := inForce.Get(slot)
		bd := &binder{state: s, results: inForce, build: b, step: step, pass: pass.Number, key: key, method: m}
		req, err := bd.request()
		r := bench.Result{Build: b.Job, Step: step.ID, Pass: pass.Number, Key: key, N: e.N, At: e.At,
			Provisional: pass.Status != bench.PassIsClosed, Readings: bd.used, Request: req}
		switch {
		case errors.Is(err, errWaiting) && !had:
			continue // nothing to say yet
		case err != nil:
			r.Request = calc.Request{Method: step.Compute.Method}
			r.Result = calc.Result{Method: m.Name, Version: m.Version, Refused: err.Error()}
		case had && old.Refused == "" && r.Provisional == old.Provisional && same(old.Request, req):
			continue
		default:
			r.Result = run(req)
			if r.Refused == "" {
				r.Band = bd.band(req, r.Result)
			}
		}
		if had && old.Provisional == r.Provisional && old.Refused != "" && old.Refused == r.Refused {
			continue
		}
		if had && !old.Provisional {
			was := old.Result
			r.Was, r.Because = &was, because
		}
		out = append(out, r)
	}
	return out
}

// same compares requests as they are stored: a request read back from the ledger is the same as the one just made.
func same(a, b calc.Request) bool {
	x, errX := json.Marshal(a)
	y, errY := json.Marshal(b)
	return errX == nil && errY == nil && bytes.Equal(x, y)
}

// run computes; what cannot be computed at all (a fault of plan or program) is a refused result, so that the reading
// stays and the fault is seen.
func run(req calc.Request) calc.Result {
	res, err := calc.Run(req)
	if err != nil {
		m, _ := calc.Find(req.Method)
		return calc.Result{Method: req.Method, Version: m.Version, Refused: err.Error()}
	}
	return res
}
