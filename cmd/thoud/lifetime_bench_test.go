package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"thoud/capture/bench"
	"thoud/store"
	"thoud/store/ledgertest"
)

// lifetimeSizes are the lengths of ledger that the benchmarks run at: what grows with the ledger shows between them. The
// longest takes minutes to make and runs with the long checks.
func lifetimeSizes() []int {
	sizes := []int{1_000, 100_000}
	if os.Getenv("THOUD_LONG") != "" {
		sizes = append(sizes, 1_000_000)
	}
	return sizes
}

// BenchmarkLifetime says what a start, a reading, a page and a verification cost on ledgers of several lengths, with the
// floor of the same disk beside each.
func BenchmarkLifetime(b *testing.B) {
	program = builtThoud(b)
	for _, n := range lifetimeSizes() {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			dir := madeLedger(b, n)
			b.Run("first-start", func(b *testing.B) { benchStart(b, dir, true) })
			b.Run("start", func(b *testing.B) { benchStart(b, dir, false) })
			b.Run("idle", func(b *testing.B) { benchIdle(b, dir) })
			b.Run("pages", func(b *testing.B) { benchPages(b, dir) })
			b.Run("paced", func(b *testing.B) { benchReading(b, dir, "press-1", 20*time.Millisecond) })
			b.Run("back-to-back", func(b *testing.B) { benchReading(b, dir, "press-2", 0) })
			for name, format := range map[string]string{"sheet": "json", "sheet-page": "html", "sheet-paper": "pdf"} {
				b.Run(name, func(b *testing.B) {
					benchCommand(b, "sheet", ledgertest.Read(b).Job(0), "--format", format, "--state", dir, "-o", filepath.Join(b.TempDir(), "sheet"))
				})
			}
			b.Run("verify", func(b *testing.B) {
				t := benchCommand(b, "verify", "--state", dir)
				b.ReportMetric(ms(t)/float64(n), "ms/entry")
			})
		})
	}
}

// program is the thoud that is measured: not this test's own binary, which holds more.
var program string

// builtThoud builds thoud as it is released.
func builtThoud(b *testing.B) string {
	b.Helper()
	path := filepath.Join(b.TempDir(), "thoud")
	cmd := exec.Command("go", "build", "-trimpath", "-ldflags", "-s -w", "-o", path, ".")
	cmd.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := cmd.CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	return path
}

// madeLedger gives a state folder with a ledger of so many entries. Where THOUD_LIFETIME names a folder, the ledger is
// kept there and used again: the longest takes an hour to make.
func madeLedger(b *testing.B, n int) string {
	b.Helper()
	keep := os.Getenv("THOUD_LIFETIME")
	if keep == "" {
		dir := b.TempDir()
		ledgertest.OnDisk(b, dir)
		makeLedger(b, dir, n)
		return dir
	}
	dir := filepath.Join(keep, fmt.Sprint(n))
	made := filepath.Join(dir, "made")
	if _, err := os.Stat(made); err == nil {
		return dir
	}
	if err := errors.Join(os.RemoveAll(dir), os.MkdirAll(dir, 0o700)); err != nil {
		b.Fatal(err)
	}
	ledgertest.OnDisk(b, dir)
	makeLedger(b, dir, n)
	if err := os.WriteFile(made, nil, 0o600); err != nil {
		b.Fatal(err)
	}
	return dir
}

// makeLedger makes a ledger of so many entries as this program stores them.
func makeLedger(b *testing.B, dir string, entries int) {
	b.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(dir, store.File))
	if err != nil {
		b.Fatal(err)
	}
	type entry struct {
		e       bench.Entry
		body    []byte
		seal    bench.Seal
		results []bench.Result
		seq     uint64
	}
	var some []entry
	flush := func() error {
		err := s.Batch(ctx, ledgertest.Bench, func(put store.Put) error {
			for _, m := range some {
				if err := put(m.e, m.body, m.seal, m.results, store.Checkpoint{Generation: "made", Seq: m.seq}); err != nil {
					return err
				}
			}
			return nil
		})
		some = some[:0]
		return err
	}
	_, err = ledgertest.Read(b).Recorded(entries, func(e bench.Entry, body []byte, seal bench.Seal, results []bench.Result, seq uint64) error {
		if some = append(some, entry{e, body, seal, results, seq}); len(some) < 2000 {
			return nil
		}
		return flush()
	})
	if err == nil {
		err = flush()
	}
	if err := errors.Join(err, s.Close()); err != nil {
		b.Fatal(err)
	}
}

// running is thoud as a process, started, with its monitor.
type running struct {
	cmd  *exec.Cmd
	url  string
	took time.Duration
}

var monitorAt = regexp.MustCompile(`monitor at (http://\S+)`)

func startRunning(b *testing.B, dir string) *running {
	b.Helper()
	r := &running{cmd: exec.Command(program, "run", "--listen=127.0.0.1:0", "--state", dir)}
	out, err := r.cmd.StdoutPipe()
	if err != nil {
		b.Fatal(err)
	}
	t0 := time.Now()
	if err := r.cmd.Start(); err != nil {
		b.Fatal(err)
	}
	for lines := bufio.NewScanner(out); lines.Scan(); {
		if m := monitorAt.FindStringSubmatch(lines.Text()); m != nil {
			r.url, r.took = m[1], time.Since(t0)
			go func() { _, _ = io.Copy(io.Discard, out) }()
			return r
		}
	}
	b.Fatalf("the service did not start: %v", r.cmd.Wait())
	return nil
}

func (r *running) stop(b *testing.B) {
	b.Helper()
	if err := r.cmd.Process.Signal(os.Interrupt); err != nil {
		b.Fatal(err)
	}
	if err := r.cmd.Wait(); err != nil {
		b.Fatal(err)
	}
}

