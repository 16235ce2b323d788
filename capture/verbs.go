package capture

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// onCall answers a verb: one asked before gets its first answer again; one whose sender saw another place is refused.
func (l *Loop) onCall(ctx context.Context, c call) {
	v := c.verb
	if a, ok := l.answers[v.ID]; ok && v.ID != "" {
		c.reply <- a
		return
	}
	s := l.State()
	if n, ok := s.Did(v.ID); ok && v.ID != "" {
		c.reply <- bench.Answer{OK: true, Words: fmt.Sprintf("done before, as entry %d", n), N: n, Place: s.Place}
		return
	}
	if v.Seen != nil && *v.Seen != s.Place && placed(v.Name) {
		c.reply <- bench.Answer{Moved: true, Place: s.Place,
			Words: fmt.Sprintf("the bench has moved on: it stands at %s now, not at %s; nothing was done", s.Place, *v.Seen)}
		return
	}
	l.onVerb(ctx, v, c.reply)
}

// placed reports whether a verb means the place its sender sees.
func placed(name string) bool {
	switch name {
	case bench.DoGaugeAdd, bench.DoGaugeRemove, bench.DoGaugeCheck, bench.DoUse, bench.DoBuildStart, bench.DoGoto, bench.DoDropped, bench.DoFound, bench.DoPhoto:
		return false
	}
	return true
}

func (l *Loop) onVerb(ctx context.Context, v bench.Verb, reply chan<- bench.Answer) {
	var drafts []draft
	var words string
	var err error
	switch v.Name {
	case bench.DoTake, bench.DoZero, bench.DoSweep:
		l.takeOrZero(ctx, v, reply)
		return
	case bench.DoKey, bench.DoBracket:
		drafts, words, err = l.keyed(v)
	case bench.DoRetake:
		drafts, words, err = l.retake(v)
	case bench.DoNext:
		drafts, words, err = l.next(v)
	case bench.DoAgain:
		drafts, words, err = l.again(v)
	case bench.DoVoid:
		drafts, words, err = l.void(v)
	case bench.DoAnswer:
		drafts, words, err = l.answerQuestion(v)
	case bench.DoGoto:
		drafts, words, err = l.goTo(v)
	case bench.DoGaugeAdd, bench.DoGaugeRemove, bench.DoGaugeCheck, bench.DoUse:
		drafts, words, err = l.gaugeVerb(v)
	case bench.DoBuildStart, bench.DoBuildClose:
		drafts, words, err = l.buildVerb(v)
	default:
		drafts, words, err = l.stepVerb(v)
	}
	if err != nil {
		l.refuse(v, reply, err)
		return
	}
	l.enqueue(ctx, task{verb: v, reply: reply, drafts: drafts, words: words})
}

// takeOrZero takes the newest value of the gauge that reads here; a gauge that speaks only on its data key is waited
// for.
func (l *Loop) takeOrZero(ctx context.Context, v bench.Verb, reply chan<- bench.Answer) {
	sp, err := l.nextSpot()
	if v.Name == bench.DoZero {
		err = nil // a zero is set anywhere
	}
	var g bench.GaugeState
	if err == nil {
		g, err = l.wantedGauge(v)
	}
	if err != nil {
		l.refuse(v, reply, err)
		return
	}
	if v.Name != bench.DoZero {
		if isSweep(sp.mode()) || l.sweep != nil {
			l.sweepVerb(ctx, v, reply, sp, g)
			return
		}
		if v.Name == bench.DoSweep {
			l.refuse(v, reply, errors.New("nothing is swept at this point: take its reading"))
			return
		}
	}
	if g.Sends == bench.SendsKey && v.Name == bench.DoZero {
		l.armed[g.Name], l.armedAt[g.Name] = v, l.Now()
		l.answer(v, reply, bench.Answer{OK: true, Words: fmt.Sprintf("rest %s on the datum and press its data key: that is its zero", g.Name), Place: l.State().Place})
		return
	}
	if g.Sends == bench.SendsKey {
		l.refuse(v, reply, fmt.Errorf("gauge %q speaks only when its own data key is pressed: press it", g.Name))
		return
	}
	h, err := l.newest(g)
	if err != nil {
		l.refuse(v, reply, err)
		return
	}
	if v.Name == bench.DoZero {
		l.zero(ctx, v, reply, g, h)
		return
	}
	l.take(ctx, v, reply, g, h, plan.Press)
}

func (l *Loop) wantedGauge(v bench.Verb) (bench.GaugeState, error) {
	if v.Gauge != "" {
		g, ok := l.State().Gauge(v.Gauge)
		if !ok {
			return g, fmt.Errorf("no gauge %q is registered: thoud gauge list shows what is", v.Gauge)
		}
		return g, nil
	}
	role := ""
	if _, step := l.State().Current(); step != nil {
		role = step.Capture.Role
		if pt, ok := step.Point(l.State().Place.Point); ok && pt.Role != "" {
			role = pt.Role
		}
	}
	return l.gaugeFor(role)
}

// passAt is the pass of a place; nil where there is none.
func passAt(s bench.State, at bench.Place) *bench.Pass {
	b, ok := s.Build(at.Build)
	if !ok {
		return nil
	}
	return b.Step(at.Step).Pass(at.Pass)
}

// stands reports whether a reading of a place's pass is not withdrawn.
func stands(s bench.State, at bench.Place, id string) bool {
	p := passAt(s, at)
	return p != nil && slices.ContainsFunc(p.Readings, func(r bench.Taken) bool { return r.ID == id && !r.Withdrawn })
}

// onTick is the loop's heartbeat: nothing to do between entries but what time alone brings.
func (l *Loop) onTick(context.Context) {
	// A gauge armed for its zero waits no longer than a minute, so that a later press is not taken for it.
	for name := range l.armed {
		if l.Now().Sub(l.armedAt[name]) > time.Minute {
			delete(l.armed, name)
			l.Tell.Notice(bench.Notice{At: l.Now().UnixMicro(), Words: "no zero was given to " + name + " within a minute: ask for it again"})
		}
	}
}

// onOutcome keeps new results, and reopens signed steps whose figures changed.
func (l *Loop) onOutcome(ctx context.Context, o bench.Outcome) {
	l.committed = max(l.committed, o.N)
	l.tellCommitted()
	if len(o.Results) == 0 {
		return
	}
	next := l.Results().With(o.Results...)
	l.results.Store(&next)
	l.reopenChanged(ctx, o.Results)
}

// reopenChanged opens signed steps again whose figures changed since, with the reason.
func (l *Loop) reopenChanged(ctx context.Context, results []bench.Result) {
	s := l.State()
	for _, r := range results {
		b, ok := s.Build(r.Build)
		if !ok || r.Because == "" {
			continue
		}
		if signed := b.Step(r.Step).Signed; signed == nil || signed.N > r.N {
			continue
		}
		ds := l.reopenIfSigned(b, r.Step, r.Because)
		l.enqueue(ctx, task{drafts: ds, tone: "ask", words: fmt.Sprintf("%s is reopened: %s", r.Step, r.Because)})
	}
}
