package bench_test

import (
	"fmt"
	"slices"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// play is a bench without a service: events are decided, their entries numbered and applied, and what follows too.
type play struct {
	tb testing.TB
	sc bench.Scene
	n  int
}

func newPlay(tb testing.TB, text string, gauges ...bench.Gauge) *play {
	tb.Helper()
	p := &play{tb: tb, sc: bench.Scene{State: bench.State{Bench: "rules"}, Now: 1_000_000, Boot: "boot", Newest: map[string]bench.Sample{},
		Armed: map[string]bench.Arming{}, Profiles: map[string]bench.Manners{"any": {}}, Keys: map[string]string{"take": bench.DoTake}}}
	for _, g := range gauges {
		p.ok(bench.Verb{Name: bench.DoGaugeAdd, Register: &g})
		p.ok(bench.Linked{Gauge: g.Name, Up: true, Device: "d"})
	}
	p.ok(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "17", Plan: "rules", Text: text}})
	return p
}

// dial is a gauge that streams.
func dial(name, role string) bench.Gauge {
	return bench.Gauge{Name: name, Role: role, Profile: "any", Known: bench.KnownPath, Identity: name, Sends: bench.SendsStream}
}

// do decides an event and lets what comes of it happen.
func (p *play) do(ev bench.Event) (bench.Decision, error) {
	p.tb.Helper()
	d, err := bench.Decide(p.sc, ev)
	delete(p.sc.Armed, d.Disarm)
	if d.Arm != "" {
		v, _ := ev.(bench.Verb)
		p.sc.Armed[d.Arm] = bench.Arming{Verb: v, At: p.sc.Now}
	}
	if d.End {
		p.sc.Sweep = nil
	}
	if d.Begin != nil {
		p.sc.Sweep = d.Begin
	}
	if err != nil {
		return d, err
	}
	last := bench.Entry{}
	for entries := d.Entries; len(entries) > 0; entries = bench.Follow(p.sc, last) {
		for _, e := range entries {
			last = p.make(e)
		}
	}
	return d, nil
}

func (p *play) make(e bench.Entry) bench.Entry {
	p.tb.Helper()
	p.n++
	e.V, e.Bench, e.N, e.ID, e.At, e.Boot, e.Up = bench.Version, "rules", uint64(p.n), fmt.Sprintf("id-%d", p.n), p.sc.Now, p.sc.Boot, p.sc.Up
	next, err := bench.Apply(p.sc.State, e)
	if err != nil {
		p.tb.Fatalf("a decided entry means nothing: %v", err)
	}
	p.sc.State, p.sc.Committed = next, e.N
	return e
}

func (p *play) ok(ev bench.Event) bench.Decision {
	p.tb.Helper()
	d, err := p.do(ev)
	if err != nil {
		p.tb.Fatalf("%+v: %v", ev, err)
	}
	return d
}

// no asks what must be refused and gives the words.
func (p *play) no(ev bench.Event) string {
	p.tb.Helper()
	if _, err := p.do(ev); err != nil {
		return err.Error()
	}
	p.tb.Fatalf("%+v was done", ev)
	return ""
}

// shows lets a gauge show a value.
func (p *play) shows(gauge, value string) {
	p.tb.Helper()
	v, err := quantity.Parse(value)
	if err != nil {
		p.tb.Fatal(err)
	}
	p.sc.Newest[gauge] = bench.Sample{At: p.sc.Now, Value: v, Text: value, Frame: []byte(value)}
}

func (p *play) take(gauge, value string) {
	p.tb.Helper()
	p.shows(gauge, value)
	p.ok(bench.Verb{Name: bench.DoTake})
}

// step is one step of a plan; points are put in as they are.
func stepText(id, capture, more, points string) string {
	return fmt.Sprintf("\n[[step]]\nid = %q\ntitle = %q\ndo = \"Do it.\"\nphase = \"dry\"\nkind = \"measure\"\ncapture = %s\n%s\n%s\n", id, id, capture, more, points)
}

