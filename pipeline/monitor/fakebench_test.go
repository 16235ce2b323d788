package monitor_test

import (
	"context"
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
// the guide block's method on them. It knows just enough of the bench's rules to walk through a step.
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
	now := time.Now().UnixMicro()
	newest := map[string]bench.Sample{}
	for name, l := range f.live {
		if l.Open && l.Raw.Valid() {
			newest[name] = bench.Sample{At: now, Value: l.Raw}
		}
	}
	return bench.Scene{State: f.state, Results: f.results, Committed: f.state.N, Now: now, Newest: newest}
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
	f.live[dialName] = l
	f.tellLocked(monitor.Event{Live: &l})
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

// Do carries a verb out.
func (f *fakeBench) Do(_ context.Context, v bench.Verb) bench.Answer {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.asked = append(f.asked, v)
	at := f.state.Place
	no := func(format string, args ...any) bench.Answer {
		return bench.Answer{Words: fmt.Sprintf(format, args...), Place: f.state.Place}
	}
	if f.refuse != "" {
		defer func() { f.refuse = "" }()
		return no("%s", f.refuse)
	}
	if v.Seen != nil && *v.Seen != at {
		a := no("the bench has moved on")
		a.Moved = true
		return a
	}
	b, step := f.state.Current()
	var drafts []bench.Entry
	here := bench.Place{Build: at.Build, Step: at.Step}
	switch v.Name {
	case bench.DoBuildStart:
		drafts = []bench.Entry{{Kind: bench.BuildStarted, Build: v.Build, Place: bench.Place{Build: v.Build.Job}}}
	case bench.DoBuildClose:
		drafts = []bench.Entry{{Kind: bench.BuildClosed, Place: bench.Place{Build: at.Build}}}
	case bench.DoAcknowledge:
		drafts = []bench.Entry{{Kind: bench.Acknowledged, Place: here}}
	case bench.DoConfirm:
		drafts = []bench.Entry{{Kind: bench.Confirmed, Place: here, Item: v.Item}}
	case bench.DoOverride:
		drafts = []bench.Entry{{Kind: bench.Overridden, Place: here, Override: v.Override, Reason: v.Reason}}
	case bench.DoAnswer:
		drafts = []bench.Entry{{Kind: bench.Answered, Place: here, Refers: v.Item, Choice: v.Choice}}
	case bench.DoZero:
		l := f.live[dialName]
		shows := inch(f.tb, "0.0000")
		if v.Value != nil {
			shows = *v.Value
		}
		drafts = []bench.Entry{{Kind: bench.ZeroSet, Place: bench.Place{Build: at.Build, Step: at.Step, Pass: at.Pass}, Zero: &bench.Zero{Gauge: dialName, Raw: l.Raw, Shows: shows}}}
	case bench.DoTake, bench.DoKey:
		if step == nil {
			return no("the bench stands at no step")
		}
		g, _ := f.state.Gauge(dialName)
		if g.Zero == nil && v.Name == bench.DoTake {
			return no("gauge %q has no zero for this step", dialName)
		}
		st := b.Step(step.ID)
		if last := st.Last(); last == nil || last.Status == bench.PassIsClosed {
			n := len(st.Passes) + 1
			if _, err := f.addLocked(bench.Entry{Kind: bench.PassOpened, Place: bench.Place{Build: at.Build, Step: at.Step, Pass: n}}); err != nil {
				return no("%v", err)
			}
			at = f.state.Place
		}
		r := &bench.Reading{Gauge: dialName, Mode: string(step.Capture.Mode), Raw: f.live[dialName].Raw, Frames: [][]byte{[]byte("+" + f.live[dialName].Raw.Digits() + " in\r")}}
		if v.Name == bench.DoKey {
			r.Raw, r.Value, r.Keyed, r.Frames, r.Turns = *v.Value, *v.Value, true, nil, v.Turns
		} else {
			r.Zero = g.Zero.ID
			val, err := g.Zero.WithZero(r.Raw)
			if err != nil {
				return no("%v", err)
			}
			r.Value = val
		}
		r.Rest = at.Point == bench.DatumPoint
		drafts = append(drafts, bench.Entry{Kind: bench.ReadingTaken, Place: at, Reading: r, By: v.By})
	case bench.DoRetake:
		p := b.Step(step.ID).Last()
		for i := len(p.Readings) - 1; i >= 0 && len(drafts) == 0; i-- {
			if !p.Readings[i].Withdrawn {
				drafts = []bench.Entry{{Kind: bench.Withdrawn, Place: bench.Place{Build: at.Build, Step: at.Step, Pass: p.Number}, Refers: p.Readings[i].ID}}
			}
		}
	case bench.DoNext:
		next := 0
		if step != nil {
			next = b.Plan.Index(step.ID) + 1
		}
		if next >= len(b.Plan.Steps) {
			return no("this was the last step")
		}
		drafts = []bench.Entry{{Kind: bench.StepEntered, Place: bench.Place{Build: at.Build, Step: b.Plan.Steps[next].ID}}}
	case bench.DoGoto:
		drafts = []bench.Entry{{Kind: bench.StepEntered, Place: *v.Place}}
	case bench.DoAgain:
		drafts = []bench.Entry{{Kind: bench.PassOpened, Place: bench.Place{Build: at.Build, Step: at.Step, Pass: len(b.Step(step.ID).Passes) + 1}}}
	case bench.DoPhoto:
		drafts = []bench.Entry{{Kind: bench.Photo, Place: here, Picture: v.Picture}}
	case bench.DoGaugeCheck:
		drafts = []bench.Entry{{Kind: bench.GaugeChecked, Check: v.Check}}
	case bench.DoGaugeAdd:
		drafts = []bench.Entry{{Kind: bench.GaugeAdded, Gauge: v.Register}}
	default:
		return no("this bench cannot %s", v.Name)
	}
	a := bench.Answer{OK: true}
	for _, d := range drafts {
		d.Verb, d.By = v.ID, v.By
		e, err := f.addLocked(d)
		if err != nil {
			return no("%v", err)
		}
		a.N = e.N
		if e.Kind == bench.ReadingTaken {
			a.Words = "taken: " + e.Reading.Value.String()
			f.afterReading(e)
		}
	}
	a.Place = f.state.Place
	return a
}

// afterReading asks what is to be asked of a reading, and closes a full pass at its closing reading.
func (f *fakeBench) afterReading(e bench.Entry) {
	if f.question != nil {
		q := *f.question
		f.question = nil
		if _, err := f.addLocked(bench.Entry{Kind: bench.Asked, Place: e.Place, Question: &q, Refers: e.ID}); err != nil {
			f.tb.Error(err)
		}
	}
	if e.Place.Point == bench.DatumPoint {
		if _, err := f.addLocked(bench.Entry{Kind: bench.PassClosed, Place: bench.Place{Build: e.Place.Build, Step: e.Place.Step, Pass: e.Place.Pass}}); err != nil {
			f.tb.Error(err)
		}
	}
	f.tellLocked(monitor.Event{Notice: &bench.Notice{Tone: "taken", At: e.At, Words: e.Reading.Value.String()}})
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
