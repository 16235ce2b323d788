package bench_test

import (
	"encoding/json"
	"fmt"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// book writes entries the way the bench loop does: numbered, sealed, one after the other.
type book struct {
	chain   bench.Chain
	state   bench.State
	entries []bench.Entry
	bodies  [][]byte
}

func (k *book) write(tb interface{ Fatalf(string, ...any) }, e bench.Entry) bench.Entry {
	e.Bench, e.ID, e.At = "test", fmt.Sprintf("id-%d", k.chain.N+1), int64(k.chain.N+1)*1_000_000
	numbered, body, err := k.chain.Number(e)
	if err != nil {
		tb.Fatalf("number: %v", err)
	}
	if k.chain, err = k.chain.Next(numbered, body); err != nil {
		tb.Fatalf("next: %v", err)
	}
	k.state, _ = bench.Apply(k.state, numbered)
	k.entries = append(k.entries, numbered)
	k.bodies = append(k.bodies, body)
	return numbered
}

func length(tb interface{ Fatalf(string, ...any) }, s string) quantity.Value {
	v, err := quantity.Parse(s)
	if err != nil {
		tb.Fatalf("%v", err)
	}
	return v
}

// begin writes a gauge, a build on the shipped first-fit plan and its first step.
func begin(tb interface{ Fatalf(string, ...any) }) *book {
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		tb.Fatalf("%v", err)
	}
	k := &book{}
	k.write(tb, bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "dial-1", Role: "indicator", Profile: "p", Known: bench.KnownPath}})
	k.write(tb, bench.Entry{Kind: bench.GaugeBack, Link: &bench.Link{Gauge: "dial-1", Port: "/x", Device: "d1"}})
	k.write(tb, bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: "17", Plan: "first-fit", Text: string(text)}})
	k.write(tb, bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "17", Step: "guide-clearance"}})
	return k
}

func (k *book) pass(tb interface{ Fatalf(string, ...any) }, n int) {
	k.write(tb, bench.Entry{Kind: bench.PassOpened, Place: bench.Place{Build: "17", Step: "guide-clearance", Pass: n}})
}

// read takes a reading where the bench stands.
func (k *book) read(tb interface{ Fatalf(string, ...any) }, value string) bench.Entry {
	v := length(tb, value)
	return k.write(tb, bench.Entry{Kind: bench.ReadingTaken, Place: k.state.Place, Reading: &bench.Reading{Gauge: "dial-1", Raw: v, Value: v}})
}

func (k *book) step() *bench.StepState {
	b, _ := k.state.Build("17")
	return b.Step("guide-clearance")
}

func TestReadingsFillThePassInPlanOrder(t *testing.T) {
	k := begin(t)
	if got := k.state.Place.Point; got != "left.start" {
		t.Errorf("on entering the bench stands at %q, want left.start", got)
	}
	k.pass(t, 1)
	var walked []string
	for range 4 {
		walked = append(walked, k.state.Place.Point)
		k.read(t, "0.3000 in")
	}
	if want := []string{"left.start", "right.start", "left.contact", "right.contact"}; !cmp.Equal(walked, want) {
		t.Errorf("walked %v, want %v", walked, want)
	}
	if p := k.step().Pass(1); p.Status != bench.PassIsFull {
		t.Errorf("pass is %s after its last point, want full", p.Status)
	}
	if k.state.Place.Point != bench.DatumPoint {
		t.Errorf("a step that closes on its datum stands at %q, want the datum", k.state.Place.Point)
	}
	if k.step().InForce() != nil {
		t.Error("a full pass counts before it is closed")
	}
	k.write(t, bench.Entry{Kind: bench.PassClosed, Place: bench.Place{Build: "17", Step: "guide-clearance", Pass: 1}})
	if k.step().InForce() == nil {
		t.Error("a closed pass is not in force")
	}
}