func pointText(id, more string) string {
	return fmt.Sprintf("[[step.point]]\nid = %q\ntitle = %q\ndo = \"Read %s.\"\n%s\n", id, id, id, more)
}

const head = "title = \"Rules\"\nversion = 1\ncylinders = [\"left\", \"right\"]\n"

// standing is the text of the reading that stands at a point of the newest pass.
func (p *play) standing(point string) string {
	b, step := p.sc.State.Current()
	if last := b.Step(step.ID).Last(); last != nil {
		if r, ok := last.Standing(point, 1); ok {
			return r.Value.String()
		}
	}
	return ""
}

// The closing datum of a step that is swept is rested on and pressed. What is offered first is what is accepted.
func TestTheDatumOfASweptStepIsTakenNotSwept(t *testing.T) {
	text := head + stepText("lift", `{ mode = "swing", role = "indicator" }`, `datum = { do = "On the base circle.", close = true }`, pointText("left.inlet", ""))
	p := newPlay(t, text, dial("dial-1", "indicator"))
	p.shows("dial-1", "0.0000 in")
	p.ok(bench.Verb{Name: bench.DoZero})
	p.ok(bench.Verb{Name: bench.DoSweep})
	for _, v := range []string{"0.0000 in", "0.3000 in", "0.0010 in"} {
		p.shows("dial-1", v)
		if !p.ok(bench.Heard{Gauge: "dial-1", Sample: p.sc.Newest["dial-1"]}).Collect {
			t.Fatal("the sweep does not collect")
		}
		p.sc.Sweep.Add("dial-1", p.sc.Newest["dial-1"])
	}
	p.ok(bench.Verb{Name: bench.DoSweep})
	p.shows("dial-1", "0.0000 in")
	if now, v := bench.NowOf(p.sc); now != bench.NowDatum || v == nil || v.Name != bench.DoTake {
		t.Fatalf("now %s, first %+v; want the datum, taken", now, v)
	}
	if words := p.no(bench.Verb{Name: bench.DoSweep}); words == "" {
		t.Error("refused without words")
	}
	p.ok(bench.Offers(p.sc)[0].Verb)
	b, step := p.sc.State.Current()
	if got := b.Step(step.ID).Last().Status; got != bench.PassIsClosed {
		t.Errorf("the pass is %s, want closed", got)
	}
}

// Whoever goes to a point before a pass is opened, the first or a later one, reads that point.
func TestThePointGoneToIsTheOneRead(t *testing.T) {
	text := head + stepText("height", `{ mode = "press", role = "indicator" }`, "", pointText("left", "")+pointText("right", ""))
	p := newPlay(t, text, dial("dial-1", "indicator"))
	for pass := 1; pass <= 2; pass++ {
		p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "height", Point: "right"}})
		if pass == 2 {
			p.ok(bench.Verb{Name: bench.DoAgain})
			p.ok(bench.Verb{Name: bench.DoGoto, Place: &bench.Place{Step: "height", Point: "right"}})
		}
		if sp := bench.SpotOf(p.sc); sp.Place.Point != "right" || sp.Place.Pass != pass {
			t.Fatalf("pass %d: the next reading is said to belong at %s", pass, sp.Place)
		}
		p.take("dial-1", fmt.Sprintf("0.%d000 in", pass))
		if got := p.standing("right"); got != fmt.Sprintf("0.%d000 in", pass) {
			t.Errorf("pass %d: right holds %q", pass, got)
		}
		p.take("dial-1", "0.5000 in") // left, and the pass is closed
	}
}

