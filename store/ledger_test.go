package store_test

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"fmt"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp/cmpopts"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/store"
)

const benchName = "bench-1"

// MustOpen opens a new ledger in a folder of the test's own.
func MustOpen(tb testing.TB) *store.Store {
	tb.Helper()
	return MustOpenAt(tb, filepath.Join(tb.TempDir(), store.File))
}

// MustOpenAt opens the ledger at a path.
func MustOpenAt(tb testing.TB, path string) *store.Store {
	tb.Helper()
	s, err := store.Open(context.Background(), path)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() {
		if err := s.Close(); err != nil {
			tb.Error(err)
		}
	})
	return s
}

// stored is a result as it is read back whole; lightly as it is kept in memory, with a hash for what was asked.
func stored(tb testing.TB, r bench.Result) bench.Result {
	tb.Helper()
	asked, err := json.Marshal(r.Request)
	if err != nil {
		tb.Fatal(err)
	}
	r.Asked = sha256.Sum256(asked)
	return r
}

func lightly(tb testing.TB, r bench.Result) bench.Result {
	tb.Helper()
	r = stored(tb, r)
	r.Request = calc.Request{}
	return r
}

// sameResults compares results as they are stored.
var sameResults = cmpopts.IgnoreUnexported(calc.Request{})

// hand makes entries as the bench does: numbered, sealed, one after another.
type hand struct {
	tb    testing.TB
	chain bench.Chain
	seq   uint64
	job   string // "" is 17
	pass  int    // 0 is 1
}

func (h *hand) place() bench.Place {
	p := bench.Place{Build: h.job, Step: "guide-clearance", Pass: max(h.pass, 1)}
	if p.Build == "" {
		p.Build = "17"
	}
	return p
}

// message is one entry ready to be recorded.
type message struct {
	entry bench.Entry
	body  []byte
	seal  bench.Seal
	cp    store.Checkpoint
}

func (h *hand) make(draft bench.Entry) message {
	h.tb.Helper()
	draft.Bench = benchName
	draft.ID = fmt.Sprintf("0190-%08d", h.chain.N+1)
	draft.At = 1_700_000_000_000_000 + int64(h.chain.N)*1_000_000
	e, body, err := h.chain.Number(draft)
	if err != nil {
		h.tb.Fatal(err)
	}
	if h.chain, err = h.chain.Next(e, body); err != nil {
		h.tb.Fatal(err)
	}
	h.seq++
	return message{e, body, h.chain.Seal, store.Checkpoint{Generation: "g1", Seq: h.seq}}
}

func (m message) record(tb testing.TB, s *store.Store, results ...bench.Result) {
	tb.Helper()
	if err := s.Record(context.Background(), benchName, m.entry, m.body, m.seal, results, m.cp); err != nil {
		tb.Fatal(err)
	}
}

func inch(tb testing.TB, text string) quantity.Value {
	tb.Helper()
	v, err := quantity.ParseAs(quantity.Length, text+" in")
	if err != nil {
		tb.Fatal(err)
	}
	return v
}

// opening is a bench with one gauge, a build of first-fit, its first step entered, zeroed and a pass open.
func (h *hand) opening() []message {
	h.tb.Helper()
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		h.tb.Fatal(err)
	}
	pass := h.place()
	step := pass
	step.Pass = 0
	return []message{
		h.make(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "dial-1", Profile: "pushed-decimal", Known: bench.KnownPath, Role: "indicator", Sends: bench.SendsKey, Sense: 1}}),
		h.make(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: step.Build, Engine: "nor-easter 500", Plan: "first-fit", Text: string(text)}}),
		h.make(bench.Entry{Kind: bench.StepEntered, Place: step}),
		h.make(bench.Entry{Kind: bench.ZeroSet, Place: step, Zero: &bench.Zero{Gauge: "dial-1", Raw: inch(h.tb, "0.0120"), Shows: inch(h.tb, "0")}}),
		h.make(bench.Entry{Kind: bench.PassOpened, Place: pass}),
	}
}

func (h *hand) reading(point, raw string) message {
	h.tb.Helper()
	r := inch(h.tb, raw)
	zero := bench.Zero{Raw: inch(h.tb, "0.0120"), Shows: inch(h.tb, "0")}
	v, err := zero.WithZero(r)
	if err != nil {
		h.tb.Fatal(err)
	}
	at := h.place()
	at.Point, at.Seating = point, 1
	return h.make(bench.Entry{Kind: bench.ReadingTaken, By: "pedal", Place: at,
		Reading: &bench.Reading{Gauge: "dial-1", Mode: "press", Frames: [][]byte{[]byte("+" + raw + " in\r\n")}, Text: "+" + raw + " in", Raw: r, Zero: "0190-00000004", Value: v}})
}

// mustDB opens a ledger's file with no store in between.
func mustDB(tb testing.TB, path string) *sql.DB {
	tb.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		tb.Fatal(err)
	}
	return db
}
