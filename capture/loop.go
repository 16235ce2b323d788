package capture

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/devices"
)

// Log keys.
const keyN = "n"

// Log is where entries go to be safe. Append returns once the entry is durable, or with an error after which the same
// bytes under the same id may be appended again.
type Log interface {
	Append(ctx context.Context, e bench.Entry, body []byte) error
}

// Publisher hands on what is shown but never stored.
type Publisher interface {
	Live(bench.Live)
	Notice(bench.Notice)
}

// Loop is the bench loop: the one goroutine that makes entries. Set the exported fields, then Run.
type Loop struct {
	Log       Log
	Publisher Publisher
	Open      line.Opener
	Resolve   func(bench.Gauge) (string, error)
	Profiles  map[string]devices.Profile
	// Taught brings profiles that are learnt while the bench runs; nil where none are.
	Taught  chan devices.Profile
	Now     func() time.Time
	NewID   func() string // UUIDv7
	Boot    string        // the machine's boot id
	Up      func() int64  // µs since the machine was started; 0 where it does not say
	ClockOK func() bool
	Keys    map[string]string // pedal and gauge key name → verb
	Logger  zerolog.Logger
	// Lockout is how long a gauge's own key is ignored after a reading, so that pedal and key together, or a key that
	// bounces, do not record the next point by mistake.
	Lockout time.Duration
	// Namings are the entries with which the loop begins, asked for the state it begins with; nil for none.
	Namings func(bench.State) []bench.Entry
	// Load gives a build that is not in memory; nil where every build is.
	Load Loader
	// LoadRecord gives the record of an engine that is not in memory; nil where every one is.
	LoadRecord RecordLoader
	// Fold is how entries are folded: it remembers what is worth remembering between them.
	Fold bench.Fold
	// Retry is how long one attempt to publish may take.
	Retry time.Duration

	state   atomic.Pointer[bench.State]
	results atomic.Pointer[bench.Results]
	shared  atomic.Pointer[held] // of what the loop holds, for whoever asks

	chain    bench.Chain
	calls    chan call
	lines    chan line.Event
	acks     chan ack
	outcomes chan bench.Outcome
	gauges   *line.Lines
	listenTo func(bench.Gauge, devices.Profile)
	newest   *board

	held    held
	tasks   []task // whose entries are still to be made; the first is under way
	flight  *bench.Entry
	say     announcer
	answers answers
	rests   rests
	onBench map[string]bool // gauges that were open since the service started
	// unrecorded are the ids of own entries of which the recorder has not told; halted says why nothing more is made.
	unrecorded map[string]bool
	halted     string
}

// held is what the loop knows besides the record.
type held struct {
	committed uint64
	lastTake  int64 // µs since 1970
	cameAt    int64 // to the step; the same
	readAt    int64 // its cautions, by the pedal
	sweep     *bench.Sweep
	comings   comings
	armed     map[string]bench.Arming
	manners   map[string]bench.Manners // of the profiles
}

// cameTo keeps when a step came up, and when a pedal said that its cautions were read: what bounces is known by that.
func (h *held) cameTo(e bench.Entry, now int64) {
	switch {
	case e.Kind == bench.StepEntered:
		h.cameAt = now
	case e.By == bench.ByPedal:
		h.readAt = now
	}
}

// call is a verb and where its answer goes.
type call struct {
	verb  bench.Verb
	reply chan bench.Answer
}

// ack is an entry that is safe on the bus; the zero ack is one that was given up when the service was told to stop.
type ack struct {
	entry bench.Entry
	body  []byte
}

// NewLoop makes a loop that goes on from a folded state, the chain's end, and the results in force.
func NewLoop(name string, s bench.State, chain bench.Chain, results bench.Results) *Loop {
	s.Bench = name
	l := &Loop{
		Resolve: line.ResolvePort, Open: line.OpenSerial, Now: time.Now, ClockOK: func() bool { return true }, Up: func() int64 { return 0 },
		Keys: DefaultKeys(), Retry: time.Second, Lockout: 700 * time.Millisecond,
		chain: chain, calls: make(chan call), lines: make(chan line.Event, 256), acks: make(chan ack, 1),
		outcomes: make(chan bench.Outcome, 64), onBench: map[string]bool{}, unrecorded: map[string]bool{}, answers: answers{},
		rests: rests{still: map[string]*bench.Stillness{}}, say: announcer{committed: chain.N, faults: map[string]repeated{}},
		held: held{committed: chain.N, armed: map[string]bench.Arming{}}, newest: newBoard(),
	}
	l.state.Store(&s)
	l.results.Store(&results)
	l.shared.Store(l.held.copied())
	return l
}

