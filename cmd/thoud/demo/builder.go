// Package demo is a fictional workshop: an engine with a known geometry, gauges that speak on real pseudo-terminals, and
// a builder who does what thoud tells, with human error. It knows thoud only through its socket, as any command does.
package demo

import (
	"context"
	"fmt"
	"io"
	"math"
	"time"

	"github.com/google/uuid"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/devices/simulate"
)

// Asker is a running service.
type Asker interface {
	Do(ctx context.Context, v bench.Verb) (bench.Answer, error)
	Status(ctx context.Context) (bench.Status, error)
}

// Builder works through a plan: he rests the gauge where thoud says, presses its key, and moves what thoud tells him to
// move, never quite as far as told.
type Builder struct {
	Service Asker
	Engine  *Engine
	Gauges  map[string]*Hand // by role
	Pace    time.Duration    // between two movements of the hand
	Say     func(format string, args ...any)

	by string
	n  uint64 // the last entry he caused
}

// Hand is a gauge in the builder's hand: what it shows is where it stands on its datum plus what is measured.
type Hand struct {
	Name string
	*simulate.Gauge
	Rest quantity.Value // what it shows on the datum, before any zero
}

// patience is how long the builder waits for thoud to answer to a key.
const patience = 20 * time.Second

// Work goes through the build until its last step is done.
func (b *Builder) Work(ctx context.Context) error {
	b.by = "demo"
	stuck := 0
	for last := (bench.Status{}); ; {
		st, err := b.Service.Status(ctx)
		if err != nil {
			return err
		}
		if st.N < b.n {
			time.Sleep(5 * time.Millisecond) // what he last did is not in the ledger yet
			continue
		}
		if st.N == last.N && st.Place == last.Place {
			if stuck++; stuck > 400 {
				return fmt.Errorf("demo: nothing moves any more at %s: %s", st.Place, st.Hinders)
			}
		} else {
			stuck = 0
		}
		last = st
		done, err := b.once(ctx, st)
		if done || err != nil {
			return err
		}
	}
}

// once does the next thing that the status asks for.
func (b *Builder) once(ctx context.Context, st bench.Status) (done bool, err error) {
	switch {
	case st.Step == "":
		b.pause(ctx)
		return false, nil
	case len(st.Confirm) > 0:
		b.Say("confirming %d values: %s", len(st.Confirm), st.Title)
		return false, b.do(ctx, bench.Verb{Name: bench.DoConfirm, Item: "all"})
	case st.PassIs == bench.PassIsClosed && st.Progress == bench.Done:
		b.report(st)
		if st.StepNo == st.Steps {
			return true, nil
		}
		return false, b.do(ctx, bench.Verb{Name: bench.DoNext})
	case st.PassIs == bench.PassIsClosed && st.Progress == bench.Measured:
		b.report(st)
		for _, r := range st.Results {
			b.Engine.Move(st.Step, r)
		}
		b.pause(ctx)
		return false, b.do(ctx, bench.Verb{Name: bench.DoAgain})
	case st.PassIs == bench.PassIsClosed:
		b.pause(ctx) // the result is on its way
		return false, nil
	}
	return false, b.measure(ctx, st)
}

// measure rests the gauge on the datum or on the point at hand and presses.
func (b *Builder) measure(ctx context.Context, st bench.Status) error {
	part := b.Engine.Part(st.Step)
	if part == nil {
		return fmt.Errorf("demo: the workshop has nothing to measure at step %s", st.Step)
	}
	hand, ok := b.Gauges[part.Role]
	if !ok {
		return fmt.Errorf("demo: the workshop has no %s", part.Role)
	}
	if st.Zero != "" {
		b.Say("%s", st.Zero)
		if err := b.rest(ctx, hand, 0); err != nil {
			return err
		}
		return b.do(ctx, bench.Verb{Name: bench.DoZero, Gauge: hand.Name})
	}
	point := st.Place.Point
	if point == "" {
		point = firstMissing(st)
	}
	at := 0.0
	if point != bench.DatumPoint {
		at = part.Shows(point)
	}
	if err := b.rest(ctx, hand, at); err != nil {
		return err
	}
	return b.do(ctx, bench.Verb{Name: bench.DoTake, Gauge: hand.Name})
}

func firstMissing(st bench.Status) string {
	for _, p := range st.Points {
		if p.Value == "" {
			return p.Point
		}
	}
	return ""
}

// rest puts the gauge where it reads mm more than on its datum, and waits until thoud has seen it there.
func (b *Builder) rest(ctx context.Context, h *Hand, mm float64) error {
	v := h.Rest
	v.N += int64(mm * quantity.PerMillimetre)
	h.Set(v)
	b.pause(ctx)
	return b.seen(ctx, h)
}

// seen waits until thoud shows the gauge where the hand has put it, within its noise.
func (b *Builder) seen(ctx context.Context, h *Hand) error {
	for end := time.Now().Add(patience); time.Now().Before(end) && ctx.Err() == nil; {
		st, err := b.Service.Status(ctx)
		if err != nil {
			return err
		}
		want := h.Shown()
		for _, g := range st.Gauges {
			if g.Name == h.Name && g.Open && g.Raw.Valid() && math.Abs(g.Raw.Float()-want.Float()) <= 3*want.Resolution() {
				return nil
			}
		}
		time.Sleep(15 * time.Millisecond)
	}
	return fmt.Errorf("demo: thoud does not see %s at %s", h.Name, h.Shown())
}

func (b *Builder) do(ctx context.Context, v bench.Verb) error {
	v.ID, v.By = uuid.NewString(), b.by
	a, err := b.Service.Do(ctx, v)
	if err != nil {
		return err
	}
	if !a.OK {
		return fmt.Errorf("demo: thoud refused %s: %s", v.Name, a.Words)
	}
	b.n = max(b.n, a.N)
	if a.Words != "" {
		b.Say("%s", a.Words)
	}
	return nil
}

func (b *Builder) pause(ctx context.Context) {
	select {
	case <-ctx.Done():
	case <-time.After(max(b.Pace, 5*time.Millisecond)):
	}
}

// report says what thoud found, as the screen shows it.
func (b *Builder) report(st bench.Status) {
	for _, r := range st.Results {
		if r.Refused != "" {
			b.Say("  %s: no answer: %s", r.Key, r.Refused)
			continue
		}
		for _, a := range r.Adjustment {
			b.Say("  %s %s", r.Key, a.Words.Inch)
		}
		if r.Verdict != calc.NoVerdict {
			b.Say("  %s verdict: %s", r.Key, r.Verdict)
		}
	}
}

// Print makes a Say that writes lines.
func Print(w io.Writer) func(string, ...any) {
	return func(format string, args ...any) { fmt.Fprintf(w, format+"\n", args...) }
}
