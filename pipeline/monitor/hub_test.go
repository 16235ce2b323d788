package monitor

import (
	"context"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// stillBench is a bench in which a test changes the state by hand.
type stillBench struct {
	state  bench.State
	scenes int
}

func (s *stillBench) State() bench.State       { return s.state }
func (s *stillBench) Results() bench.Results   { return bench.Results{} }
func (s *stillBench) Live() []bench.Live       { return nil }
func (s *stillBench) Troubles() []bench.Notice { return nil }
func (s *stillBench) Scene() bench.Scene {
	s.scenes++
	return bench.Scene{State: s.state, Committed: s.state.N, Now: time.Now().UnixMicro()}
}
func (s *stillBench) Watch(context.Context) <-chan Event          { return nil }
func (s *stillBench) Do(context.Context, bench.Verb) bench.Answer { return bench.Answer{} }

const manyPoints = `title = "Own"
version = 1
cylinders = ["left"]
[[step]]
id = "many"
title = "Many points"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }
    [[step.point]]
    id = "{angle}"
    along = { angle = ["0 deg", "45 deg", "90 deg", "135 deg", "180 deg", "225 deg", "270 deg", "315 deg"] }
    title = "at {angle}"
`

func stillHub(t *testing.T) (*stillBench, *hub) {
	t.Helper()
	b := &stillBench{}
	b.state.Bench = "bench-1"
	r, err := newRenderer("")
	if err != nil {
		t.Fatal(err)
	}
	b.add(t, bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "dial-1", Profile: "text", Port: "/dev/d", Known: bench.KnownPath, Role: "indicator", Sends: bench.SendsStream, Sense: 1}})
	b.add(t, bench.Entry{Kind: bench.GaugeBack, Link: &bench.Link{Gauge: "dial-1", Port: "/dev/d", Device: "d"}})
	b.add(t, bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: "17", Plan: "own", Text: manyPoints}, Place: bench.Place{Build: "17"}})
	b.add(t, bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "17", Step: "many"}})
	b.add(t, bench.Entry{Kind: bench.PassOpened, Place: bench.Place{Build: "17", Step: "many", Pass: 1}})
	return b, newHub(Config{Bench: b, Logger: zerolog.Nop(), Now: time.Now}, r)
}

func (s *stillBench) add(t *testing.T, e bench.Entry) {
	t.Helper()
	e.V, e.Bench, e.N, e.At, e.ClockOK = bench.Version, s.state.Bench, s.state.N+1, time.Now().UnixMicro(), true
	e.ID = "entry-" + time.Now().Format("150405.000000000")
	next, err := bench.Apply(s.state, e)
	if err != nil {
		t.Fatal(err)
	}
	s.state = next
}

func (s *stillBench) read(t *testing.T) {
	t.Helper()
	one := quantity.OfLength(254_000_000, quantity.Inch.For(quantity.Length), 4)
	s.add(t, bench.Entry{Kind: bench.ReadingTaken, Place: s.state.Place, Reading: &bench.Reading{Gauge: "dial-1", Raw: one, Value: one, Mode: "press"}})
}

func liveOf(text string, t *testing.T) bench.Live {
	t.Helper()
	v, err := quantity.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return bench.Live{Gauge: "dial-1", Raw: v, Value: &v, Open: true, At: time.Now().UnixMicro()}
}

// TestNothingIsMadeWithoutViewers floods the hub with values and changes while nobody looks: no view, no page, no value
// is made. The first who comes is shown the newest.
func TestNothingIsMadeWithoutViewers(t *testing.T) {
	b, h := stillHub(t)
	for range 1000 {
		l := liveOf("0.1234 in", t)
		h.event(Event{Live: &l})
		h.event(Event{Outcome: &bench.Outcome{}})
	}
	if h.looks+h.renders+h.places+b.scenes != 0 {
		t.Errorf("with no viewer %d views, %d pages, %d values were made, %d scenes asked for", h.looks, h.renders, h.places, b.scenes)
	}
	h.join()
	body, _ := h.liveSince(0)
	if !strings.Contains(string(body), "0.1234") {
		t.Errorf("the first viewer is sent %s", body)
	}
}