// DefaultKeys are the verbs that a pedal's or a gauge's keys stand for.
func DefaultKeys() map[string]string {
	return map[string]string{"take": bench.DoTake, "zero": bench.DoZero, "retake": bench.DoRetake, "next": bench.DoNext, "pedal": bench.DoTake}
}

// State is the state after the last entry that is safe on the bus. Any goroutine may ask.
func (l *Loop) State() bench.State { return *l.state.Load() }

// Results are the newest results told to the loop. Any goroutine may ask.
func (l *Loop) Results() bench.Results { return *l.results.Load() }

// Scene is all that the rules need to know at this moment. Any goroutine may ask.
func (l *Loop) Scene() bench.Scene { return l.scene(*l.shared.Load(), l.newest.all()) }

// Live is what every gauge shows now, by name; this is the one place where the newest values are kept. Any goroutine may
// ask.
func (l *Loop) Live() []bench.Live { return l.newest.live() }

func (l *Loop) scene(h held, newest map[string]bench.Sample) bench.Scene {
	return bench.Scene{State: l.State(), Results: l.Results(), Committed: h.committed, Now: l.Now().UnixMicro(), Boot: l.Boot, Up: l.Up(),
		Newest: newest, Sweep: h.sweep, Coming: h.comings.now, Armed: h.armed, LastTake: h.lastTake, Lockout: l.Lockout.Microseconds(),
		CameAt: h.cameAt, ReadAt: h.readAt, Profiles: h.manners, Keys: l.Keys}
}

// copied is what the loop holds, for others to look at: it is not changed any more.
func (h held) copied() *held {
	if h.sweep != nil {
		s := *h.sweep // its values are only ever added to
		h.sweep = &s
	}
	h.armed = maps.Clone(h.armed)
	return &h
}

// Outcome tells the loop what came of an entry. It blocks only while the loop's queue is full.
func (l *Loop) Outcome(ctx context.Context, o bench.Outcome) {
	select {
	case l.outcomes <- o:
	case <-ctx.Done():
	}
}

// Do asks the bench for something and waits for its answer. Any goroutine may ask. When ctx ends first the verb may
// still be carried out; asking again with the same id tells.
func (l *Loop) Do(ctx context.Context, v bench.Verb) bench.Answer {
	v, err := v.Clean()
	if err != nil {
		return bench.Answer{Words: err.Error(), Place: l.State().Place}
	}
	c := call{verb: v, reply: make(chan bench.Answer, 1)}
	select {
	case l.calls <- c:
	case <-ctx.Done():
		return bench.Answer{Words: "the bench is still making the last entry safe, so this was not done; nothing is lost, ask again in a moment", Place: l.State().Place}
	}
	select {
	case a := <-c.reply:
		return a
	case <-ctx.Done():
		return bench.Answer{Words: "it is held and done as soon as its entry can be made safe: do not ask for it again, look at the status", Place: l.State().Place}
	}
}

// Run keeps the bench until ctx ends. It returns when every line is closed and the entry under way, if any, is safe or
// was written to the log in full.
func (l *Loop) Run(ctx context.Context) error {
	if l.Log == nil || l.Publisher == nil || l.NewID == nil {
		return errors.New("bench loop: Log, Publisher and NewID must be set")
	}
	stop := l.listen(ctx)
	defer stop()
	l.resume(ctx)
	tick := time.NewTicker(tickEvery)
	defer tick.Stop()
	for {
		calls, events := l.calls, l.lines
		if len(l.tasks) > 0 {
			calls, events = nil, nil // no next reading until the last one is safe
		}
		if l.halted != "" {
			calls, events = l.calls, nil // whoever asks is told why
		}
		ticks := tick.C
		if len(l.tasks) == 0 && l.halted == "" && len(l.held.armed) == 0 && !l.newest.waits() {
			ticks = nil // nothing waits for a time: a bench that is left alone is not woken
		}
		select {
		case <-ctx.Done():
			return l.last()
		case a := <-l.acks:
			l.onAck(ctx, a)
		case o := <-l.outcomes:
			l.onOutcome(ctx, o)
		case p := <-l.Taught:
			taught(l, p)
		case c := <-calls:
			l.onCall(ctx, c)
		case ev := <-events:
			l.onEvent(ctx, ev)
		case <-ticks:
			l.newest.flush()
			if len(l.tasks) == 0 && len(l.held.armed) > 0 {
				l.decide(ctx, bench.Tick{}, nil)
			}
		}
	}
}