// memory is what a process holds now and held at most, in MiB (proc(5)).
func memory(b *testing.B, pid int) (now, most float64) {
	b.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		b.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		var kb float64
		if _, err := fmt.Sscanf(line, "VmRSS: %f kB", &kb); err == nil {
			now = kb / 1024
		}
		if _, err := fmt.Sscanf(line, "VmHWM: %f kB", &kb); err == nil {
			most = kb / 1024
		}
	}
	return now, most
}

// benchStart starts and stops the service, each time without its snapshot where that is wanted.
func benchStart(b *testing.B, dir string, whole bool) {
	var all, spent []time.Duration
	var now, most float64
	snapshot := filepath.Join(dir, strings.TrimSuffix(store.File, ".db")+".snapshot")
	for b.Loop() {
		if whole {
			if err := os.Remove(snapshot); err != nil && !errors.Is(err, os.ErrNotExist) {
				b.Fatal(err)
			}
		}
		r := startRunning(b, dir)
		all, spent = append(all, r.took), append(spent, processor(b, r.cmd.Process.Pid))
		now, most = memory(b, r.cmd.Process.Pid)
		r.stop(b)
	}
	b.ReportMetric(ms(percentile(all, 0.5)), "start-ms")
	b.ReportMetric(ms(percentile(spent, 0.5)), "processor-ms") // by a whole processor's time, whoever else wants it
	b.ReportMetric(now, "MiB")
	b.ReportMetric(most, "MiB-most")
	b.ReportMetric(0, "ns/op")
}

// How long a service is left alone before it is watched, and how long it is watched: builds that were never reckoned up
// are, one after another, after the first start.
const (
	idleBefore = 5 * time.Second
	idleFor    = 30 * time.Second
)

// benchIdle says how much of a processor a service takes that has nothing to do and no viewer.
func benchIdle(b *testing.B, dir string) {
	r := startRunning(b, dir)
	defer r.stop(b)
	time.Sleep(idleBefore)
	var share float64
	for b.Loop() {
		before := processor(b, r.cmd.Process.Pid)
		time.Sleep(idleFor)
		share = max(share, float64(processor(b, r.cmd.Process.Pid)-before)/float64(idleFor))
	}
	now, _ := memory(b, r.cmd.Process.Pid)
	b.ReportMetric(share*100, "%-of-a-core")
	b.ReportMetric(now, "MiB")
	b.ReportMetric(0, "ns/op")
}

// processor is how long a process has had a processor, in its own ticks of a hundredth of a second (proc(5)).
func processor(b *testing.B, pid int) time.Duration {
	b.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		b.Fatal(err)
	}
	f := strings.Fields(string(text[strings.LastIndexByte(string(text), ')')+1:]))
	var ticks int64
	for _, at := range []int{11, 12} { // utime and stime, counted after the name
		n, err := strconv.ParseInt(f[at], 10, 64)
		if err != nil {
			b.Fatal(err)
		}
		ticks += n
	}
	return time.Duration(ticks) * 10 * time.Millisecond
}

// benchReading sends one frame after another over a pseudo-terminal, each once the one before was told as stored and so
// much time has passed.
func benchReading(b *testing.B, dir, gauge string, pause time.Duration) {
	const points = 60
	p := pressGauge(b, dir, manyPlan(points), gauge, fmt.Sprint("of-", gauge, "-", time.Now().UnixNano())) // a kept ledger has older ones
	defer p.stop()
	f := newFloor(b, b.TempDir())
	var own []time.Duration
	at, n := points, uint64(0)
	for b.Loop() {
		if at == points {
			p.settled(n)
			n, at = p.open(), 0
		}
		f.step(b)
		time.Sleep(pause)
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
	p.must(bench.Verb{Name: bench.DoGaugeRemove, Gauge: gauge})
	p.must(bench.Verb{Name: bench.DoBuildClose, Reason: "enough was measured"})
	report(b, own, f)
	// Held against the shortest ledger of the same run by how many times each takes its own floor: the disk and what else
	// the machine does are not the same from one minute to the next.
	times := float64(percentile(own, 0.5)) / float64(percentile(f.least, 0.5))
	if pace := fmt.Sprint(pause); shortest[pace] == 0 {
		shortest[pace] = times
	} else {
		b.ReportMetric(times/shortest[pace], "x-shortest-p50")
	}
}

// shortest is how many times the floor a reading took on the first ledger of a run, by the pace.
var shortest = map[string]float64{}

// benchCommand runs a command beside the ledger, and gives how long it took. Its processor time says more than the clock
// where the machine has other work too.
func benchCommand(b *testing.B, args ...string) time.Duration {
	var all, spent []time.Duration
	var most float64
	for b.Loop() {
		cmd := exec.Command(program, args...)
		t0 := time.Now()
		if out, err := cmd.CombinedOutput(); err != nil {
			b.Fatalf("%v: %v\n%.500s", args, err, out)
		}
		all = append(all, time.Since(t0))
		spent = append(spent, cmd.ProcessState.UserTime()+cmd.ProcessState.SystemTime())
		most = max(most, resident(cmd.ProcessState))
	}
	b.ReportMetric(ms(percentile(all, 0.5)), "ms")
	b.ReportMetric(ms(percentile(spent, 0.5)), "processor-ms")
	b.ReportMetric(most, "MiB-most")
	b.ReportMetric(0, "ns/op")
	return percentile(all, 0.5)
}

// resident is the most a process that has ended held, in MiB (getrusage(2); kB on Linux).
func resident(p *os.ProcessState) float64 {
	if u, ok := p.SysUsage().(*syscall.Rusage); ok {
		return float64(u.Maxrss) / 1024
	}
	return 0
}
