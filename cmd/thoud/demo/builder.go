// Package demo is a fictional workshop: an engine with a known geometry, gauges that speak on real pseudo-terminals, and
// a builder who does what thoud tells, with human error. It knows thoud only through its socket, as any command does.
package demo

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/devices/simulate"
)

// Asker is a running service, asked by command or by hands on its page.
type Asker interface {
	Do(ctx context.Context, v bench.Verb) (bench.Answer, error)
	Status(ctx context.Context) (bench.Status, error)
}

// Builder works through a plan: he confirms, rests the gauge where thoud says, presses its key or the pedal, moves what
// thoud tells him to move, never quite as far as told, counts what goes in and comes out, and signs.
type Builder struct {
	Service Asker
	Plan    *plan.Plan // the paper on the bench
	Engine  *Engine
	Gauges  map[string]*Hand // by role
	Pedal   *simulate.Gauge
	Pace    time.Duration // between two movements of the hand
	Care    float64       // of the hand: its scatter over what the plan states
	Say     func(format string, args ...any)
	// OnPage: he works on the page, where all pieces of a thing are counted out with one press, so none is forgotten there.
	OnPage bool
	// Wait lets time pass at the bench, until what cures has cured; nil where nothing does.
	Wait func(time.Duration)
	// Closed is told of every pass as it is closed, before anything is moved; nil for nobody.
	Closed func(step plan.Step, results []bench.Result)
	// Caught is what thoud kept from going wrong.
	Caught []string

	by     string
	n      uint64 // the last entry he caused
	upsets []upset
	seen   map[string]bool    // steps whose cautions were read, results that were looked at
	stood  map[string]float64 // where parts stood when they were last read

	answers map[string]string // what he answered to the plan's questions
	missing absent            // a part that is away
	passes  int
	moved   string // the pass after which the part was moved as told
}

// patience is how long the builder waits for thoud to answer to a key.
const patience = 20 * time.Second

// enoughPasses is how often a step that is too close to call is measured before the builder decides for himself, with a
// reason.
const enoughPasses = 10

// mostPasses is how often a step is measured before the builder gives up.
const mostPasses = 25

// initials of the fictional builder.
const initials = "JW"

// Work goes through the build until its last step is done.
func (b *Builder) Work(ctx context.Context) error {
	b.by, b.seen, b.stood, b.answers = "demo", map[string]bool{}, map[string]float64{}, map[string]string{}
	b.upsets = slices.DeleteFunc(upsetsOf(b.Plan), func(u upset) bool { return b.OnPage && u.kind == forget })
	stuck, far := time.Now(), newProgress(b.Plan, time.Now())
	for last := (bench.Status{}); ; {
		if err := ctx.Err(); err != nil {
			return err
		}
		st, err := b.Service.Status(ctx)
		if err != nil {
			return err
		}
		if st.N < b.n {
			time.Sleep(time.Millisecond) // what he last did is not in the ledger yet
			continue
		}
		if st.N != last.N || st.Place != last.Place || len(st.Results) != len(last.Results) {
			stuck = time.Now()
		} else if time.Since(stuck) > patience {
			return fmt.Errorf("demo: nothing moves any more at %s (%s, pass %s; it waits for: %s %s): %s", st.Place, st.Progress, st.PassIs, st.Now, waitedFor(st).Name, st.Hinders)
		}
		last = st
		if line := far.at(st, time.Now()); line != "" {
			b.Say("%s", line)
		}
		done, err := b.once(ctx, st)
		if err != nil {
			return fmt.Errorf("at %s: %w", st.Place, err)
		}
		if done {
			return b.end()
		}
	}
}

// end tells whether everything that was meant to go wrong was caught.
func (b *Builder) end() error {
	for _, u := range b.upsets {
		return fmt.Errorf("demo: %s went through unseen at %s", u.what, u.step)
	}
	return nil
}

// once does the next thing that the status asks for.
func (b *Builder) once(ctx context.Context, st bench.Status) (done bool, err error) {
	step, ok := b.Plan.Step(st.Step)
	if !ok {
		b.pause(ctx)
		return false, nil
	}
	if did, err := b.prepare(ctx, step, st); did || err != nil {
		return false, err
	}
	if did, err := b.without(ctx, step, st); did || err != nil {
		return false, err
	}
	measured := len(step.Points) == 0 || st.PassIs == bench.PassIsClosed
	switch {
	case measured && (st.Progress == bench.Done || st.Progress == bench.SignedOff):
		return b.leave(ctx, step, st)
	case measured && (st.Progress == bench.Measured || st.Now == bench.NowMove) && b.moved != passOf(st): // a later pass may be wanted before all is confirmed
		return false, b.mend(ctx, step, st)
	case measured && b.moved != passOf(st), st.PassIs == bench.PassIsFull && st.Place.Point == "":
		time.Sleep(time.Millisecond) // the end of the pass, or its result, is on its way
		return false, nil
	case st.Reading != nil && st.Reading.Lacks == bench.LacksResult:
		time.Sleep(time.Millisecond) // whether a first point is in is on its way
		return false, nil
	}
	return false, b.measure(ctx, step, st)
}

