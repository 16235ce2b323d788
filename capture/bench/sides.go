package bench

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"thoud/capture/plan"
)

// DoneFor reports whether a step is done for one cylinder, whatever is still missing of the others: its points are read,
// nothing is asked about them, what is computed of them alone is in, and its confirmations are made. Where the step reads
// its datum again at the end, the datum was read after them and has not wandered.
func DoneFor(b *Build, step plan.Step, cylinder string, results Results) bool {
	switch ProgressOf(b, step, results) {
	case Done, SignedOff:
		return true
	case Stale, Untouched:
		return false
	}
	st := b.Step(step.ID)
	for _, c := range step.Confirms {
		if _, ok := st.Confirmed[c.ID]; !ok && (c.Cylinder == "" || c.Cylinder == cylinder) {
			return false
		}
	}
	if len(step.Points) == 0 {
		return true
	}
	p := st.Last()
	if p == nil || !readFor(b, step, p, cylinder) {
		return false
	}
	for _, run := range b.Plan.RunsAt(step, p.Number) {
		if b.Plan.Side(step, run) != cylinder {
			continue
		}
		r, ok := results.Get(Slot{b.Job, step.ID, p.Number, run.Key})
		if !ok || (r.Refused != "" || leavesWork(r.Verdict)) && !b.PassedOver(step.ID) {
			return false
		}
	}
	return true
}

// readFor reports whether everything of a cylinder is read in a pass and vouched for.
func readFor(b *Build, step plan.Step, p *Pass, cylinder string) bool {
	st := b.Step(step.ID)
	newest := uint64(0)
	for _, pt := range step.Points {
		if pt.Cylinder != cylinder {
			continue
		}
		if pt.FromPass > p.Number {
			return false // a later pass asks for more of it
		}
		taken := st.StandingAt(p.Number, pt, step.Seatings)
		if len(taken) < max(step.Seatings, 1) {
			return false
		}
		for _, r := range taken {
			newest = max(newest, r.N)
			if slices.ContainsFunc(st.Questions, func(q Open) bool { return q.Reading == r.ID }) {
				return false
			}
		}
	}
	return p.Status == PassIsClosed || step.Datum == nil || !step.Datum.Close || datumStands(b, step, p, newest)
}

// datumStands reports whether the datum of an open pass was read after an entry and the zero had not moved.
func datumStands(b *Build, step plan.Step, p *Pass, newest uint64) bool {
	rest, ok := p.Standing(DatumPoint, 1)
	if !ok || rest.N < newest {
		return false
	}
	drift, err := rest.Value.Sub(DatumSize(b, step))
	return err == nil && math.Abs(drift.Float()) <= AllowedDrift(step, rest.Raw).Float()
}

// PassFor is the pass of a step that counts for one cylinder: the last closed one, or the one that is being read where
// all of that cylinder is read and in already. nil where there is none.
func PassFor(b *Build, step plan.Step, cylinder string, results Results) *Pass {
	st := b.Step(step.ID)
	if last := st.Last(); cylinder != "" && last != nil && last.Status != PassIsClosed && DoneFor(b, step, cylinder, results) {
		return last
	}
	return st.InForce()
}

// waitsFor lists, in words, what a step, or its points of one cylinder, wait for.
func waitsFor(b *Build, needs []plan.SideNeed, results Results) []string {
	var out []string
	for _, n := range needs {
		s, ok := b.Plan.Step(n.Step)
		if !ok || DoneFor(b, s, n.Cylinder, results) {
			continue
		}
		words := fmt.Sprintf("%s, %s (%s)", s.Title, n.Cylinder, ProgressOf(b, s, results))
		if s.Cylinder == n.Cylinder {
			words = fmt.Sprintf("%s (%s)", s.Title, ProgressOf(b, s, results)) // its title names the cylinder
		}
		out = append(out, words)
	}
	return out
}

// HeldUp says why the points of one cylinder may not be read yet, "" where they may. Whoever passes over what a step
// needs passes over this too.
func HeldUp(b *Build, step plan.Step, cylinder string, results Results) string {
	if cylinder == "" || len(step.Sides) == 0 || b.overridden(OverNeeds, step.ID) {
		return ""
	}
	waits := waitsFor(b, step.SidesOf(cylinder), results)
	if len(waits) == 0 {
		return ""
	}
	return fmt.Sprintf("%s waits: first %s", cylinder, strings.Join(waits, ", "))
}

// heldSides lists, in words, the cylinders of a step that are held up; all is set where no point of it is free.
func heldSides(b *Build, step plan.Step, results Results) (held []string, all bool) {
	if len(step.Sides) == 0 {
		return nil, false
	}
	seen := map[string]string{}
	all = len(step.Points) > 0
	for _, pt := range step.Points {
		why, known := seen[pt.Cylinder]
		if !known {
			why = HeldUp(b, step, pt.Cylinder, results)
			if seen[pt.Cylinder] = why; why != "" {
				held = append(held, why)
			}
		}
		all = all && why != ""
	}
	return held, all
}

// free moves the place on to the next missing point whose cylinder is not held up. It gives what all the missing ones
// wait for, where none is free.
func (sp *Spot) free(sc Scene) string {
	why := HeldUp(sp.Build, *sp.Step, sp.Step.CylinderOf(sp.Place.Point), sc.Results)
	if why == "" || sp.Place.Point == DatumPoint {
		return ""
	}
	at := sp.Place
	for range len(sp.Step.Points) * max(sp.Step.Seatings, 1) {
		point, seating, ok := sp.State.Missing(*sp.Step, at.Pass, at)
		if !ok {
			break
		}
		at.Point, at.Seating = point, seating
		if HeldUp(sp.Build, *sp.Step, sp.Step.CylinderOf(point), sc.Results) == "" {
			sp.Place = at
			return ""
		}
	}
	return why
}
