package main

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/devices/simulate"
	"thoud/pipeline/bus"
)

// manyPlan is a step of so many points with nothing to compute.
func manyPlan(points int) string {
	var ids []string
	for i := range points {
		ids = append(ids, fmt.Sprintf("%q", fmt.Sprintf("p%d", i)))
	}
	return `
title = "Many"
version = 1
cylinders = ["left", "right"]

[[step]]
id = "many"
title = "Many points"
do = "Press the data key."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }

    [[step.point]]
    id = "{p}"
    along = { p = [` + strings.Join(ids, ", ") + `] }
    title = "{p}"
    do = "Press the data key."
`
}

// floor is the least a reading can cost on a disk, in parts that are timed one by one in the same run as what is held
// against them: a bare publish that is synced, a bare commit that is synced (synchronous=FULL) and one that is not
// (NORMAL), and a bare write with fdatasync.
type floor struct {
	bus          *bus.Server
	full, normal *sql.DB
	file         *os.File
	n            int

	published, committed, unsynced, written []time.Duration
	// both is a synced publish and a synced commit, least a synced publish and one that is not synced: what a reading waits for.
	both, least []time.Duration
}

func newFloor(b *testing.B, dir string) *floor {
	b.Helper()
	s, err := bus.Start(context.Background(), bus.Config{Bench: "bare", Dir: filepath.Join(dir, "bare-bus"), Log: zerolog.Nop()})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(s.Close)
	f := &floor{bus: s, full: bareDB(b, dir, "FULL"), normal: bareDB(b, dir, "NORMAL")}
	if f.file, err = os.Create(filepath.Join(dir, "bare")); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { f.file.Close() })
	return f
}

func bareDB(b *testing.B, dir, synchronous string) *sql.DB {
	b.Helper()
	db, err := sql.Open("sqlite", "file:"+filepath.Join(dir, "bare-"+synchronous+".db")+"?_pragma=journal_mode(WAL)&_pragma=synchronous("+synchronous+")&_txlock=immediate")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { db.Close() })
	db.SetMaxOpenConns(1)
	if _, err := db.Exec("CREATE TABLE row (n INTEGER PRIMARY KEY, body BLOB) STRICT"); err != nil {
		b.Fatal(err)
	}
	return db
}

// step publishes, commits and writes bytes of an entry's size.
func (f *floor) step(b *testing.B) {
	body := make([]byte, 900)
	took := func(do func() error) time.Duration {
		t0 := time.Now()
		if err := do(); err != nil {
			b.Fatal(err)
		}
		return time.Since(t0)
	}
	insert := func(db *sql.DB) func() error {
		return func() error { _, err := db.Exec("INSERT INTO row (body) VALUES (?)", body); return err }
	}
	published := took(func() error {
		return f.bus.Append(context.Background(), bench.Entry{ID: fmt.Sprintf("bare-%d", f.n), Kind: bench.ReadingTaken}, body)
	})
	committed, unsynced := took(insert(f.full)), took(insert(f.normal))
	written := took(func() error {
		_, err := f.file.Write(body)
		return errors.Join(err, f.file.Sync())
	})
	f.n++
	f.published, f.committed, f.unsynced, f.written = append(f.published, published), append(f.committed, committed), append(f.unsynced, unsynced), append(f.written, written)
	f.both, f.least = append(f.both, published+committed), append(f.least, published+unsynced)
}

func percentile(d []time.Duration, p float64) time.Duration {
	if len(d) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(d))
	return s[min(len(s)-1, int(p*float64(len(s))))]
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// report gives latencies of a path and of its floors, and how many times each floor it takes.
func report(b *testing.B, own []time.Duration, f *floor) {
	b.ReportMetric(ms(percentile(own, 0.5)), "p50-ms")
	b.ReportMetric(ms(percentile(own, 0.99)), "p99-ms")
	for _, part := range []struct {
		name string
		all  []time.Duration
	}{{"publish", f.published}, {"commit-full", f.committed}, {"commit-normal", f.unsynced}, {"write", f.written}, {"floor", f.both}, {"least", f.least}} {
		b.ReportMetric(ms(percentile(part.all, 0.5)), part.name+"-p50-ms")
	}
	b.ReportMetric(ms(percentile(f.both, 0.99)), "floor-p99-ms")
	b.ReportMetric(float64(percentile(own, 0.5))/float64(percentile(f.both, 0.5)), "x-floor-p50")
	b.ReportMetric(float64(percentile(own, 0.5))/float64(percentile(f.least, 0.5)), "x-least-p50")
	b.ReportMetric(float64(percentile(own, 0.99))/float64(percentile(f.both, 0.99)), "x-floor-p99")
	b.ReportMetric(0, "ns/op") // the sum of both ways says nothing
}