func TestWithdrawnMakesItsPointCurrentAgainAndKeepsTheReading(t *testing.T) {
	k := begin(t)
	k.pass(t, 1)
	first := k.read(t, "0.3000 in")
	k.read(t, "0.3010 in")
	k.write(t, bench.Entry{Kind: bench.Withdrawn, Place: bench.Place{Build: "17", Step: "guide-clearance", Pass: 1}, Refers: first.ID})
	if got, want := k.state.Place.Point, "left.start"; got != want {
		t.Errorf("stands at %q, want %q", got, want)
	}
	p := k.step().Pass(1)
	if _, ok := p.Standing("left.start", 1); ok {
		t.Error("a withdrawn reading still stands")
	}
	if len(p.Readings) != 2 || !p.Readings[0].Withdrawn {
		t.Error("the withdrawn reading is not kept")
	}
	k.read(t, "0.2990 in")
	if r, _ := p.Standing("left.start", 1); r.N != 0 {
		t.Error("an earlier state changed under its reader's hands")
	}
	if r, ok := k.step().Pass(1).Standing("left.start", 1); !ok || r.Value.String() != "0.2990 in" {
		t.Errorf("standing reading %v, want 0.2990 in", r.Value)
	}
}

func TestVoidPassCountsForNothing(t *testing.T) {
	k := begin(t)
	k.pass(t, 1)
	for range 4 {
		k.read(t, "0.3000 in")
	}
	k.write(t, bench.Entry{Kind: bench.PassVoid, Reason: "the block moved", Place: bench.Place{Build: "17", Step: "guide-clearance", Pass: 1}})
	if k.step().InForce() != nil || k.step().Last() != nil {
		t.Error("a void pass still counts")
	}
	if got := k.step().NextPass(); got != 2 {
		t.Errorf("next pass %d, want 2: a void pass keeps its number", got)
	}
	k.pass(t, 2)
	if got := k.state.Place.Point; got != "left.start" {
		t.Errorf("after a void pass stands at %q, want left.start: its readings do not carry over", got)
	}
}

func TestOnceReadingsStandInLaterPasses(t *testing.T) {
	k := begin(t)
	k.pass(t, 1)
	for range 4 {
		k.read(t, "0.3000 in")
	}
	k.write(t, bench.Entry{Kind: bench.PassClosed, Place: bench.Place{Build: "17", Step: "guide-clearance", Pass: 1}})
	k.pass(t, 2)
	if got := k.state.Place.Point; got != "left.now" {
		t.Errorf("second pass begins at %q, want left.now", got)
	}
}

func TestZeroLostIsGoneUntilSetAgain(t *testing.T) {
	k := begin(t)
	raw := length(t, "0.1250 in")
	set := bench.Entry{Kind: bench.ZeroSet, Place: bench.Place{Build: "17", Step: "guide-clearance", Pass: 1}, Zero: &bench.Zero{Gauge: "dial-1", Raw: raw, Shows: length(t, "0.0000 in"), Device: "d1"}}
	z := k.write(t, set)
	b, step := k.state.Current()
	g, _ := k.state.Gauge("dial-1")
	at := bench.Place{Build: b.Job, Step: step.ID, Pass: 1}
	if _, missing := bench.ZeroAt(g, *step, at); missing != "" {
		t.Fatalf("zero does not count: %s", missing)
	}
	if _, missing := bench.ZeroAt(g, *step, bench.Place{Build: "18", Step: step.ID}); missing == "" {
		t.Error("the zero of one build counts in another")
	}
	k.write(t, bench.Entry{Kind: bench.ZeroLost, Item: "dial-1", Refers: z.ID, Reason: "unplugged"})
	g, _ = k.state.Gauge("dial-1")
	if _, missing := bench.ZeroAt(g, *step, at); missing == "" {
		t.Error("a lost zero still counts")
	}
	k.write(t, set)
	g, _ = k.state.Gauge("dial-1")
	if _, missing := bench.ZeroAt(g, *step, at); missing != "" {
		t.Errorf("set again it does not count: %s", missing)
	}
}

