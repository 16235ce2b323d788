package plan

import "slices"

// Judges lists the runs of a pass that say whether a first point is in: those that take readings of this pass at first
// points alone, this one among them, and have limits.
func (p *Plan) Judges(s Step, point string, pass int) []Run {
	var out []Run
	for _, run := range p.RunsAt(s, pass) {
		if len(run.Compute.Limits) > 0 && s.judges(run, point) {
			out = append(out, run)
		}
	}
	return out
}

// judges reports whether a run takes the reading of a point, and no reading of the pass that comes after the first points.
func (s Step) judges(run Run, point string) bool {
	takes, alone := false, true
	eachRef(run.Compute.Inputs, func(r Ref) bool {
		r = r.For(run.Own)
		if r.Of(s.ID) != s.ID || r.Kind == RefPrior || r.Kind == RefAngles || r.Kind == RefDepths || r.Kind == RefHeights {
			return true
		}
		if r.Kind == RefFigure {
			alone = false // of another run of the step: that one judges
			return false
		}
		if r.Point == "" {
			r.Point = run.Own
		}
		for _, pt := range s.Points {
			if _, ok := Match(r.Point, pt.ID); ok {
				takes, alone = takes || pt.ID == point, alone && pt.First
			}
		}
		return alone
	})
	return takes && alone
}

// Before lists the first points that must be in before a point is asked for: those of its cylinder, and those of none.
func (s Step) Before(point string) []Point {
	at, ok := s.Point(point)
	if !ok || at.First {
		return nil
	}
	var out []Point
	for _, pt := range s.Points {
		if pt.First && (pt.Cylinder == "" || pt.Cylinder == at.Cylinder) {
			out = append(out, pt)
		}
	}
	return out
}

// checkFirst refuses first points that nothing judges, and those after which nothing comes.
func (d *draft) checkFirst(s *stepDraft) {
	for i, pt := range s.Points {
		if !pt.First {
			continue
		}
		switch {
		case s.Seatings > 1:
			d.fs.add(s.places[i], s.where, "point %s is first, and the step asks for %d seatings: one reading must be in before the rest", quoted(pt.ID), s.Seatings)
		case !slices.ContainsFunc(s.Points, func(o Point) bool { return !o.First && (pt.Cylinder == "" || o.Cylinder == pt.Cylinder) }):
			d.fs.add(s.places[i], s.where, "point %s is first, but no other point waits for it", quoted(pt.ID))
		case len(d.Judges(s.Step, pt.ID, s.Passes())) == 0:
			d.fs.add(s.places[i], s.where, "point %s is first and must be in, but nothing says so: compute something with limits from the first points alone", quoted(pt.ID))
		}
	}
}
