package capture

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"
	"go.uber.org/goleak"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/devices"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// rig is a bench loop with ports and a log in memory, run in a bubble of its own time: nothing in it waits for real.
type rig struct {
	tb    testing.TB
	loop  *Loop
	log   *fakeLog
	tell  *fakeTeller
	dir   string
	ports map[string]*fakePort // what is plugged in, by gauge
	mu    sync.Mutex
	stop  func() error

	logger zerolog.Logger
}

// fakeLog keeps entries; it can refuse for a while, and stop taking them at all.
type fakeLog struct {
	mu      sync.Mutex
	entries []bench.Entry
	bodies  [][]byte
	refuse  error // every append is refused
	after   int   // nothing is taken beyond so many entries: the machine was switched off; 0 = no end
}

func (f *fakeLog) Append(ctx context.Context, e bench.Entry, body []byte) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.refuse != nil {
		return f.refuse
	}
	if f.after > 0 && len(f.entries) >= f.after {
		return errors.New("switched off")
	}
	f.entries, f.bodies = append(f.entries, e), append(f.bodies, body)
	return nil
}

func (f *fakeLog) set(err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.refuse = err
}

type fakeTeller struct {
	mu      sync.Mutex
	live    []bench.Live
	notices []bench.Notice
}

func (f *fakeTeller) Live(v bench.Live) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.live = append(f.live, v)
}

func (f *fakeTeller) Notice(n bench.Notice) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.notices = append(f.notices, n)
}

// last is the newest notice with words of a tone.
func (f *fakeTeller) last(tone string) string {
	f.mu.Lock()
	defer f.mu.Unlock()
	for i := len(f.notices) - 1; i >= 0; i-- {
		if f.notices[i].Tone == tone {
			return f.notices[i].Words
		}
	}
	return ""
}

// fakePort is a line in memory.
type fakePort struct {
	in     chan []byte
	gone   chan struct{}
	closed chan struct{}
	once   sync.Once
	device string
}

func (p *fakePort) Read(b []byte) (int, error) {
	select {
	case <-p.gone:
		return 0, errors.New("input/output error")
	case f := <-p.in:
		return copy(b, f), nil
	case <-time.After(line.ReadTimeout):
		return 0, nil
	}
}

func (p *fakePort) Write(b []byte) (int, error) { return len(b), nil }

func (p *fakePort) Close() error {
	p.once.Do(func() { close(p.closed) })
	return nil
}

const rigProfile = "text-signed-decimal-unit-crlf"

// inRig runs a test in a bubble with a rig on a plan, entered and with nothing read, and a gauge dial-1 plugged in.
func inRig(t *testing.T, text string, sends bench.Sends, f func(r *rig)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		r := &rig{tb: t, log: &fakeLog{}, tell: &fakeTeller{}, dir: t.TempDir(), ports: map[string]*fakePort{}, logger: zerolog.Nop()}
		r.start()
		defer r.end()
		r.plug("dial-1")
		r.ok(bench.Verb{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: "dial-1", Profile: rigProfile, Port: r.path("dial-1"),
			Known: bench.KnownPath, Identity: r.path("dial-1"), Role: "indicator", Sends: sends}})
		r.ok(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "17", Plan: "rig", Text: text}})
		r.settle()
		f(r)
	})
}

func (r *rig) path(gauge string) string { return filepath.Join(r.dir, gauge) }

// start runs a loop on what the log holds; startOn does on a machine that was started anew.
func (r *rig) start() { r.startOn("boot-1") }

func (r *rig) startOn(boot string) {
	r.tb.Helper()
	s, chain := bench.State{Bench: "rig"}, bench.Chain{}
	for i, e := range r.log.entries {
		var err error
		if s, err = bench.Apply(s, e); err != nil {
			r.tb.Fatal(err)
		}
		if chain, err = chain.Next(e, r.log.bodies[i]); err != nil {
			r.tb.Fatal(err)
		}
	}
	profiles, err := devices.Profiles(nil)
	if err != nil {
		r.tb.Fatal(err)
	}
	l := NewLoop("rig", s, chain, bench.Results{})
	l.Log, l.Publisher, l.Logger, l.Boot, l.Lockout = r.log, r.tell, r.logger, boot, 700*time.Millisecond
	l.Profiles = map[string]devices.Profile{}
	for _, p := range append(profiles, mustBridge(r.tb)) {
		l.Profiles[p.Name] = p
	}
	ids := len(r.log.entries) * 1000
	l.NewID = func() string { ids++; return fmt.Sprintf("id-%d", ids) }
	l.Open = r.open
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- l.Run(ctx) }()
	r.loop = l
	r.stop = func() error { // an entry that was never safe is an error
		cancel()
		err := <-ended
		r.stop = func() error { return nil }
		return err
	}
	r.settle()
}