// randomEntry draws an entry that may or may not mean anything where it lands: the fold must stand all of them.
func randomEntry(t *rapid.T, k *book) bench.Entry {
	kinds := []bench.Kind{bench.GaugeLost, bench.GaugeBack, bench.StepEntered, bench.PassOpened, bench.PassClosed, bench.PassVoid,
		bench.ZeroSet, bench.ZeroLost, bench.ReadingTaken, bench.ReadingTaken, bench.ReadingTaken, bench.Withdrawn, bench.Confirmed,
		bench.Signed, bench.Reopened, bench.Asked, bench.Answered, bench.Dropped, bench.Found, bench.Overridden, "unheard-of"}
	v := quantity.OfLength(rapid.Int64Range(-1e9, 1e9).Draw(t, "n"), quantity.Base(quantity.Length), 4)
	e := bench.Entry{Kind: rapid.SampledFrom(kinds).Draw(t, "kind"), Place: bench.Place{Build: "17",
		Step: rapid.SampledFrom([]string{"guide-clearance", "crank-runout", "", "nowhere"}).Draw(t, "step"), Pass: rapid.IntRange(0, 4).Draw(t, "pass"),
		Point: rapid.SampledFrom([]string{"left.start", "right.now", "45deg", bench.DatumPoint, ""}).Draw(t, "point"), Seating: 1},
		Link: &bench.Link{Gauge: "dial-1", Port: "/x", Device: "d2"}, Zero: &bench.Zero{Gauge: "dial-1", Raw: v, Shows: v},
		Reading: &bench.Reading{Gauge: "dial-1", Raw: v, Value: v}, Item: "dial-1", Initials: "ab", Reason: "r", Verb: rapid.SampledFrom([]string{"", "v1", "v2"}).Draw(t, "verb"),
		Question: &bench.Question{Guard: "range", Choices: []string{"as read"}}, Override: &bench.Override{What: "needs", Name: "crank-runout"}}
	if n := len(k.entries); n > 0 {
		e.Refers = k.entries[rapid.IntRange(0, n-1).Draw(t, "refers")].ID
	}
	return e
}

// Any sequence of entries folds to the same state however it is split, and whether or not it went through its bytes.
func TestFoldIsTheSameHoweverSplit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := begin(t)
		for range rapid.IntRange(1, 40).Draw(t, "entries") {
			k.write(t, randomEntry(t, k))
		}
		cut := rapid.IntRange(0, len(k.entries)).Draw(t, "cut")
		half := fold(t, bench.State{}, k.bodies[:cut])
		before := mustJSON(t, half)
		whole := fold(t, half, k.bodies[cut:])
		if got, want := mustJSON(t, whole), mustJSON(t, k.state); got != want {
			t.Fatalf("split at %d folds to another state:\n%s\n%s", cut, got, want)
		}
		if mustJSON(t, half) != before {
			t.Fatal("folding on changed the state it began from")
		}
	})
}

func fold(t *rapid.T, s bench.State, bodies [][]byte) bench.State {
	for _, body := range bodies {
		e, err := bench.Decode(body)
		if err != nil {
			t.Fatalf("%v", err)
		}
		s, _ = bench.Apply(s, e)
	}
	return s
}

func mustJSON(t *rapid.T, v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return string(b)
}

func TestChainRefusesWhatDoesNotFollow(t *testing.T) {
	k := begin(t)
	e, body, err := k.chain.Number(bench.Entry{Bench: "test", ID: "x", Kind: bench.GaugeLost})
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		name   string
		change func(*bench.Entry)
	}{
		{"number skipped", func(e *bench.Entry) { e.N++ }},
		{"number again", func(e *bench.Entry) { e.N-- }},
		{"other chain", func(e *bench.Entry) { e.Prev = bench.Seal{1}.String() }},
	} {
		bad := e
		tc.change(&bad)
		if _, err := k.chain.Next(bad, body); err == nil {
			t.Errorf("%s: accepted", tc.name)
		}
	}
	if _, err := k.chain.Next(e, body); err != nil {
		t.Errorf("the entry that follows is refused: %v", err)
	}
}

// The seal is SHA-256 of the seal before and the bytes: the digest of "abc" after 32 zero bytes, computed independently
// with sha256sum.
func TestSealIsSHA256OverTheSealBeforeAndTheBytes(t *testing.T) {
	const want = "365aa7d8f7f9402c4b9434502b4cc89ddb09fe50d7cd95b493b834c62d5a5370"
	if got := (bench.Seal{}).After([]byte("abc")).String(); got != want {
		t.Errorf("seal %s, want %s", got, want)
	}
}