// prepare does what comes before and after the readings, as the bench waits for it and as its page shows it: it reads
// cautions, confirms, answers, puts in what goes in and takes out what must come out.
func (b *Builder) prepare(ctx context.Context, step plan.Step, st bench.Status) (did bool, err error) {
	if c, holds := b.cure(step, st); holds {
		b.Say("%s; so he waits %.0f minutes", st.Hinders, c.Time.Minutes())
		b.Wait(c.Time)
		return true, nil
	}
	switch first := waitedFor(st); {
	case st.Now == bench.NowCaution:
		return true, b.do(ctx, bench.Verb{Name: bench.DoAcknowledge})
	case st.Now == bench.NowData, st.Now == bench.NowConfirm:
		b.pause(ctx)
		return true, b.do(ctx, bench.Verb{Name: bench.DoConfirm, Item: together(step, st.Confirm)})
	case len(st.Asked) > 0:
		return true, b.reply(ctx, st)
	case st.Now == bench.NowItemIn:
		return true, b.do(ctx, bench.Verb{Name: bench.DoTallyIn, Item: first.Item})
	case st.Now == bench.NowItemOut:
		for _, t := range st.Inside {
			if t.Name == first.Item {
				return true, b.takeOut(ctx, step, t)
			}
		}
	}
	return false, nil
}

// waitedFor is the verb that the bench waits for.
func waitedFor(st bench.Status) bench.Verb {
	if len(st.Offers) > 0 && st.Offers[0].Primary {
		return st.Offers[0].Verb
	}
	return bench.Verb{}
}

// cure is a time that is not over and holds this step.
func (b *Builder) cure(step plan.Step, st bench.Status) (c plan.Cure, holds bool) {
	if b.Wait == nil || !strings.Contains(st.Hinders, "is not over") {
		return c, false
	}
	for _, s := range b.Plan.Steps {
		for _, c := range s.Cures {
			if strings.HasPrefix(st.Hinders, c.Words()+" of ") && slices.Contains(c.Holds, step.ID) {
				return c, true
			}
		}
	}
	return c, false
}

// together is what is confirmed next: all that one press confirms, or what is asked singly.
func together(step plan.Step, open []string) string {
	for _, id := range open {
		if !slices.ContainsFunc(step.Confirms, func(c plan.Confirm) bool { return c.ID == id && c.Alone }) {
			return "all"
		}
	}
	return open[0]
}

// leave looks at what a finished step found, does what is to be done with it, signs a hold point and goes on.
func (b *Builder) leave(ctx context.Context, step plan.Step, st bench.Status) (done bool, err error) {
	if b.look(step, st); b.upset(step, again) {
		b.Say("once more, to be sure")
		return false, b.do(ctx, bench.Verb{Name: bench.DoAgain})
	}
	if part := b.Engine.Part(step); part != nil && part.Then != nil && step.Again == "" && !b.seen["then "+step.ID] {
		b.seen["then "+step.ID] = true
		for _, r := range st.Results {
			part.Then(b.Engine.At(step, r.Key, st.Pass), r)
		}
	}
	if step.Hold && st.Progress != bench.SignedOff {
		return false, b.do(ctx, bench.Verb{Name: bench.DoSign, Initials: initials})
	}
	if st.StepNo == st.Steps {
		return true, nil
	}
	for _, l := range step.Loose {
		b.Say("left loose: %s", l.Name)
	}
	b.passes = 0
	return false, b.do(ctx, bench.Verb{Name: bench.DoNext})
}

// mend does what thoud tells after a pass that is not in, and asks for the next one.
func (b *Builder) mend(ctx context.Context, step plan.Step, st bench.Status) error {
	b.look(step, st)
	if b.passes++; b.passes > mostPasses {
		return fmt.Errorf("demo: %s is still %s after %d passes", step.Title, st.Verdict, b.passes)
	}
	if b.passes > enoughPasses && st.Verdict == calc.VerdictTooClose {
		return b.do(ctx, bench.Verb{Name: bench.DoOverride, Override: &bench.Override{What: "verdict", Name: step.ID},
			Reason: fmt.Sprintf("measured %d times, every time near the limit: taken as it is, JW", b.passes)})
	}
	part, results := b.Engine.Part(step), st.Results
	if part == nil || len(step.Points) == 0 {
		return fmt.Errorf("demo: %s is %s, and nothing can be moved there", step.Title, st.Verdict)
	}
	if part.Consult != "" {
		var err error
		if results, err = b.consult(ctx, step, part.Consult); err != nil {
			return err
		}
	}
	if part.Move != nil {
		for _, r := range results {
			if r.Verdict != calc.VerdictIn || part.Consult != "" || part.Tells != nil {
				part.Move(b.Engine.At(step, r.Key, st.Pass), r)
			}
		}
	}
	if part.Tells != nil {
		for _, r := range results {
			v := part.Tells(b.Engine.At(step, r.Key, st.Pass), r)
			if v == nil || b.answers[v.Item] == v.Choice {
				continue
			}
			v.Reason = "the wheel was moved as told"
			b.answers[v.Item] = v.Choice
			if err := b.do(ctx, *v); err != nil {
				return err
			}
		}
	}
	b.pause(ctx)
	if b.OnPage { // the next reading opens the pass that it belongs to
		b.moved = passOf(st)
		return nil
	}
	return b.do(ctx, bench.Verb{Name: bench.DoAgain})
}

