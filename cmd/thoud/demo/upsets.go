package demo

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// upset is something that goes wrong in the builder's hands, once.
type upset struct {
	step string
	kind kind
	what string
}

type kind int

const (
	again  kind = iota // measures once more although it is in, and mixes up left and right
	forget             // counts one piece too few out
	away               // the part of the last cylinder is not there yet
)

// upsetsOf lists what goes wrong in a build; of a plan only what it has steps for.
func upsetsOf(p *plan.Plan) []upset {
	var out []upset
	for _, u := range []upset{
		{"deck", again, "left and right mixed up"},
		{"board-clamps", forget, "a mouth cover left in"},
		{"wash-barrels", away, "a barrel that is away"},
	} {
		if step, ok := p.Step(u.step); ok && len(p.Cylinders) == 2 && (u.kind != forget || len(step.Out) > 0) && (u.kind != away || waitsFor(p, step.ID) != "") {
			out = append(out, u)
		}
	}
	return out
}

// upset reports whether something of a kind is to go wrong at a step and is still to come.
func (b *Builder) upset(step plan.Step, k kind) bool {
	return slices.ContainsFunc(b.upsets, func(u upset) bool { return u.step == step.ID && u.kind == k })
}

func (b *Builder) over(step string, k kind, words string) {
	b.upsets = slices.DeleteFunc(b.upsets, func(u upset) bool { return u.step == step && u.kind == k })
	b.caught("%s: %s", b.title(step), words)
}

// title is what a step is called.
func (b *Builder) title(id string) string {
	if s, ok := b.Plan.Step(id); ok {
		return s.Title
	}
	return id
}

// swapped is the point the builder really stands at: while left and right are mixed up, its fellow on the other side.
func (b *Builder) swapped(step plan.Step, point string, pass int) string {
	if pass < 2 || !b.upset(step, again) {
		return point
	}
	for i, c := range b.Plan.Cylinders {
		if rest, ok := strings.CutPrefix(point, c); ok {
			return b.Plan.Cylinders[1-i] + rest
		}
	}
	return point
}

// reply answers what thoud asks: it is right about the two sides; whatever else is odd was looked at and is as read.
func (b *Builder) reply(ctx context.Context, st bench.Status) error {
	q := st.Asked[0]
	b.Say("asked: %s", q.Words)
	b.pause(ctx)
	if a, _, ok := b.Plan.Ask(q.ID); ok { // of the plan: the holes are still to be drilled, the middle keyway is in use
		b.answers[a.ID] = a.Choice[0]
		return b.do(ctx, bench.Verb{Name: bench.DoAnswer, Item: a.ID, Choice: a.Choice[0]})
	}
	choice := "as read"
	if q.Guard == "swap" {
		choice = "read again"
		b.over(st.Step, again, "left and right were mixed up, thoud asked, the pass was read again")
	}
	return b.do(ctx, bench.Verb{Name: bench.DoAnswer, Item: q.ID, Choice: choice})
}

// takeOut counts something out of the engine, and where that is to go wrong first one piece too few.
func (b *Builder) takeOut(ctx context.Context, step plan.Step, t bench.TallyItem) error {
	if b.upset(step, forget) {
		a, err := b.try(ctx, bench.Verb{Name: bench.DoTallyOut, Item: t.Name, Count: t.Count - 1})
		if err != nil {
			return err
		}
		if a.OK {
			return fmt.Errorf("demo: %s counted %d of %d, and thoud was content", t.Name, t.Count-1, t.Count)
		}
		b.Say("thoud: %s", a.Words)
		// And the step after it, with a cover still in?
		next := b.Plan.Steps[b.Plan.Index(step.ID)+1]
		if err := b.do(ctx, bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: next.ID}}); err != nil {
			return err
		}
		held, err := b.try(ctx, bench.Verb{Name: bench.DoConfirm, Item: "all"})
		if err != nil {
			return err
		}
		if held.OK {
			return fmt.Errorf("demo: %s was confirmed with %s still in the engine", next.Title, t.Name)
		}
		b.Say("thoud: %s", held.Words)
		b.over(step.ID, forget, a.Words)
		return b.do(ctx, bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: step.ID}})
	}
	return b.do(ctx, bench.Verb{Name: bench.DoTallyOut, Item: t.Name, Count: t.Count})
}
