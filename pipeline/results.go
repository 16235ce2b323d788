package pipeline

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"math"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// Compute gives the results that an entry brings: those of its own step, then, in plan order, those of every later step
// that uses them. s is the state after the entry. A result is given only where its inputs differ from those in force,
// or where it is no longer, or only now, provisional. Pure.
func Compute(s bench.State, e bench.Entry, inForce bench.Results) []bench.Result {
	return ComputeWith(s, e, inForce, nil)
}

// Run answers a result's request; a nil one computes it.
type Run func(r bench.Result) calc.Result

// ComputeWith is Compute with the requests answered otherwise: verify answers them with what is stored, to see whether
// the same would have been asked. Nothing is reckoned of such an answer then, no band either.
func ComputeWith(s bench.State, e bench.Entry, inForce bench.Results, answer Run) []bench.Result {
	if e.Kind == bench.EngineValues {
		var out []bench.Result
		for _, b := range s.OpenBuildsOf(bench.EngineOf(e)) {
			out = append(out, computeBuild(s, b, e, inForce, answer)...)
		}
		return out
	}
	b, ok := s.Build(e.Place.Build)
	if !ok || b.Plan == nil {
		return nil
	}
	return computeBuild(s, b, e, inForce, answer)
}

// computeBuild gives the results that an entry brings to one build.
func computeBuild(s bench.State, b *bench.Build, e bench.Entry, inForce bench.Results, answer Run) []bench.Result {
	var out []bench.Result
	changed := map[string]string{} // step → why its dependents are computed again
	for i := range b.Plan.Steps {
		step := &b.Plan.Steps[i] // large, and most have nothing to do with the entry
		because, own := "", false
		switch e.Kind {
		case bench.ReadingTaken, bench.Withdrawn, bench.PassOpened, bench.PassClosed, bench.PassVoid, bench.Answered:
			own = step.ID == e.Place.Step
			if e.Kind == bench.Answered && e.Item != "" {
				// The plan stands otherwise from here on; what was worked on looks again.
				own, because = b.Step(step.ID).Entered, fmt.Sprintf("%s was answered %q", e.Item, e.Choice)
			}
		case bench.StepEntered:
			own = step.ID == e.Place.Step && (len(step.Points) == 0 || len(b.Plan.RunsBefore(*step)) > 0)
		case bench.Overridden:
			own, because = uses(b, *step, e)
		case bench.PlanChanged:
			own, because = true, "the plan was changed: "+e.Reason
		case bench.EngineValues:
			own, because = usesValues(b, *step, e)
		}
		for up, why := range changed {
			if b.Plan.DependsOn(*step, up) {
				own, because = true, why
			}
		}
		if !own {
			continue
		}
		var news []bench.Result
		news, inForce = computeStep(s, b, *step, e, inForce, because, answer)
		for _, r := range news {
			// A result that counts now, or one that counted until now: either way the dependents look again.
			if !r.Provisional || r.Was != nil {
				changed[step.ID] = changeWords(*step, r)
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
	if o.What == bench.OverSetup {
		return o.Name == step.ID, why
	}
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

// usesValues reports whether values kept in the engine's record bear on a step's computation.
func usesValues(b *bench.Build, step plan.Step, e bench.Entry) (bool, string) {
	for _, d := range b.Plan.Uses(step) {
		for _, v := range e.Engine.Values {
			if v.Name == d.Name {
				now, _ := b.Datum(d.Name)
				return true, fmt.Sprintf("%s is %s now, in the engine's record", lower(d.Title), now.Words())
			}
		}
	}
	return false, ""
}

// lower begins a title small, within a sentence.
func lower(title string) string {
	r, n := utf8.DecodeRuneInString(title)
	return string(unicode.ToLower(r)) + title[n:]
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

// computeStep runs a step's computations for every key of the pass that an entry bears on, and those that are told before
// its first reading. It gives the results in force after them too.
func computeStep(s bench.State, b *bench.Build, step plan.Step, e bench.Entry, inForce bench.Results, because string, answer Run) (out []bench.Result, after bench.Results) {
	work := func(runs []plan.Run, pass *bench.Pass) {
		for _, run := range runs {
			bd := &binder{state: s, results: inForce, build: b, step: step, pass: pass.Number, run: run, key: run.Own, answer: answer}
			if r, news := bd.result(e, pass.Status != bench.PassIsClosed, because); news {
				inForce = inForce.With(r) // the next of the step's computations may take figures of this one
				out = append(out, r)
			}
		}
	}
	told := &bench.Pass{Status: bench.PassIsClosed} // what needs no reading counts at once
	if b.Step(step.ID).Entered && (e.Kind == bench.StepEntered || because != "") {
		work(b.Plan.RunsBefore(step), told)
	}
	if len(step.Points) == 0 {
		if b.Step(step.ID).Entered {
			work(b.Plan.Runs(step), told)
		}
		return out, inForce
	}
	if e.Kind == bench.StepEntered {
		return out, inForce
	}
	for _, pass := range passesOf(b.Step(step.ID), step, e) {
		work(b.Plan.RunsAt(step, pass.Number), pass)
	}
	return out, inForce
}

// passesOf are the passes that an entry bears on. A value of the engine's record bears on the one in force and on a newer
// one that is still being read.
func passesOf(st *bench.StepState, step plan.Step, e bench.Entry) []*bench.Pass {
	var out []*bench.Pass
	last := passOf(st, step, e)
	if force := st.InForce(); e.Kind == bench.EngineValues && force != nil && force != last {
		out = append(out, force)
	}
	if last != nil {
		out = append(out, last)
	}
	return out
}

// passOf is the pass that an entry bears on: its own, or the step's last.
func passOf(st *bench.StepState, step plan.Step, e bench.Entry) *bench.Pass {
	if step.ID == e.Place.Step && e.Place.Pass > 0 {
		return st.Pass(e.Place.Pass)
	}
	return st.Last()
}

// result computes one run; news is false where nothing can be said yet, or nothing is new.
func (b *binder) result(e bench.Entry, provisional bool, because string) (r bench.Result, news bool) {
	m, ok := calc.Find(b.run.Compute.Method)
	if !ok {
		return r, false
	}
	b.method = m
	old, had := b.results.Get(bench.Slot{Build: b.build.Job, Step: b.step.ID, Pass: b.pass, Key: b.run.Key})
	req, err := b.request()
	var sum [sha256.Size]byte
	if err == nil {
		sum, err = asked(req)
	}
	r = bench.Result{Build: b.build.Job, Step: b.step.ID, Pass: b.pass, Key: b.run.Key, N: e.N, At: e.At,
		Provisional: provisional, Readings: b.used, Request: req, Rules: bench.Rules, Asked: sum}
	switch {
	case errors.Is(err, errWaiting) && !had:
		return r, false // nothing to say yet
	case err != nil:
		r.Request = calc.Request{Method: m.Name}
		r.Asked, _ = asked(r.Request) // a name is always storable
		r.Result = calc.Result{Method: m.Name, Version: m.Version, Refused: err.Error()}
	case had && old.Refused == "" && r.Provisional == old.Provisional && old.Asked == sum:
		return r, false
	case b.answer != nil:
		r.Result = b.answer(r)
	default:
		r.Result = run(req)
		if r.Refused == "" {
			r.Band = b.band(req, r.Result)
		}
	}
	if had && old.Provisional == r.Provisional && old.Refused != "" && old.Refused == r.Refused {
		return r, false
	}
	if had && !old.Provisional {
		was := old.Result
		r.Was, r.Because = &was, because
	}
	return r, true
}

// rooms are where requests are written to be summed up.
var rooms = sync.Pool{New: func() any { return new([]byte) }}

// asked names a request by the SHA-256 of how it is stored: one read back from the ledger has the same as the one just
// made. A request with a number that cannot be stored (no number, or without end) is an error: kept waiting for ever, it
// would hold up every entry behind it.
func asked(req calc.Request) ([sha256.Size]byte, error) {
	room := rooms.Get().(*[]byte)
	defer rooms.Put(room)
	b, err := req.AppendJSON((*room)[:0])
	*room = b
	if err != nil {
		return [sha256.Size]byte{}, fmt.Errorf("an input of %s cannot be stored: %w", req.Method, err)
	}
	return sha256.Sum256(b), nil
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