// TestViewersOfOneKindShareTheWork has many viewers of one page: each change is rendered and encoded once.
func TestViewersOfOneKindShareTheWork(t *testing.T) {
	b, h := stillHub(t)
	const viewers = 20
	ids := make([]string, viewers)
	for i := range ids {
		h.join()
		_, ids[i], _ = h.since("bench", "")
	}
	first, _ := h.liveSince(0)
	_ = first
	renders, places := h.renders, h.places
	for range 5 {
		b.read(t)
		h.event(Event{Outcome: &bench.Outcome{}})
		l := liveOf("0.2000 in", t)
		h.event(Event{Live: &l})
		var same []byte
		for i := range ids {
			body, id, err := h.since("bench", ids[i])
			if err != nil || body == nil {
				t.Fatalf("viewer %d is sent nothing: %v", i, err)
			}
			if same == nil {
				same = body
			}
			if &same[0] != &body[0] {
				t.Fatal("a change was encoded anew for another viewer")
			}
			ids[i] = id
			h.liveSince(0)
		}
	}
	if h.renders-renders != 5 || h.places-places != 5 {
		t.Errorf("5 readings and values were rendered %d and encoded %d times for %d viewers", h.renders-renders, h.places-places, viewers)
	}
}

// TestAChangedRowIsSentAlone takes a reading among eight points: of the lists that show it the rows that changed are sent,
// not the lists.
func TestAChangedRowIsSentAlone(t *testing.T) {
	b, h := stillHub(t)
	h.join()
	b.read(t)
	h.event(Event{Outcome: &bench.Outcome{}})
	whole, id, err := h.since("bench", "")
	if err != nil {
		t.Fatal(err)
	}
	b.read(t)
	h.event(Event{Outcome: &bench.Outcome{}})
	body, _, err := h.since("bench", id)
	if err != nil {
		t.Fatal(err)
	}
	var e pageEvent
	if err := json.Unmarshal(body, &e); err != nil {
		t.Fatal(err)
	}
	if rows := e.Rows["points"]; len(rows) != 2 || e.R["points"] != "" {
		t.Errorf("of the list of points %d rows and %d bytes of the whole are sent, want the row that was read and the one that is next", len(rows), len(e.R["points"]))
	}
	for _, name := range []string{"figures", "pictures", "photos", "notes", "tally"} {
		if _, sent := e.R[name]; sent {
			t.Errorf("region %s did not change, but is sent", name)
		}
	}
	t.Logf("a whole page is %d bytes, a reading %d", len(whole), len(body))
	if len(body) > 16_000 || len(body) > len(whole)*3/4 {
		t.Errorf("a reading sends %d bytes of a page of %d", len(body), len(whole))
	}
}

// TestRowsAreTakenApart: what a text says can never be taken for the mark of a row.
func TestRowsAreTakenApart(t *testing.T) {
	r, err := newRenderer("")
	if err != nil {
		t.Fatal(err)
	}
	out := "<ol>" + r.rowOpen + "a" + r.rowKey + "<li>1</li>" + r.rowEnd + r.rowOpen + "b" + r.rowKey + "<li>\x01)2\x01(</li>" + r.rowEnd + "</ol>"
	got := r.apart(out)
	if got.html != "<ol><li>1</li><li>\x01)2\x01(</li></ol>" || len(got.rows) != 2 || got.rows["b"] != "<li>\x01)2\x01(</li>" {
		t.Errorf("taken apart: %+v", got)
	}
	was := r.apart(strings.Replace(out, "1</li>", "0</li>", 1))
	if whole, rows := got.since(was); whole != "" || len(rows) != 1 || rows["a"] == "" {
		t.Errorf("changed: whole %q, rows %v, want row a", whole, rows)
	}
}