// pressed is a running service with one simulated gauge that speaks on its data key.
type pressed struct {
	*served
	gauge    *simulate.Gauge
	outcomes chan bench.Outcome
}

func press(b *testing.B, dir, plan string) *pressed {
	b.Helper()
	return pressGauge(b, dir, plan, "dial-1", "17")
}

// pressGauge is press with a gauge and a job of these names, for a ledger that has some already.
func pressGauge(b *testing.B, dir, plan, name, job string) *pressed {
	b.Helper()
	cfg := service.DefaultSettings()
	cfg.Lockout = "0s"
	return pressOn(b, serveWith(b, dir, cfg), plan, name, job)
}

// pressOn is pressGauge with a service that runs already.
func pressOn(b *testing.B, v *served, plan, name, job string) *pressed {
	b.Helper()
	dir := v.dir
	p := &pressed{served: v, outcomes: make(chan bench.Outcome, 4096)}
	profiles, err := service.LoadProfiles("")
	if err != nil {
		b.Fatal(err)
	}
	if p.gauge, err = simulate.Open(simulate.Options{Profile: profiles[dialProfile], Dir: dir, Name: name}); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { p.gauge.Close() })
	p.gauge.Set(quantity.OfLength(quantity.PerMillimetre, quantity.Base(quantity.Length), 3))
	p.must(bench.Verb{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: name, Profile: dialProfile, Port: p.gauge.Path(), Known: bench.KnownPath,
		Identity: p.gauge.Path(), Role: "indicator", Sends: bench.SendsKey, Sense: 1}})
	p.must(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: job, Plan: "bench", Text: plan}})
	p.eventually("the gauge is open", func() bool {
		return slices.ContainsFunc(p.status().Gauges, func(g bench.GaugeStatus) bool { return g.Name == name && g.Open })
	})
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = p.Follow(ctx, func(o bench.Outcome) { p.outcomes <- o }, nil, nil)
	}()
	b.Cleanup(func() { cancel(); <-done })
	return p
}

// open opens a pass and waits until it is stored; it gives the number of its entry.
func (p *pressed) open() uint64 {
	p.tb.Helper()
	n := p.must(bench.Verb{Name: bench.DoAgain}).N
	p.await(n)
	return n
}

func (p *pressed) await(n uint64) {
	p.tb.Helper()
	late := time.After(patience)
	for {
		select {
		case o := <-p.outcomes:
			if o.N >= n {
				return
			}
		case <-late:
			p.tb.Fatalf("entry %d never came", n)
		}
	}
}

// BenchmarkFrameToCommit sends one frame over a pseudo-terminal and waits until its reading is told as stored. Beside
// each, on the same disk, the floor.
func BenchmarkFrameToCommit(b *testing.B) {
	dir := b.TempDir()
	const points = 60
	p := press(b, dir, manyPlan(points))
	f := newFloor(b, dir)
	var own []time.Duration
	at, n := points, uint64(0)
	for b.Loop() {
		if at == points {
			p.settled(n)
			n, at = p.open(), 0
		}
		f.step(b)
		n++
		t0 := time.Now()
		if err := p.gauge.Send(); err != nil {
			b.Fatal(err)
		}
		p.await(n)
		own = append(own, time.Since(t0))
		if at++; at == points {
			n++ // the pass is closed
			p.await(n)
		}
	}
	report(b, own, f)
}

// BenchmarkFramesToCommit sends frames as fast as they are taken, and gives how many a second are stored, and how many
// times the floor each takes.
func BenchmarkFramesToCommit(b *testing.B) {
	dir := b.TempDir()
	const points = 60
	p := press(b, dir, manyPlan(points))
	f := newFloor(b, dir)
	var spent time.Duration
	readings := 0
	for b.Loop() {
		for range points {
			f.step(b)
		}
		n := p.open()
		t0 := time.Now()
		for range points {
			if err := p.gauge.Send(); err != nil {
				b.Fatal(err)
			}
		}
		p.await(n + points)
		spent += time.Since(t0)
		readings += points
		p.await(n + points + 1)
	}
	each := spent / time.Duration(readings)
	b.ReportMetric(float64(readings)/spent.Seconds(), "readings/s")
	b.ReportMetric(float64(each)/float64(percentile(f.both, 0.5)), "x-floor")
	b.ReportMetric(0, "ns/op")
}
