package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/devices/simulate"
	"thoud/pipeline/bus"
)

// settlePlan is a step whose point takes a reading by itself once a gauge comes to rest: every frame is looked at.
var settlePlan = strings.Replace(manyPlan(60), `mode = "press"`, `mode = "settle"`, 1)

// process is thoud as a process of its own, so that what it uses can be told from what the simulated gauges use.
type process struct {
	*served
	cmd *exec.Cmd
}

func startProcess(tb testing.TB, dir string, args ...string) *process {
	tb.Helper()
	cmd := exec.Command("thoud", append([]string{"run", "--state", dir}, args...)...)
	cmd.Stderr = os.Stderr
	if !testing.Verbose() {
		cmd.Stderr = nil
	}
	if err := cmd.Start(); err != nil {
		tb.Fatal(err)
	}
	p := &process{served: &served{tb: tb, dir: dir}, cmd: cmd}
	tb.Cleanup(func() {
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			tb.Error(err)
		}
		if err := cmd.Wait(); err != nil {
			tb.Error(err)
		}
	})
	p.eventually("the service runs", func() bool {
		c, err := bus.Dial(filepath.Join(dir, service.SocketName), "bench")
		if err != nil {
			return false
		}
		if _, err := c.Status(context.Background()); err != nil {
			c.Close()
			return false
		}
		p.Client = c
		return true
	})
	tb.Cleanup(p.Close)
	return p
}

// used is the processor time the process has used.
func (p *process) used() time.Duration {
	p.tb.Helper()
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", p.cmd.Process.Pid))
	if err != nil {
		p.tb.Fatal(err)
	}
	// proc(5): utime and stime are the 14th and 15th fields, in hundredths of a second; the 2nd ends with a bracket.
	f := strings.Fields(string(b[strings.LastIndexByte(string(b), ')')+1:]))
	ticks := 0
	for _, i := range []int{11, 12} {
		n, err := strconv.Atoi(f[i])
		if err != nil {
			p.tb.Fatal(err)
		}
		ticks += n
	}
	return time.Duration(ticks) * 10 * time.Millisecond
}

// add registers a simulated gauge.
func (p *process) add(name string) *simulate.Gauge {
	p.tb.Helper()
	profiles, err := service.LoadProfiles("")
	if err != nil {
		p.tb.Fatal(err)
	}
	g, err := simulate.Open(simulate.Options{Profile: profiles[dialProfile], Dir: p.dir, Name: name, Knobs: simulate.Knobs{Noise: 2}})
	if err != nil {
		p.tb.Fatal(err)
	}
	p.tb.Cleanup(func() { g.Close() })
	g.Set(quantity.OfLength(quantity.PerMillimetre, quantity.Base(quantity.Length), 3))
	p.must(bench.Verb{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: name, Profile: dialProfile, Port: g.Path(), Known: bench.KnownPath,
		Identity: g.Path(), Role: "indicator", Sends: bench.SendsStream, Sense: 1}})
	return g
}

