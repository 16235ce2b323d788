package pipeline_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/pipeline"
)

// fakeLedger keeps in memory what a recorder gives it; it can refuse for a while.
type fakeLedger struct {
	entries     []bench.Entry
	quarantined []string
	at          pipeline.Position
	full        atomic.Bool // it takes nothing
	unsynced    uint64      // how far what outlives a power cut lags behind
	builds      map[string]*bench.Build
}

var errNoRoom = errors.New("no room left on the disk")

func (f *fakeLedger) refuse() error {
	if f.full.Load() {
		return errNoRoom
	}
	return nil
}

func (f *fakeLedger) Record(_ context.Context, e bench.Entry, _ []byte, _ bench.Seal, _ []bench.Result, at pipeline.Position) error {
	if err := f.refuse(); err != nil {
		return err
	}
	f.entries, f.at = append(f.entries, e), at
	return nil
}

func (f *fakeLedger) Quarantine(_ context.Context, body []byte, why string, at pipeline.Position) error {
	if err := f.refuse(); err != nil {
		return err
	}
	f.quarantined, f.at = append(f.quarantined, why), at
	return nil
}

func (f *fakeLedger) Has(_ context.Context, id string) (bool, error) {
	for _, e := range f.entries {
		if e.ID == id {
			return true, nil
		}
	}
	return false, f.refuse()
}

func (f *fakeLedger) Build(_ context.Context, job string, _ uint64) (*bench.Build, bench.Results, error) {
	b, ok := f.builds[job]
	if !ok {
		return nil, bench.Results{}, fmt.Errorf("no build %s", job)
	}
	return b, bench.Results{}, f.refuse()
}

func (f *fakeLedger) Engine(_ context.Context, engine string, upTo uint64) (*bench.Engine, error) {
	s := bench.State{}
	for _, e := range f.entries {
		if bench.EngineOf(e) == engine && e.N <= upTo {
			s, _ = bench.Apply(s, e)
		}
	}
	if g, ok := s.Record(engine); ok {
		return g, f.refuse()
	}
	return &bench.Engine{Name: engine}, f.refuse()
}

func (f *fakeLedger) Synced() pipeline.Position {
	if f.unsynced > f.at.Seq {
		return pipeline.Position{Generation: f.at.Generation}
	}
	return pipeline.Position{Generation: f.at.Generation, Seq: f.at.Seq - f.unsynced}
}

// fakeStream gives messages one by one and then is dry.
type fakeStream struct {
	bodies  [][]byte
	next    int
	trimmed []uint64
}

func (f *fakeStream) Next(context.Context) (pipeline.Message, error) {
	if f.next == len(f.bodies) {
		return pipeline.Message{}, pipeline.ErrDry
	}
	f.next++
	return pipeline.Message{Seq: uint64(f.next), Body: f.bodies[f.next-1]}, nil
}

func (f *fakeStream) Generation() string { return "g" }

func (f *fakeStream) Trim(_ context.Context, below uint64) error {
	f.trimmed = append(f.trimmed, below)
	return nil
}

// chainOf makes so many entries, numbered and sealed, of a bench whose ids begin with a text.
func chainOf(tb testing.TB, n int, ids string) [][]byte {
	tb.Helper()
	var out [][]byte
	c := bench.Chain{}
	for i := range n {
		e, body, err := c.Number(bench.Entry{Bench: "one", ID: fmt.Sprintf("%s-%d", ids, i), Kind: bench.GaugeAdded,
			Gauge: &bench.Gauge{Name: fmt.Sprintf("%s-%d", ids, i), Role: "indicator"}})
		if err != nil {
			tb.Fatal(err)
		}
		if c, err = c.Next(e, body); err != nil {
			tb.Fatal(err)
		}
		out = append(out, body)
	}
	return out
}

// told is what a recorder said.
type told struct {
	outcomes []uint64
	setAside []string // ids of entries told as set aside: whose they are must stop
	alarms   []string
}

