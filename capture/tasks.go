package capture

import (
	"context"
	"errors"

	"thoud/capture/bench"
)

// task is what one event led to: entries that belong together, and what to say once they are safe.
type task struct {
	verb    bench.Verb
	entries []bench.Entry
	words   string
	tone    string
	reply   chan<- bench.Answer
	last    bench.Entry // the last one that is safe
	follows bool        // what follows the last one is still to be asked for
}

// decide asks the rules what comes of an event and sets it going.
func (l *Loop) decide(ctx context.Context, ev bench.Event, reply chan<- bench.Answer) {
	v, _ := ev.(bench.Verb)
	sc := l.scene(l.held, nil)
	if h, heard := ev.(bench.Heard); !heard || h.Sample.Key != "" {
		sc.Newest = l.newest.all() // a value that streams by brings all that is asked of it
	}
	d, err := bench.Decide(sc, ev)
	l.hold(d, v)
	if h, heard := ev.(bench.Heard); heard && d.Collect {
		l.collect(ctx, h)
		return
	}
	switch {
	case err != nil:
		l.refuse(v, reply, err)
	case len(d.Entries) > 0:
		l.enqueue(ctx, task{verb: v, reply: reply, entries: d.Entries, words: d.Words, tone: d.Tone})
	default:
		if d.Words != "" && d.Done == 0 {
			l.say.notice(d.Tone, d.Words)
		}
		l.answers.give(v, reply, bench.Answer{OK: true, Words: d.Words, N: d.Done, Place: l.State().Place})
	}
}

// hold keeps what a decision changes beside the record.
func (l *Loop) hold(d bench.Decision, v bench.Verb) {
	if d.Arm == "" && d.Disarm == "" && d.Begin == nil && !d.End {
		return
	}
	delete(l.held.armed, d.Disarm)
	if d.Arm != "" {
		l.held.armed[d.Arm] = bench.Arming{Verb: v, At: l.Now().UnixMicro()}
	}
	if d.End && l.held.sweep != nil {
		l.newest.sweeping(l.held.sweep.Gauge, 0)
		l.held.sweep = nil
	}
	if d.Begin != nil {
		l.held.sweep = d.Begin
	}
	l.shared.Store(l.held.copied())
}

// collect adds a value to the sweep that runs.
func (l *Loop) collect(ctx context.Context, h bench.Heard) {
	s := l.held.sweep
	ends := s.Add(h.Gauge, h.Sample)
	l.newest.sweeping(s.Gauge, len(s.Values))
	l.shared.Store(l.held.copied())
	if ends != "" {
		l.decide(ctx, bench.Turned{Why: ends}, nil)
	}
}

// catchUp hears what the lines told before now: the values up to the press that ends a sweep belong to it, and where the
// gauge stands while a wheel is typed is what it sent last.
func (l *Loop) catchUp(ctx context.Context) {
	for n := len(l.lines); n > 0 && (l.held.sweep != nil || l.held.comings.now != nil); n-- {
		l.onEvent(ctx, <-l.lines)
	}
}

// onCall answers a verb: one asked before gets its first answer again.
func (l *Loop) onCall(ctx context.Context, c call) {
	if a, ok := l.answers[c.verb.ID]; ok && c.verb.ID != "" {
		c.reply <- a
		return
	}
	if l.halted != "" {
		l.refuse(c.verb, c.reply, errors.New(l.halted))
		return
	}
	l.load(ctx, bench.VerbParts(c.verb))
	if swept := l.held.sweep != nil; swept && (c.verb.Name == bench.DoTake || c.verb.Name == bench.DoSweep) {
		if l.catchUp(ctx); l.held.sweep == nil {
			l.refuse(c.verb, c.reply, errors.New("the sweep has ended already"))
			return
		}
	}
	if c.verb.Name == bench.DoKey && l.held.comings.now != nil {
		l.catchUp(ctx)
	}
	l.decide(ctx, c.verb, c.reply)
}

// enqueue adds a task; its entries are made one at a time.
func (l *Loop) enqueue(ctx context.Context, t task) {
	l.tasks = append(l.tasks, t)
	if len(l.tasks) == 1 {
		l.advance(ctx)
	}
}

// advance makes the next entry of the task under way, then what follows from its last one, or ends it.
func (l *Loop) advance(ctx context.Context) {
	for len(l.tasks) > 0 {
		t := &l.tasks[0]
		if len(t.entries) == 0 && t.follows {
			t.entries, t.follows = bench.Follow(l.scene(l.held, nil), t.last), false
		}
		if len(t.entries) > 0 {
			e := t.entries[0]
			t.entries, t.follows = t.entries[1:], true
			l.load(ctx, bench.Parts(e))
			l.send(ctx, e)
			return
		}
		l.say.once(t.last.N, t.tone, t.words)
		l.answers.give(t.verb, t.reply, bench.Answer{OK: true, Words: t.words, N: t.last.N, Place: l.State().Place})
		l.tasks = l.tasks[1:]
	}
}

// onOutcome keeps new results, and what they lead to.
func (l *Loop) onOutcome(ctx context.Context, o bench.Outcome) {
	l.held.committed = max(l.held.committed, o.N)
	l.shared.Store(l.held.copied())
	l.say.commit(o.N)
	if o.Trouble != "" {
		l.setAside(o)
	}
	delete(l.unrecorded, o.ID)
	if len(o.Results) == 0 {
		return
	}
	next := l.Results().With(o.Results...)
	l.results.Store(&next)
	l.decide(ctx, bench.Computed{Results: o.Results}, nil)
}

// refuse says no, in words, to whoever asked, or on the screen where a gauge's own key did.
func (l *Loop) refuse(v bench.Verb, reply chan<- bench.Answer, err error) {
	if reply == nil {
		l.say.notice(bench.ToneRefused, err.Error())
		return
	}
	reply <- bench.Answer{Words: err.Error(), Moved: errors.Is(err, bench.ErrMoved), Place: l.State().Place}
}