// passOf names the pass of a step.
func passOf(st bench.Status) string { return fmt.Sprintf("%s/%s/%d", st.Job, st.Step, st.Pass) }

// consult goes to another step for what it says, and comes back.
func (b *Builder) consult(ctx context.Context, from plan.Step, step string) ([]bench.Result, error) {
	if err := b.do(ctx, bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: step}}); err != nil {
		return nil, err
	}
	_, cylinder := b.Engine.written(from)
	st, err := b.wait(ctx, func(st bench.Status) bool {
		for _, r := range st.Results {
			if r.Refused == "" && (cylinder == "" || r.Key == cylinder) {
				return st.Step == step
			}
		}
		return false
	})
	if err != nil {
		return nil, err
	}
	var out []bench.Result
	for _, r := range st.Results {
		if r.Refused == "" && (cylinder == "" || r.Key == cylinder) {
			out = append(out, r)
		}
	}
	b.report(step, out)
	b.pause(ctx)
	return out, b.do(ctx, bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: from.ID}})
}

// wait asks until something is so.
func (b *Builder) wait(ctx context.Context, so func(bench.Status) bool) (bench.Status, error) {
	for end := time.Now().Add(patience); ; {
		st, err := b.Service.Status(ctx)
		if err != nil {
			return st, err
		}
		if st.N >= b.n && so(st) {
			return st, nil
		}
		if time.Now().After(end) {
			return st, fmt.Errorf("demo: waited in vain at %s", st.Place)
		}
		time.Sleep(time.Millisecond)
	}
}

func (b *Builder) do(ctx context.Context, v bench.Verb) error {
	a, err := b.try(ctx, v)
	if err == nil && !a.OK {
		err = fmt.Errorf("demo: thoud refused %s: %s", v.Name, a.Words)
	}
	return err
}

// try asks, and leaves it to the caller what a refusal means.
func (b *Builder) try(ctx context.Context, v bench.Verb) (bench.Answer, error) {
	v.ID, v.By = uuid.NewString(), b.by
	a, err := b.Service.Do(ctx, v)
	if err != nil {
		return a, err
	}
	b.n = max(b.n, a.N)
	if a.OK && a.Words != "" {
		b.Say("%s", a.Words)
	}
	return a, nil
}

func (b *Builder) pause(ctx context.Context) {
	if b.Pace == 0 {
		return
	}
	select {
	case <-ctx.Done():
	case <-time.After(b.Pace):
	}
}

// look says what thoud found in a closed pass, once.
func (b *Builder) look(step plan.Step, st bench.Status) {
	key := fmt.Sprintf("look %s/%d", step.ID, st.Pass)
	if b.seen[key] {
		return
	}
	b.seen[key] = true
	b.report(step.ID, st.Results)
	for _, r := range st.Results {
		if close := "close " + step.ID + " " + r.Key; r.Verdict == calc.VerdictTooClose && !b.seen[close] {
			b.seen[close] = true
			b.caught("%s was too close to call and was decided by another pass", strings.Join(slices.DeleteFunc([]string{step.Title, plan.RunName(r.Key)}, func(s string) bool { return s == "" }), ", "))
		}
	}
	if b.Closed != nil {
		b.Closed(step, st.Results)
	}
}

// report says what thoud found, as the screen shows it.
func (b *Builder) report(step string, results []bench.Result) {
	for _, r := range results {
		if r.Refused != "" {
			b.Say("  %s %s: no answer: %s", step, r.Key, r.Refused)
			continue
		}
		for _, a := range r.Orders() {
			b.Say("  %s %s", r.Key, a.Words.Inch)
		}
		if r.Verdict != calc.NoVerdict {
			b.Say("  %s verdict: %s", r.Key, r.Verdict)
		}
	}
}

func (b *Builder) caught(format string, args ...any) {
	b.Caught = append(b.Caught, fmt.Sprintf(format, args...))
}

// Print makes a Say that writes lines.
func Print(w io.Writer) func(string, ...any) {
	return func(format string, args ...any) { fmt.Fprintf(w, format+"\n", args...) }
}
