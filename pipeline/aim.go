package pipeline

import (
	"errors"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// Aim is where a part must come to rest at a point that was not read yet: a bolt is tightened to a stretch that follows from
// the plan alone, so the way to it can be told before its first reading. Nil where the limits are not known without a
// reading, or where the point has no approach. Its Now is nil: where the move begins is for who asks to say. Pure.
func Aim(s bench.State, results bench.Results, at bench.Place) *bench.Band {
	b, ok := s.Build(at.Build)
	if !ok || b.Plan == nil {
		return nil
	}
	step, ok := b.Plan.Step(at.Step)
	if !ok {
		return nil
	}
	pass := max(at.Pass, 1)
	for _, run := range b.Plan.RunsAt(step, pass) {
		m, known := calc.Find(run.Compute.Method)
		if !known || run.Compute.ApproachFigure == "" || plan.FillRun(run.Compute.ApproachPoint, run.Own) != at.Point {
			continue
		}
		bind := &binder{state: s, results: results, build: b, step: step, pass: pass, run: run, key: run.Own, method: m}
		if band := bind.aim(); band != nil {
			return band
		}
	}
	return nil
}

// aim binds every input but the one that the approach reads, which begins at nought: the datum.
func (b *binder) aim() *bench.Band {
	c, input := b.run.Compute, b.approachInput()
	lim := b.build.Limit(b.step, b.run.Key, c.ApproachFigure)
	if _, has := c.Limits[c.ApproachFigure]; !has || input == "" || b.pass < c.LimitFrom[c.ApproachFigure] || lim.Lower == nil && lim.Upper == nil {
		return nil
	}
	req := calc.Request{Method: c.Method, Inputs: map[string]calc.Val{}}
	for _, name := range calc.Sorted(c.Inputs) {
		in, ok := inputOf(b.method.Inputs, name)
		if name == input || !ok {
			continue
		}
		v, err := b.value(c.Inputs[name], in)
		if errors.Is(err, errWaiting) && c.Inputs[name].Optional {
			continue
		}
		if err != nil {
			return nil
		}
		req.Inputs[name] = v
	}
	return b.bandFrom(req, lim, input, 0)
}
