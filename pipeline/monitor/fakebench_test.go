package monitor_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/pipeline/monitor"
)

// fakeBench is a bench in memory for the pages' tests: it folds real entries with bench.Apply over a real plan and runs
// the guide block's method on them. What a verb leads to is decided by the bench's own rules.
type fakeBench struct {
	tb testing.TB

	mu       sync.Mutex
	state    bench.State
	results  bench.Results
	live     map[string]bench.Live
	troubles []bench.Notice
	watchers map[chan monitor.Event]bool
	bodies   map[uint64]bench.Entry
	asked    []bench.Verb
	serial   int
	question *bench.Question // asked about the next reading
	refuse   string          // what the next verb is refused with
	sweep    *bench.Sweep    // that runs
	coming   *bench.Coming   // to a height at which a wheel is read
}

// dialName is the fake's one gauge.
const dialName = "dial-1"

func newFakeBench(tb testing.TB) *fakeBench {
	tb.Helper()
	f := &fakeBench{tb: tb, live: map[string]bench.Live{}, watchers: map[chan monitor.Event]bool{}, bodies: map[uint64]bench.Entry{}}
	f.state.Bench = "bench-1"
	f.mustAdd(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: dialName, Profile: "text", Port: "/dev/pts/7", Known: bench.KnownPath,
		Role: "indicator", Sends: bench.SendsStream, Sense: 1, Resolution: inch(tb, "0.0005")}})
	f.mustAdd(bench.Entry{Kind: bench.GaugeBack, Link: &bench.Link{Gauge: dialName, Port: "/dev/pts/7", Device: "pts/7"}})
	return f
}

// startBuild begins a build on a plan's text and goes to a step.
func (f *fakeBench) startBuild(job, planName, text, step string) {
	f.tb.Helper()
	f.mustAdd(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: job, Engine: "Heron 650 no. 4", Plan: planName, Text: text}, Place: bench.Place{Build: job}})
	if step != "" {
		f.mustAdd(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: job, Step: step}})
	}
}

// firstFit begins job 17 at the guide blocks.
func (f *fakeBench) firstFit() {
	f.tb.Helper()
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		f.tb.Fatal(err)
	}
	f.startBuild("17", "first-fit", string(text), "guide-clearance")
}

func inch(tb testing.TB, s string) quantity.Value {
	tb.Helper()
	v, err := quantity.Parse(s + " in")
	if err != nil {
		tb.Fatal(err)
	}
	return v
}

// mustAdd makes an entry of a draft and folds it.
func (f *fakeBench) mustAdd(e bench.Entry) bench.Entry {
	f.tb.Helper()
	e, err := f.add(e)
	if err != nil {
		f.tb.Fatal(err)
	}
	return e
}

func (f *fakeBench) add(e bench.Entry) (bench.Entry, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.addLocked(e)
}

func (f *fakeBench) addLocked(e bench.Entry) (bench.Entry, error) {
	f.serial++
	e.ClockOK = true
	e.V, e.Bench, e.N, e.At = bench.Version, f.state.Bench, f.state.N+1, time.Now().UnixMicro()
	e.ID = fmt.Sprintf("entry-%06d", f.serial)
	next, err := bench.Apply(f.state, e)
	if err != nil {
		return e, err
	}
	f.state, f.bodies[e.N] = next, e
	news := f.compute(e)
	f.results = f.results.With(news...)
	f.tellLocked(monitor.Event{Outcome: &bench.Outcome{N: e.N, ID: e.ID, Results: news}})
	return e, nil
}

func (f *fakeBench) tellLocked(e monitor.Event) {
	for w := range f.watchers {
		select {
		case w <- e:
		default:
			f.tb.Errorf("the monitor does not keep up with the bench")
		}
	}
}