// A pass that is to be opened begins at a point of another role: that role's gauge reads it.
func TestTheFirstPointOfANextPassIsReadByItsOwnGauge(t *testing.T) {
	text := head + stepText("fit", `{ mode = "press", role = "indicator" }`, "", pointText("left", `role = "bore"`)+pointText("right", "")) + `
[step.compute]
method = "statistics"
per = "pass"
[step.compute.inputs]
values = ["@readings:*"]
[step.compute.limits]
greatest = { upper = "0.001 in", source = "a test's" }
`
	p := newPlay(t, text, dial("dial-1", "indicator"), dial("bore-1", "bore"))
	p.shows("dial-1", "0.2000 in")
	p.take("bore-1", "0.1000 in")
	p.take("dial-1", "0.2000 in")
	out := bench.Result{Build: "17", Step: "fit", Pass: 1}
	out.Verdict = "out"
	p.sc.Results = p.sc.Results.With(out)
	sp := bench.SpotOf(p.sc)
	if !sp.Opens || sp.Place.Point != "left" || sp.Role != "bore" || sp.Gauge == nil || sp.Gauge.Name != "bore-1" {
		t.Fatalf("pass 2 begins at %s with %+v of role %q", sp.Place, sp.Gauge, sp.Role)
	}
	p.shows("dial-1", "0.2000 in")
	p.shows("bore-1", "0.1100 in")
	p.ok(bench.Verb{Name: bench.DoTake})
	if got := p.standing("left"); got != "0.1100 in" {
		t.Errorf("left holds %q, the indicator's value instead of the bore gauge's", got)
	}
}

// A role that no plan knows is refused with the one that was meant.
func TestAGaugeOfNoRoleIsRefused(t *testing.T) {
	p := newPlay(t, head+stepText("height", `{ mode = "press", role = "indicator" }`, "", pointText("left", "")))
	for _, role := range []string{"banana", "boregauge", ""} {
		g := dial("dial-1", role)
		if words := p.no(bench.Verb{Name: bench.DoGaugeAdd, Register: &g}); words == "" {
			t.Errorf("%q is refused without words", role)
		}
	}
}

// A verb asked twice is done once; one whose sender saw another place is refused, unless it means no place.
func TestAVerbIsDoneOnceAndWhereItWasMeant(t *testing.T) {
	text := head + stepText("height", `{ mode = "press", role = "indicator" }`, "", pointText("left", "")+pointText("right", ""))
	p := newPlay(t, text, dial("dial-1", "indicator"))
	seen := p.sc.State.Place
	p.shows("dial-1", "0.1000 in")
	take := bench.Verb{ID: "v1", Name: bench.DoTake, Seen: &seen}
	p.ok(take)
	if d := p.ok(take); d.Done == 0 || len(d.Entries) != 0 {
		t.Errorf("asked again: %+v", d)
	}
	if words := p.no(bench.Verb{ID: "v2", Name: bench.DoTake, Seen: &seen}); words == "" {
		t.Error("no words")
	}
	p.ok(bench.Verb{ID: "v3", Name: bench.DoDropped, Item: "washer", Seen: &seen})
}

// Who wrote an entry can be asked years later: a program that begins names its version once, and again only when another
// one begins. A ledger of before, that names none, is named a program and nothing else.
func TestTheProgramIsNamedOnceAVersion(t *testing.T) {
	s := bench.State{Bench: "rules"}
	var said []string
	for _, program := range []string{"1.0.0", "1.0.0", "1.1.0", "1.1.0", "1.0.0"} {
		for _, e := range bench.Namings(s, bench.RulesNow(program), nil, "") {
			e.V, e.Bench, e.N = bench.Version, "rules", uint64(len(said)+1)
			var err error
			if s, err = bench.Apply(s, e); err != nil {
				t.Fatal(err)
			}
			said = append(said, bench.SaysOf(e)...)
		}
	}
	if want := []string{"by thoud 1.0.0", "by thoud 1.1.0", "by thoud 1.0.0"}; !slices.Equal(said, want) {
		t.Errorf("named %q, want %q", said, want)
	}
	old := bench.RulesNow("")
	s.Rules = &old
	if list := bench.Namings(s, bench.RulesNow(""), nil, ""); len(list) != 0 {
		t.Errorf("a program without a version is named again: %+v", list)
	}
}