// BenchmarkManyGauges lets 32 gauges send 50 readings a second each, in a step that looks at every one of them, and
// gives the share of one core that the service uses, the latency from a frame to its live value on the bus, and that of
// a typed reading until it is answered. The share of an idle service is given beside it.
func BenchmarkManyGauges(b *testing.B) {
	const gauges, every = 32, 20 * time.Millisecond
	p := startProcess(b, b.TempDir(), "--listen=")
	var all []*simulate.Gauge
	for i := range gauges {
		all = append(all, p.add(fmt.Sprintf("dial-%d", i)))
	}
	p.must(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "17", Plan: "bench", Text: settlePlan}})
	live := make(chan bench.Live, 1<<16)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = p.Follow(ctx, nil, func(v bench.Live) {
			if v.Gauge == "dial-0" {
				live <- v
			}
		}, nil)
	}()
	defer func() { cancel(); <-done }()
	share := func(for_ time.Duration) float64 {
		t0, u0 := time.Now(), p.used()
		time.Sleep(for_)
		return 100 * float64(p.used()-u0) / float64(time.Since(t0))
	}
	idle := share(time.Second)
	for _, g := range all[1:] {
		g.Stream(every)
	}
	var lives, answers []time.Duration
	t0, u0 := time.Now(), p.used()
	for i := 1; b.Loop(); i++ {
		v := quantity.OfLength(int64(2000+i%5000)*quantity.PerMicrometre, quantity.Base(quantity.Length), 3)
		all[0].Set(v)
		from := time.Now()
		if err := all[0].Send(); err != nil {
			b.Fatal(err)
		}
		late := time.After(patience)
		for seen := false; !seen; {
			select {
			case got := <-live:
				seen = got.At >= from.UnixMicro()
			case <-late:
				b.Fatal("a live value never came")
			}
		}
		lives = append(lives, time.Since(from))
		if i%5 == 0 {
			verb := p.keyed()
			verb.Gauge = ""
			from := time.Now()
			if p.try(verb) {
				answers = append(answers, time.Since(from))
			}
		}
		time.Sleep(every)
	}
	b.ReportMetric(100*float64(p.used()-u0)/float64(time.Since(t0)), "cpu-%")
	b.ReportMetric(idle, "idle-cpu-%")
	b.ReportMetric(ms(percentile(lives, 0.5)), "live-p50-ms")
	b.ReportMetric(ms(percentile(lives, 0.99)), "live-p99-ms")
	b.ReportMetric(ms(percentile(answers, 0.5)), "answer-p50-ms")
	b.ReportMetric(ms(percentile(answers, 0.99)), "answer-p99-ms")
	b.ReportMetric(0, "ns/op")
}

// BenchmarkFrameToPage sends one frame and waits until the monitor's event stream has brought its value to a plain
// client; beside each, one write of 4 kB with fsync on the same disk.
func BenchmarkFrameToPage(b *testing.B) {
	dir := b.TempDir()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	addr := l.Addr().String()
	l.Close()
	p := startProcess(b, dir, "--listen="+addr)
	g := p.add("dial-0")
	p.must(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "17", Plan: "bench", Text: manyPlan(8)}})
	var res *http.Response
	p.eventually("the monitor answers", func() bool {
		res, err = http.Get("http://" + addr + "/stream/bench")
		return err == nil
	})
	defer res.Body.Close()
	events := make(chan string, 1024)
	go func() {
		for sc := bufio.NewScanner(res.Body); sc.Scan(); {
			if s, ok := strings.CutPrefix(sc.Text(), "data: ["); ok { // live values come as a list
				events <- "[" + s
			}
		}
		close(events)
	}()
	f, err := os.Create(filepath.Join(dir, "synced"))
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	block := make([]byte, 4096)
	var own, syncs []time.Duration
	for i := 0; b.Loop(); i++ {
		t0 := time.Now()
		if _, err := f.WriteAt(block, 0); err != nil {
			b.Fatal(err)
		}
		if err := f.Sync(); err != nil {
			b.Fatal(err)
		}
		syncs = append(syncs, time.Since(t0))
		want := fmt.Sprintf("%d.%03d", 1+i%7, i%1000)
		v, err := quantity.ParseAs(quantity.Length, want+" mm")
		if err != nil {
			b.Fatal(err)
		}
		t0 = time.Now()
		if err := g.Raw([]byte("+" + v.String() + "\r\n")); err != nil {
			b.Fatal(err)
		}
		late := time.After(patience)
		for seen := false; !seen; {
			select {
			case e, ok := <-events:
				if !ok || !json.Valid([]byte(e)) {
					b.Fatalf("stream: %q", e)
				}
				seen = strings.Contains(e, want)
			case <-late:
				b.Fatalf("%s never came to the page", want)
			}
		}
		if i >= 3 { // the first ones open the page
			own = append(own, time.Since(t0))
		}
		time.Sleep(70 * time.Millisecond) // a hand moves the gauge more slowly than that
	}
	b.ReportMetric(ms(percentile(own, 0.5)), "p50-ms")
	b.ReportMetric(ms(percentile(own, 0.99)), "p99-ms")
	b.ReportMetric(ms(percentile(syncs, 0.5)), "fsync-p50-ms")
	b.ReportMetric(float64(percentile(own, 0.5))/float64(percentile(syncs, 0.5)), "x-fsync")
	b.ReportMetric(0, "ns/op")
}