// compute runs the guide block's method over the pass of an entry, for the cylinders that have their contact reading.
func (f *fakeBench) compute(e bench.Entry) []bench.Result {
	b, _ := f.state.Build(e.Place.Build)
	if b == nil || e.Place.Step != "guide-clearance" || e.Place.Pass == 0 {
		return nil
	}
	step, _ := b.Plan.Step(e.Place.Step)
	st := b.Step(step.ID)
	p := st.Pass(e.Place.Pass)
	var out []bench.Result
	for _, cyl := range b.Plan.Cylinders {
		read := func(point string) *bench.Taken {
			pt, _ := step.Point(cyl + "." + point)
			if all := st.StandingAt(e.Place.Pass, pt, 1); len(all) > 0 {
				return &all[0]
			}
			return nil
		}
		contact, start, now := read("contact"), read("start"), read("now")
		if contact == nil || start == nil {
			continue
		}
		num := func(v quantity.Value) calc.Val {
			return calc.Val{Num: &calc.Num{X: v.Float(), Us: []calc.Component{{Name: "set-up repeatability", U: 0.0127 / 2}}}}
		}
		wanted, least, most := 0.050*25.4, 0.048*25.4, 0.052*25.4
		req := calc.Request{Method: "contact-clearance", Inputs: map[string]calc.Val{
			"protrusion": {List: []calc.Num{*num(contact.Value).Num}}, "start": num(start.Value), "clearance": {Num: &calc.Num{X: wanted}}},
			Limits: map[string]calc.Limit{"clearance_now": {Lower: &least, Upper: &most}}, Digits: 0.0127, Words: step.Compute.Words}
		at := contact.Value.Float()
		if now != nil {
			req.Inputs["now"] = num(now.Value)
			at = now.Value.Float()
		}
		res, err := calc.Run(req)
		if err != nil {
			f.tb.Fatal(err)
		}
		lo, hi := contact.Value.Float()-most, contact.Value.Float()-least
		out = append(out, bench.Result{Build: b.Job, Step: step.ID, Pass: e.Place.Pass, Key: cyl, N: e.N, At: e.At,
			Provisional: p == nil || p.Status != bench.PassIsClosed, Readings: []string{contact.ID, start.ID}, Request: req, Result: res,
			Band: &bench.Band{Point: cyl + ".now", Figure: "clearance_now", Lower: &lo, Upper: &hi, Target: contact.Value.Float() - wanted, Now: &at}})
	}
	return out
}

// State, Results, Live, Troubles and Watch are what the monitor asks for.
func (f *fakeBench) State() bench.State {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.state
}

func (f *fakeBench) Results() bench.Results {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.results
}

// Scene is what the bench's rules ask for: every gauge that shows something has just sent it.
func (f *fakeBench) Scene() bench.Scene {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.sceneLocked()
}

func (f *fakeBench) sceneLocked() bench.Scene {
	now := time.Now().UnixMicro()
	newest := map[string]bench.Sample{}
	for name, l := range f.live {
		if l.Open && l.Raw.Valid() {
			newest[name] = bench.Sample{At: now, Value: l.Raw}
		}
	}
	return bench.Scene{State: f.state, Results: f.results, Committed: f.state.N, Now: now, Newest: newest, Sweep: f.sweep, Coming: f.coming, Profiles: map[string]bench.Manners{"text": {}}}
}

func (f *fakeBench) Live() []bench.Live {
	f.mu.Lock()
	defer f.mu.Unlock()
	var out []bench.Live
	for _, l := range f.live {
		out = append(out, l)
	}
	return out
}

func (f *fakeBench) Troubles() []bench.Notice {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.troubles
}

func (f *fakeBench) Watch(ctx context.Context) <-chan monitor.Event {
	ch := make(chan monitor.Event, 4096)
	f.mu.Lock()
	f.watchers[ch] = true
	f.mu.Unlock()
	context.AfterFunc(ctx, func() {
		f.mu.Lock()
		defer f.mu.Unlock()
		delete(f.watchers, ch)
		close(ch)
	})
	return ch
}

// show is a gauge's new value, as sent in inches against the zero in force.
func (f *fakeBench) show(value string) {
	f.tb.Helper()
	raw := inch(f.tb, value)
	f.mu.Lock()
	defer f.mu.Unlock()
	l := bench.Live{Gauge: dialName, At: time.Now().UnixMicro(), Raw: raw, Open: true}
	if g, ok := f.state.Gauge(dialName); ok && g.Zero != nil {
		if v, err := g.Zero.WithZero(raw); err == nil {
			l.Value = &v
		}
	}
	f.watchLocked(&l)
	f.live[dialName] = l
	f.tellLocked(monitor.Event{Live: &l})
}