const tickEvery = leastApart

// listen opens the lines of the gauges that are registered; the function it gives closes them all.
func (l *Loop) listen(ctx context.Context) func() {
	manners := make(map[string]bench.Manners, len(l.Profiles))
	for name, p := range l.Profiles {
		manners[name] = mannersOf(p)
	}
	l.held.manners = manners
	l.shared.Store(l.held.copied())
	l.newest.publisher, l.newest.now = l.Publisher, l.Now
	l.say.publisher, l.say.now, l.say.log = l.Publisher, l.Now, l.Logger
	ctx, stop := context.WithCancel(ctx)
	l.gauges = &line.Lines{Open: l.Open, Resolve: l.Resolve, Now: l.Now, Log: l.Logger, OnEvent: func(ev line.Event) {
		l.newest.onEvent(ev)
		select {
		case l.lines <- ev:
		case <-ctx.Done():
		}
	}}
	l.listenTo = func(g bench.Gauge, p devices.Profile) { l.gauges.Add(ctx, g, p) }
	for _, g := range l.State().Gauges {
		if !g.Removed {
			l.newest.gauge(g)
			l.start(g.Gauge)
		}
	}
	return func() {
		stop()
		l.gauges.Wait()
	}
}

// mannersOf is what the rules see of a profile.
func mannersOf(p devices.Profile) bench.Manners {
	m := bench.Manners{Poll: p.Poll.Interval.Microseconds(), Channels: p.Channels(), Units: map[string]string{}, Text: string(p.TOML())}
	for _, channel := range append([]string{""}, m.Channels...) {
		if unit := p.UnnamedUnit(channel); unit != "" {
			m.Units[channel] = unit
		}
	}
	return m
}

// resume makes up for what a service that was stopped or killed left half done: the questions and the closing that
// follow the last entry, and the reopening of steps whose figures changed.
func (l *Loop) resume(ctx context.Context) {
	if l.Namings != nil {
		if names := l.Namings(l.State()); len(names) > 0 {
			l.enqueue(ctx, task{entries: names})
		}
	}
	l.enqueue(ctx, task{last: bench.Unfinished(l.State()), follows: true})
	l.decide(ctx, bench.Computed{Results: l.Results().All()}, nil)
}

func (l *Loop) start(g bench.Gauge) {
	if g.Known == bench.KnownKeyed {
		return
	}
	prof, ok := l.Profiles[g.Profile]
	if !ok {
		l.say.trouble("gauge "+g.Name, fmt.Sprintf("gauge %q: there is no profile %q: put its file into the profiles folder and start again", g.Name, g.Profile))
		return
	}
	l.listenTo(g, prof)
}

// last waits for the entry in flight a moment longer; what is not safe by then goes to the log in full, never nowhere.
func (l *Loop) last() error {
	if l.flight == nil {
		return nil
	}
	select {
	case a := <-l.acks:
		if a.entry.N != 0 {
			return nil
		}
	case <-time.After(2 * l.Retry):
	}
	body, err := json.Marshal(*l.flight) // the bytes as they would have been published
	if err != nil {
		return fmt.Errorf("entry %d was not safe on the bus when the service stopped, and cannot be written: %w", l.flight.N, err)
	}
	l.Logger.Error().Uint64(keyN, l.flight.N).RawJSON("entry", body).Msg("stopped before this entry was safe: it is written here so that nothing is lost")
	return fmt.Errorf("entry %d was not safe on the bus when the service stopped; it stands in the log", l.flight.N)
}
