package bench

import "fmt"

// firstOf finds what must be read, or be in, before a point is asked for: the plan's first points of the same cylinder. It
// gives the place to read instead, and whether that is to be read once more because it was out; "" where nothing is in
// the way. why is set where its result is still on the way.
func firstOf(sp Spot, sc Scene) (point string, anew bool, why string) {
	b, step, pass := sp.Build, *sp.Step, sp.Place.Pass
	if b.PassedOver(step.ID) {
		return "", false, ""
	}
	for _, pt := range step.Before(sp.Place.Point) {
		if pt.FromPass > pass {
			continue
		}
		taken := sp.State.StandingAt(pass, pt, 1)
		if len(taken) == 0 {
			return pt.ID, false, ""
		}
		for _, run := range b.Plan.Judges(step, pt.ID, pass) {
			r, ok := sc.Results.Get(Slot{b.Job, step.ID, pass, run.Key})
			switch {
			case !ok, sc.Committed < taken[0].N: // an older one may be of the reading before
				return pt.ID, false, fmt.Sprintf("the result of %s is not there yet: wait a moment", pointName(step, Place{Point: pt.ID}))
			case r.Refused != "" || leavesWork(r.Verdict):
				return pt.ID, true, ""
			}
		}
	}
	return "", false, ""
}

// first moves the place to a first point that is missing or was out; it is asked for before the rest.
func (sp *Spot) first(sc Scene) string {
	point, anew, why := firstOf(*sp, sc)
	if why != "" || point == "" {
		return why
	}
	sp.Place.Point, sp.Place.Seating, sp.Anew = point, 1, anew
	return ""
}