// watchLocked lets a new value go where the loop lets it go: into the sweep that runs, and to what watches a height.
func (f *fakeBench) watchLocked(l *bench.Live) {
	if f.sweep.Takes(dialName) {
		f.sweep.Add(dialName, bench.Sample{At: l.At, Value: l.Raw})
	}
	sp := bench.SpotOf(f.sceneLocked())
	if f.coming == nil || f.coming.Place != sp.Place {
		f.coming = bench.ComingTo(sp)
	}
	if f.coming == nil {
		return
	}
	if words := f.coming.Feed(l.Raw); words != "" {
		f.tellLocked(monitor.Event{Notice: &bench.Notice{Tone: bench.ToneRefused, At: l.At, Words: words}})
	}
	l.Hand = f.coming.Says()
}

// plug loses the gauge or brings it back.
func (f *fakeBench) plug(in bool) {
	f.tb.Helper()
	kind := bench.GaugeLost
	if in {
		kind = bench.GaugeBack
	}
	f.mustAdd(bench.Entry{Kind: kind, Link: &bench.Link{Gauge: dialName, Port: "/dev/pts/7", Device: "pts/7"}})
	f.mu.Lock()
	defer f.mu.Unlock()
	l := f.live[dialName]
	l.Gauge, l.Open = dialName, in
	f.live[dialName] = l
	f.tellLocked(monitor.Event{Live: &l})
}

func (f *fakeBench) notice(n bench.Notice) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if n.Stands {
		f.troubles = append(f.troubles, n)
	}
	f.tellLocked(monitor.Event{Notice: &n})
}

// Do carries a verb out by the bench's own rules.
func (f *fakeBench) Do(_ context.Context, v bench.Verb) bench.Answer {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.asked = append(f.asked, v)
	if f.refuse != "" {
		words := f.refuse
		f.refuse = ""
		return bench.Answer{Words: words, Place: f.state.Place}
	}
	d, err := bench.Decide(f.sceneLocked(), v)
	if err != nil {
		return bench.Answer{Words: err.Error(), Place: f.state.Place, Moved: errors.Is(err, bench.ErrMoved)}
	}
	if d.End {
		f.sweep = nil
	}
	if d.Begin != nil {
		f.sweep = d.Begin
	}
	a := bench.Answer{OK: true, Words: d.Words}
	for queue := d.Entries; len(queue) > 0; {
		e, err := f.addLocked(queue[0])
		if err != nil {
			return bench.Answer{Words: err.Error(), Place: f.state.Place}
		}
		a.N = e.N
		if queue = queue[1:]; len(queue) > 0 {
			continue
		}
		if queue = bench.Follow(f.sceneLocked(), e); e.Kind == bench.ReadingTaken && f.question != nil {
			queue = []bench.Entry{{Kind: bench.Asked, Place: e.Place, Question: f.question, Refers: e.ID}}
			f.question = nil
		}
	}
	if d.Tone == bench.ToneTaken {
		f.tellLocked(monitor.Event{Notice: &bench.Notice{Tone: string(d.Tone), At: time.Now().UnixMicro(), Words: d.Words}})
	}
	a.Place = f.state.Place
	return a
}

// verbs lists what was asked so far, by name.
func (f *fakeBench) verbs() string {
	f.mu.Lock()
	defer f.mu.Unlock()
	var names []string
	for _, v := range f.asked {
		names = append(names, v.Name)
	}
	return strings.Join(names, " ")
}

// benchVerb is a verb and what it is about.
type benchVerb struct{ name, item string }

// must has the bench do something and fails where it does not.
func (f *fakeBench) must(tb testing.TB, ctx context.Context, v benchVerb) {
	tb.Helper()
	f.mu.Lock()
	f.serial++
	id := fmt.Sprintf("verb-%06d", f.serial)
	f.mu.Unlock()
	if a := f.Do(ctx, bench.Verb{ID: id, Name: v.name, Item: v.item}); !a.OK {
		tb.Fatalf("%s: %s", v.name, a.Words)
	}
}

// unconfirmed lists what is to be confirmed in the step in work.
func (f *fakeBench) unconfirmed() []plan.Datum {
	b, step := f.State().Current()
	return bench.Unconfirmed(b, *step)
}

// confirmed reads the cautions and confirms the data of the step in work; ready sets the zero too.
func (f *fakeBench) confirmed() {
	f.tb.Helper()
	f.must(f.tb, context.Background(), benchVerb{"acknowledge", ""})
	for _, d := range f.unconfirmed() {
		f.must(f.tb, context.Background(), benchVerb{"confirm", "engine." + d.Name})
	}
}

func (f *fakeBench) ready() {
	f.tb.Helper()
	f.confirmed()
	f.must(f.tb, context.Background(), benchVerb{"zero", ""})
}
