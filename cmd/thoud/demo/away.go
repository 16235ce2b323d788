package demo

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// absent is a part that is away: the step that wants it, and the one that the builder goes on with meanwhile on the other side.
type absent struct {
	from, meanwhile, cylinder string
}

// waitsFor is the first step that wants, of one cylinder, what was done of the same in another step; "" where none does.
func waitsFor(p *plan.Plan, step string) string {
	for _, s := range p.Steps {
		if slices.ContainsFunc(s.Sides, func(n plan.SideNeed) bool { return n.Step == step }) {
			return s.ID
		}
	}
	return ""
}

// without works on while a part is away: one side is read, the datum after it, and the step that waits for that side is
// begun; the other side is refused there until its part is back and read.
func (b *Builder) without(ctx context.Context, step plan.Step, st bench.Status) (did bool, err error) {
	switch {
	case b.missing.from == "" && b.upset(step, away) && st.PassIs != bench.PassIsClosed:
		last := b.Plan.Cylinders[len(b.Plan.Cylinders)-1]
		if !strings.HasPrefix(st.Place.Point, last+".") || st.Zero != "" {
			return false, nil
		}
		b.missing = absent{from: step.ID, meanwhile: waitsFor(b.Plan, step.ID), cylinder: last}
		b.Say("the %s part is away; the other side goes on", last)
		return true, b.goTo(ctx, step.ID, bench.DatumPoint)
	case b.missing.from == step.ID && st.PassIs == bench.PassIsOpen && b.side(st.Place.Point):
		if len(st.Confirm) > 0 { // of the side that is here
			return true, b.do(ctx, bench.Verb{Name: bench.DoConfirm, Item: together(step, st.Confirm)})
		}
		return true, b.goTo(ctx, b.missing.meanwhile, "") // its side is read and the datum after it
	case b.missing.meanwhile == step.ID && st.PassIs != bench.PassIsClosed:
		return b.halfDone(ctx, step, st)
	}
	return false, nil
}

// side reports whether a point belongs to the part that is away.
func (b *Builder) side(point string) bool { return strings.HasPrefix(point, b.missing.cylinder+".") }

// halfDone reads what one side wants, and comes back for the other.
func (b *Builder) halfDone(ctx context.Context, step plan.Step, st bench.Status) (did bool, err error) {
	if st.Reading != nil && st.Reading.Lacks == bench.LacksResult {
		time.Sleep(time.Millisecond) // whether a first point is in is on its way, and the next one waits for it
		return true, nil
	}
	if firstAgain(st) {
		return false, nil // it was out, and is read again before the next one
	}
	for _, p := range st.Points {
		if p.Value == "" && !b.side(p.Point) {
			if b.side(nextPlace(st).Point) {
				return true, b.goTo(ctx, step.ID, p.Point)
			}
			return false, nil // it is measured as usual
		}
	}
	held, err := b.try(ctx, bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: step.ID, Point: b.missing.cylinder + firstOfSide(step, b.missing.cylinder)}})
	if err != nil {
		return false, err
	}
	if held.OK {
		return false, fmt.Errorf("demo: %s goes on without the %s part", step.Title, b.missing.cylinder)
	}
	b.Say("thoud: %s", held.Words)
	b.over(b.missing.from, away, fmt.Sprintf("the %s part was away; the other side went on, and %s", b.missing.cylinder, held.Words))
	from := b.missing.from
	b.missing = absent{}
	b.Say("the part is back")
	return true, b.goTo(ctx, from, "")
}

// firstOfSide is what is left of the first point of a cylinder without its name.
func firstOfSide(step plan.Step, cylinder string) string {
	for _, p := range step.Points {
		if rest, ok := strings.CutPrefix(p.ID, cylinder); ok {
			return rest
		}
	}
	return ""
}

func (b *Builder) goTo(ctx context.Context, step, point string) error {
	return b.do(ctx, bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: step, Point: point}})
}
