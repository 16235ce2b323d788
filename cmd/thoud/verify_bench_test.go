package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"syscall"
	"testing"
	"time"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline"
	"thoud/store"
	"thoud/store/ledgertest"
)

// BenchmarkVerifyRecorded verifies ledgers that this program recorded: the kept build played again and again, each time folded and
// computed anew, so that every request is bound again and every distinct one computed again. Other than in the kept ledger itself
// the requests of one play are those of the next.
func BenchmarkVerifyRecorded(b *testing.B) {
	for _, n := range []int{1_000, 100_000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			path := filepath.Join(b.TempDir(), store.File)
			record(b, path, n)
			benchVerify(b, path, ledgertest.Bench)
		})
	}
}

// record makes a ledger of so many entries as this program records them.
func record(b *testing.B, path string, entries int) {
	b.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, path)
	if err != nil {
		b.Fatal(err)
	}
	r := recording{fold: s.Fold(), state: bench.State{Bench: ledgertest.Bench}}
	flush := func() error {
		err := s.Batch(ctx, ledgertest.Bench, r.put)
		r.some = r.some[:0]
		return err
	}
	rules := bench.RulesNow("")
	err = r.add(bench.Entry{Bench: ledgertest.Bench, ID: "rules-1", Kind: bench.RulesNamed, Rules: &rules, ClockOK: true})
	if err == nil {
		_, err = ledgertest.Read(b).Play(entries, func(made ledgertest.Entry) error {
			e, err := bench.Decode(made.Body)
			if err == nil {
				err = r.add(e)
			}
			if err != nil || len(r.some) < 2000 {
				return err
			}
			return flush()
		})
	}
	if err == nil {
		err = flush()
	}
	if err := errors.Join(err, s.Close()); err != nil {
		b.Fatal(err)
	}
}

// recording numbers, folds and computes entries as the service does, and gathers them.
type recording struct {
	fold    bench.Fold
	chain   bench.Chain
	state   bench.State
	results bench.Results
	some    []recorded
}

type recorded struct {
	e       bench.Entry
	body    []byte
	chain   bench.Chain
	results []bench.Result
}

func (r *recording) add(e bench.Entry) error {
	e, body, err := r.chain.Number(e)
	if err == nil {
		r.chain, err = r.chain.Next(e, body)
	}
	if err == nil {
		r.state, err = r.fold.Apply(r.state, e)
	}
	if err != nil {
		return fmt.Errorf("entry %d, %s: %w", e.N, e.Kind, err)
	}
	if e.Kind == bench.BuildStarted { // the builds before have said all they had to
		r.state, _ = r.state.Rest(2)
		r.results = bench.Results{}
	}
	news := pipeline.Compute(r.state, e, r.results)
	r.results = r.results.With(news...)
	r.some = append(r.some, recorded{e, body, r.chain, news})
	return nil
}

func (r *recording) put(put store.Put) error {
	for _, m := range r.some {
		if err := put(m.e, m.body, m.chain.Seal, m.results, store.Checkpoint{Generation: "made", Seq: m.chain.N}); err != nil {
			return err
		}
	}
	return nil
}

// BenchmarkVerifyKept verifies each kept ledger: other than in the long ledgers, nearly each of its results is computed
// again, and none was met before. They are bound again too as long as the rules are those it was kept under: those of the
// newest. Each time the ledger is opened anew, so that nothing is remembered of the time before.
func BenchmarkVerifyKept(b *testing.B) {
	kept, err := filepath.Glob(filepath.Join(ledgertest.Root(b), "testdata/ledger/*/ledger.db.gz"))
	if err != nil || len(kept) == 0 {
		b.Fatalf("no kept ledger: %v", err)
	}
	for _, path := range kept {
		b.Run(filepath.Base(filepath.Dir(path)), func(b *testing.B) { benchVerify(b, unzipped(b, path), ledgertest.KeptBench) })
	}
}

// unzipped writes a packed file's content to a folder of the benchmark's own, and gives where.
func unzipped(b *testing.B, from string) string {
	b.Helper()
	path := filepath.Join(b.TempDir(), store.File)
	if err := os.WriteFile(path, ledgertest.Unzip(b, from), 0o600); err != nil {
		b.Fatal(err)
	}
	return path
}

// benchVerify verifies a bench's ledger, opened anew each time, and says what that cost by entry.
func benchVerify(b *testing.B, path, of string) {
	ctx := context.Background()
	quickGarbage()
	defer debug.SetGCPercent(100)
	var all []time.Duration
	var spent time.Duration
	var rep store.Report
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	for b.Loop() {
		s, err := store.Open(ctx, path)
		if err != nil {
			b.Fatal(err)
		}
		t0, p0 := time.Now(), spentHere(b)
		rep, err = s.Verify(ctx, of, service.Check())
		if err != nil || len(rep.Wrong) > 0 {
			b.Fatalf("%v, %v", err, rep.Wrong)
		}
		all, spent = append(all, time.Since(t0)), spent+spentHere(b)-p0
		if err := s.Close(); err != nil {
			b.Fatal(err)
		}
	}
	runtime.ReadMemStats(&after)
	times := float64(len(all) * rep.Entries)
	b.ReportMetric(ms(percentile(all, 0.5))/float64(rep.Entries), "ms/entry")
	b.ReportMetric(ms(spent)/times, "processor-ms/entry") // by a whole processor's time, whoever else wants it
	b.ReportMetric(float64(after.TotalAlloc-before.TotalAlloc)/1024/times, "kB/entry")
	b.ReportMetric(float64(rep.Entries), "entries")
	b.ReportMetric(float64(rep.Bound), "bound")
	b.ReportMetric(float64(rep.Results-len(rep.Unknown)), "computed")
	b.ReportMetric(0, "ns/op")
}

// spentHere is how long this process has had a processor (getrusage(2)).
func spentHere(b *testing.B) time.Duration {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
