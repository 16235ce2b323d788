package store_test

import (
	"context"
	"database/sql"
	"fmt"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"thoud/capture/bench"
	"thoud/store"
)

// BenchmarkRecord records one reading with its result, and beside each, on the same disk in the same run, commits one
// bare row with synchronous=FULL: "x-bare" is how many bare commits one entry costs.
func BenchmarkRecord(b *testing.B) {
	dir := b.TempDir()
	s := MustOpenAt(b, filepath.Join(dir, store.File))
	h := fill(b, s)
	bare, err := sql.Open("sqlite", "file:"+filepath.Join(dir, "bare.db")+"?_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_txlock=immediate")
	if err != nil {
		b.Fatal(err)
	}
	defer bare.Close()
	bare.SetMaxOpenConns(1)
	if _, err := bare.Exec("CREATE TABLE row (n INTEGER PRIMARY KEY, body BLOB) STRICT"); err != nil {
		b.Fatal(err)
	}
	var own, theirs time.Duration
	for i := 0; b.Loop(); i++ {
		m := h.reading(fmt.Sprintf("p%d", i%8), "0.4020")
		res := clearance(b, m.entry.N)
		t0 := time.Now()
		m.record(b, s, res)
		t1 := time.Now()
		if _, err := bare.Exec("INSERT INTO row (body) VALUES (?)", m.body); err != nil {
			b.Fatal(err)
		}
		own, theirs = own+t1.Sub(t0), theirs+time.Since(t1)
	}
	b.ReportMetric(float64(own)/float64(theirs), "x-bare")
	b.ReportMetric(float64(own.Microseconds())/float64(b.N), "record-µs")
	b.ReportMetric(float64(theirs.Microseconds())/float64(b.N), "bare-µs")
}

// BenchmarkLoad folds 20,000 entries: builds of ten passes of 24 readings.
func BenchmarkLoad(b *testing.B) {
	ctx := context.Background()
	s := MustOpen(b)
	h := &hand{tb: b}
	for build := 0; h.chain.N < 20_000; build++ {
		h.job, h.pass = fmt.Sprint(100+build), 1
		for _, m := range h.opening() {
			m.record(b, s)
		}
		for ; h.pass <= 10; h.pass++ {
			if h.pass > 1 {
				h.make(bench.Entry{Kind: bench.PassOpened, Place: h.place()}).record(b, s)
			}
			for i := range 24 {
				h.reading(fmt.Sprintf("p%d", i), "0.4020").record(b, s)
			}
			h.make(bench.Entry{Kind: bench.PassClosed, Place: h.place()}).record(b, s)
		}
	}
	for b.Loop() {
		l, err := s.Load(ctx, benchName)
		if err != nil || l.Chain.N != h.chain.N || len(l.Odd) > 0 {
			b.Fatalf("%d entries of %d, %v, odd %v", l.Chain.N, h.chain.N, err, l.Odd)
		}
	}
	b.ReportMetric(float64(h.chain.N)*float64(b.N)/b.Elapsed().Seconds(), "entries/s")
}

// BenchmarkVerify walks 2,000 entries and computes 2,000 results again.
func BenchmarkVerify(b *testing.B) {
	ctx := context.Background()
	s := MustOpen(b)
	h := fill(b, s)
	for h.chain.N < 2_000 {
		m := h.reading(fmt.Sprintf("p%d", h.chain.N%8), "0.4020")
		m.record(b, s, clearance(b, m.entry.N))
	}
	for b.Loop() {
		if rep, err := s.Verify(ctx, benchName, store.Check{}); err != nil || len(slices.DeleteFunc(rep.Wrong, unnamed)) > 0 || rep.Results < 1990 {
			b.Fatalf("%d results, wrong %v, %v", rep.Results, rep.Wrong, err)
		}
	}
}