func recorder(l pipeline.Ledger) (*pipeline.Recorder, *told) {
	t := &told{}
	return &pipeline.Recorder{Ledger: l, Log: zerolog.Nop(), Keep: 100, Wait: func(int) time.Duration { return time.Second },
		Tell: func(o bench.Outcome) {
			if o.Trouble != "" {
				t.setAside = append(t.setAside, o.ID)
			} else {
				t.outcomes = append(t.outcomes, o.N)
			}
		},
		Alarm: func(source, words string) { t.alarms = append(t.alarms, source+": "+words) }}, t
}

// What does not follow, and what is no entry at all, is set aside with an alarm; what comes again is passed over; the
// rest is recorded in order.
func TestOnlyWhatFollowsIsRecorded(t *testing.T) {
	own, other := chainOf(t, 4, "own"), chainOf(t, 4, "other")
	l := &fakeLedger{}
	r, told := recorder(l)
	src := &fakeStream{bodies: [][]byte{own[0], own[1], other[1], own[1], []byte("no entry"), own[3], own[2], other[3], own[3]}}
	if err := r.Run(context.Background(), src); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]uint64{1, 2, 3, 4}, told.outcomes); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"other-1", "own-3", "other-3"}, told.setAside); diff != "" {
		t.Errorf("told as set aside (-want +got):\n%s", diff)
	}
	if r.Chain.N != 4 || len(r.State.Gauges) != 4 || len(l.entries) != 4 {
		t.Errorf("recorded up to %d, %d gauges, %d entries", r.Chain.N, len(r.State.Gauges), len(l.entries))
	}
	for i, want := range []string{"entry 2 after 2: does not follow the ledger", "cannot be decoded", "entry 4 after 2: does not follow", "is sealed onto"} {
		if i >= len(l.quarantined) || !strings.Contains(l.quarantined[i], want) {
			t.Errorf("quarantined %q, want %q in number %d", l.quarantined, want, i)
		}
	}
	if len(told.alarms) != 4 || !strings.Contains(told.alarms[0], "quarantine: message 3 does not belong to this ledger and is set aside") {
		t.Errorf("alarms %q", told.alarms)
	}
	if l.at != (pipeline.Position{Generation: "g", Seq: 9}) {
		t.Errorf("it stands at %+v", l.at)
	}
}

// While the ledger takes nothing the entry is tried again and again, told once, and told when it is over; the state
// stays what is stored.
func TestALedgerThatTakesNothingForAWhile(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &fakeLedger{}
		l.full.Store(true)
		r, told := recorder(l)
		done := make(chan error, 1)
		go func() { done <- r.Run(context.Background(), &fakeStream{bodies: chainOf(t, 3, "own")}) }()
		time.Sleep(time.Minute)
		synctest.Wait()
		if r.State.N != 0 || len(told.outcomes) != 0 || len(told.alarms) != 1 || !strings.Contains(told.alarms[0], "no room left on the disk. The entry is safe on the bus") {
			t.Errorf("meanwhile: state at %d, outcomes %v, alarms %q", r.State.N, told.outcomes, told.alarms)
		}
		l.full.Store(false)
		if err := <-done; err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff([]uint64{1, 2, 3}, told.outcomes); diff != "" {
			t.Error(diff)
		}
		if len(told.alarms) != 2 || told.alarms[1] != "ledger: " {
			t.Errorf("alarms %q, want the first taken back", told.alarms)
		}
	})
}

// A recorder that is told to stop while the ledger takes nothing stops; the message is given again at the next start.
func TestStoppedWhileTheLedgerTakesNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &fakeLedger{}
		l.full.Store(true)
		r, _ := recorder(l)
		ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
		defer cancel()
		bodies := chainOf(t, 2, "own")
		if err := r.Run(ctx, &fakeStream{bodies: bodies}); !errors.Is(err, context.DeadlineExceeded) {
			t.Fatalf("stopped with %v", err)
		}
		l.full.Store(false)
		if err := r.Run(context.Background(), &fakeStream{bodies: bodies}); err != nil || r.Chain.N != 2 {
			t.Errorf("at the next start: %v, recorded up to %d", err, r.Chain.N)
		}
	})
}

// The stream forgets what is recorded, but for so many messages.
func TestTheStreamIsTrimmed(t *testing.T) {
	r, _ := recorder(&fakeLedger{})
	src := &fakeStream{bodies: chainOf(t, 2100, "own")}
	if err := r.Run(context.Background(), src); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]uint64{900, 1900}, src.trimmed); diff != "" {
		t.Error(diff)
	}
}