func (r *rig) end() {
	_ = r.stop() // some tests mean it to fail
}

func (r *rig) open(path string, _ devices.Line) (line.Port, string, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	p, ok := r.ports[filepath.Base(path)]
	if !ok {
		return nil, "", fmt.Errorf("port %s: %w: is the gauge plugged in and switched on?", path, line.ErrNoPort)
	}
	p.closed, p.once = make(chan struct{}), sync.Once{}
	return p, p.device, nil
}

var plugs int // each plugging-in is another device

// plug puts a gauge's plug in; unplug takes it out.
func (r *rig) plug(gauge string) {
	r.tb.Helper()
	if err := os.WriteFile(r.path(gauge), nil, 0o600); err != nil {
		r.tb.Fatal(err)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	plugs++
	r.ports[gauge] = &fakePort{in: make(chan []byte, 64), gone: make(chan struct{}), device: fmt.Sprintf("device-%d", plugs)}
}

func (r *rig) unplug(gauge string) {
	r.tb.Helper()
	r.mu.Lock()
	p := r.ports[gauge]
	delete(r.ports, gauge)
	r.mu.Unlock()
	if err := os.Remove(r.path(gauge)); err != nil {
		r.tb.Fatal(err)
	}
	close(p.gone)
	r.settle()
}

// say sends bytes from a gauge, and waits until all that follows from them is done.
func (r *rig) say(gauge, text string) {
	r.tb.Helper()
	r.mu.Lock()
	p := r.ports[gauge]
	r.mu.Unlock()
	p.in <- []byte(text)
	r.settle()
}

// shows sends a value as rigProfile has it.
func (r *rig) shows(value string) { r.say("dial-1", value+"\r\n") }

// settle waits until nothing moves any more, without letting time pass; then the loop is told that all is stored.
func (r *rig) settle() {
	synctest.Wait()
	r.loop.Outcome(context.Background(), bench.Outcome{N: r.loop.State().N})
	synctest.Wait()
}

func (r *rig) wait(d time.Duration) {
	time.Sleep(d)
	r.settle()
}

func (r *rig) ask(v bench.Verb) bench.Answer {
	if v.ID == "" {
		plugs++
		v.ID = fmt.Sprintf("verb-%d", plugs)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	a := r.loop.Do(ctx, v)
	r.settle()
	return a
}

func (r *rig) ok(v bench.Verb) bench.Answer {
	r.tb.Helper()
	a := r.ask(v)
	if !a.OK {
		r.tb.Fatalf("%s: %s", v.Name, a.Words)
	}
	return a
}

// no asks what must be refused, with these words in it.
func (r *rig) no(v bench.Verb) string {
	r.tb.Helper()
	a := r.ask(v)
	if a.OK {
		r.tb.Fatalf("%s was done: %s", v.Name, a.Words)
	}
	return a.Words
}

// kinds are the kinds of the entries from a number on.
func (r *rig) kinds(from uint64) []bench.Kind {
	var out []bench.Kind
	r.log.mu.Lock()
	defer r.log.mu.Unlock()
	for _, e := range r.log.entries {
		if e.N >= from {
			out = append(out, e.Kind)
		}
	}
	return out
}

func (r *rig) pass() *bench.Pass {
	b, step := r.loop.State().Current()
	return b.Step(step.ID).Last()
}

func mustParse(tb testing.TB, s string) *quantity.Value {
	tb.Helper()
	v, err := quantity.Parse(s)
	if err != nil {
		tb.Fatal(err)
	}
	return &v
}

// rigPlan is a step of four points on two cylinders; more is put into the step and into each point.
func rigPlan(mode, step, point string) string {
	return `
title = "Rig"
version = 1
cylinders = ["left", "right"]

[[step]]
id = "height"
title = "Heights"
do = "Read the heights."
phase = "dry"
kind = "measure"
capture = { mode = "` + mode + `", role = "indicator" }
` + step + `

    [[step.point]]
    for = "cylinder"
    id = "{cylinder}.a"
    title = "{cylinder}, a"
    do = "Read {cylinder} a."
` + point + `

    [[step.point]]
    for = "cylinder"
    id = "{cylinder}.b"
    title = "{cylinder}, b"
    do = "Read {cylinder} b."
` + point + `
`
}

const datum = `datum = { do = "Rest it on the face.", size = "0 in", close = true, drift = "0.001 in" }`