// What the ledger has taken but not yet forced to the disk is in the stream alone after a power cut: it is not forgotten.
func TestTheStreamKeepsWhatIsNotSynced(t *testing.T) {
	l := &fakeLedger{unsynced: 1500}
	r, _ := recorder(l)
	src := &fakeStream{bodies: chainOf(t, 2100, "own")}
	if err := r.Run(context.Background(), src); err != nil {
		t.Fatal(err)
	}
	for _, below := range src.trimmed {
		if below > 2100-1500-100 {
			t.Errorf("forgotten below %d, synced is %d, and 100 more are kept", below, 2100-1500)
		}
	}
	if len(src.trimmed) == 0 {
		t.Error("nothing was forgotten: the test shows nothing")
	}
}

// A ledger of more builds than are kept in memory: the recorder lets go of the oldest, and loads one that is written to
// again. A snapshot is handed out on the way.
func TestBuildsComeAndGo(t *testing.T) {
	l := &fakeLedger{builds: map[string]*bench.Build{}}
	r, _ := recorder(l)
	snapshots := 0
	r.Snapshot = func(s bench.State, c bench.Chain, _ bench.Results) {
		snapshots++
		for _, b := range s.Builds {
			l.builds[b.Job] = b
		}
	}
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	c, src := bench.Chain{}, &fakeStream{}
	add := func(e bench.Entry) {
		e.Bench, e.ID = "one", fmt.Sprint("id-", c.N)
		made, body, err := c.Number(e)
		if err == nil {
			c, err = c.Next(made, body)
		}
		if err != nil {
			t.Fatal(err)
		}
		src.bodies = append(src.bodies, body)
	}
	for i := range bench.InWork + 2 {
		add(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: fmt.Sprint("b", i), Plan: "first-fit", Text: string(text)}})
	}
	add(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "b0", Step: "guide-clearance"}})
	if err := r.Run(context.Background(), src); err != nil {
		t.Fatal(err)
	}
	if len(l.quarantined) != 0 || len(r.State.Builds) != bench.InWork || len(r.State.Index) != bench.InWork+2 || snapshots == 0 {
		t.Errorf("%d set aside, %d builds in memory, %d listed, %d snapshots", len(l.quarantined), len(r.State.Builds), len(r.State.Index), snapshots)
	}
	if b, ok := r.State.Build("b0"); !ok || !b.Step("guide-clearance").Entered {
		t.Error("what was written to an older build is not in its state")
	}
}

// What is found behind damage is taken as far as the next one found is sealed onto it, and not a byte of it on trust: an
// entry that reads well but was not written so is set aside, and so is what follows it.
func TestWhatIsFoundIsTakenOnlyWhereItIsSealed(t *testing.T) {
	bodies := chainOf(t, 6, "own")
	l := &fakeLedger{}
	r, told := recorder(l)
	if err := r.Run(context.Background(), &fakeStream{bodies: bodies[:1]}); err != nil {
		t.Fatal(err)
	}
	var found []pipeline.Found
	for i, body := range bodies {
		if i == 3 {
			body = []byte(strings.Replace(string(body), `"role":"indicator"`, `"role":"indicatox"`, 1))
		}
		e, err := bench.Decode(body)
		if err != nil {
			t.Fatal(err)
		}
		found = append(found, pipeline.Found{N: e.N, Prev: e.Prev, Body: body})
	}
	if err := r.Rescue(context.Background(), found, pipeline.Position{Generation: "g", Seq: 1}); err != nil {
		t.Fatal(err)
	}
	if r.Chain.N != 3 || len(l.quarantined) != 3 {
		t.Errorf("taken up to %d, %d set aside; want 3 and 3: %q", r.Chain.N, len(l.quarantined), l.quarantined)
	}
	if aside := r.SetAside(); aside.Entries != 3 || aside.First != 4 || aside.Last != 6 {
		t.Errorf("set aside %+v", aside)
	}
	if len(told.setAside) != 3 {
		t.Errorf("told as set aside: %v", told.setAside)
	}
}
