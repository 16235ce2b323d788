package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/service"
	"thoud/devices/bridge"
	"thoud/pipeline/bus"
)

// padGauge is a gauge with a clock and a data pad, on the left pads of a bridge that runs in a simulator. It streams what
// it shows until its test ends.
type padGauge struct {
	t      *testing.T
	live   *bridge.Live
	shows  atomic.Int64 // in 1/10,000 in
	off    atomic.Bool  // pulled off its pads
	frames atomic.Int64
}

// leftFrame is the invented frame of the left gauge in testdata/devices/bridge/two-gauges.toml, in inches.
func leftFrame(counts int64) []bool {
	word := 0b1010<<27 | 1<<26 | (counts&0xFFFFFF)<<2 | 0b01
	var bits []bool
	for i := 30; i >= 0; i-- {
		bits = append(bits, word>>i&1 == 1)
	}
	return bits
}

// stream plays a frame every 60 ms, its clock at 100 µs.
func (g *padGauge) stream(ctx context.Context) {
	for tick := time.NewTicker(60 * time.Millisecond); ctx.Err() == nil; <-tick.C {
		if g.off.Load() {
			continue
		}
		var levels []bridge.Level
		for _, b := range leftFrame(g.shows.Load()) {
			levels = append(levels, bridge.Level{Pin: "D4", High: b}, bridge.Level{Pin: "D2"}, bridge.Level{After: 50 * time.Microsecond, Pin: "D2", High: true}, bridge.Level{After: 50 * time.Microsecond, Pin: "D2", High: true})
		}
		if err := g.live.Play(levels); err != nil && ctx.Err() == nil {
			g.t.Errorf("play: %v", err)
			return
		}
		g.frames.Add(1)
	}
}

// mustPadGauge builds the firmware and lets it run; a machine without the tools skips, but not where all checks are made.
func mustPadGauge(t *testing.T) *padGauge {
	t.Helper()
	f, err := bridge.Build(t.Context(), t.TempDir(), "GONE=2000")
	if errors.Is(err, bridge.ErrNoTools) && os.Getenv("CI") == "" {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	live, err := f.Start(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	g := &padGauge{t: t, live: live}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() { defer close(ended); g.stream(ctx) }()
	t.Cleanup(func() {
		cancel()
		<-ended
		if err := live.Stop(); err != nil {
			t.Error(err)
		}
	})
	return g
}

// From the pins of a bridge to the adjustment on the page: a gauge that has only a clock and a data pad measures a step of
// a build through the firmware in its simulator, a pseudo-terminal, and the service.
func TestABuildIsMeasuredThroughABridge(t *testing.T) {
	g := mustPadGauge(t)
	dir := t.TempDir()
	profile, err := os.ReadFile(filepath.Join("..", "..", "testdata", "devices", "bridge", "two-gauges.toml"))
	if err != nil {
		t.Fatal(err)
	}
	folder := filepath.Join(dir, service.ProfilesFolder)
	if err := errors.Join(os.MkdirAll(folder, 0o750), os.WriteFile(filepath.Join(folder, "two-gauges.toml"), profile, 0o600)); err != nil {
		t.Fatal(err)
	}
	v, page := serveWithPage(t, dir)
	v.must(bench.Verb{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: "pads-1", Profile: "bridge-two-gauges", Port: g.live.Path, Known: bench.KnownPath,
		Identity: g.live.Path, Role: "indicator", Channel: "left", Sense: 1}})
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	v.must(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "17", Plan: "first-fit", Text: string(text)}})
	v.must(bench.Verb{Name: bench.DoConfirm, Item: "all"})
	show := func(counts int64) {
		g.shows.Store(counts)
		want := fmt.Sprintf("%.4f in", float64(counts)/10_000)
		v.eventually("the bridge shows "+want, func() bool {
			s, err := v.Status(t.Context())
			return err == nil && len(s.Gauges) == 1 && s.Gauges[0].Raw.String() == want && s.Gauges[0].Fault == ""
		})
	}
	take := func(verb bench.Verb) {
		v.eventually(verb.Name+" is taken", func() bool {
			verb.ID = service.NewID()
			a, err := v.Do(t.Context(), verb)
			if err == nil && !a.OK && !strings.Contains(a.Words, "two frames agree") {
				t.Fatalf("%s: %s", verb.Name, a.Words)
			}
			return err == nil && a.OK
		})
	}
	show(1250)
	take(bench.Verb{Name: bench.DoZero})
	// The values are those of the first steps with a gauge that speaks text, so that the same adjustment must come of them.
	for _, counts := range []int64{4270, 4220, 3368, 3391, 1250} {
		show(counts)
		take(bench.Verb{Name: bench.DoTake})
	}
	// How the page words it is the page's: what is to be moved, by how much, must stand there.
	const adjustment = "left move 1.270 mm 0.0500 in"
	v.eventually("the adjustment is on the page", func() bool { return strings.Contains(visible(page("/")), adjustment) })
	t.Logf("%d frames were played on the pins; the page says: %s", g.frames.Load(), adjustment)
	s, err := v.Status(t.Context())
	// On a busy machine a pause can cut a frame in two: it is counted and never becomes a value.
	if err != nil || int64(s.Gauges[0].Noise) > int64(g.frames.Load())/2 {
		t.Errorf("%v, %d frames were spoilt", err, s.Gauges[0].Noise)
	}
	// Pulled off its pads it is gone, and its zero with it.
	g.off.Store(true)
	v.eventually("the gauge is gone", func() bool {
		s, err := v.Status(t.Context())
		return err == nil && !s.Gauges[0].Open && strings.Contains(s.Gauges[0].Fault, "its bridge says that it is gone")
	})
	g.off.Store(false)
	v.eventually("the gauge is back without its zero", func() bool {
		s, err := v.Status(t.Context())
		return err == nil && s.Gauges[0].Open && s.Gauges[0].Lost != ""
	})
}

// serveWithPage runs a service with its monitor on a free port; page gives what one of its pages says.
func serveWithPage(t *testing.T, dir string) (v *served, page func(path string) string) {
	t.Helper()
	cfg := service.DefaultSettings()
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan net.Addr, 1), make(chan error, 1)
	s := &service.Service{Dir: dir, Settings: cfg, Listen: "127.0.0.1:0", Log: zerolog.Nop(), Ready: func(a net.Addr) { ready <- a }}
	go func() { ended <- s.Run(ctx) }()
	var at net.Addr
	select {
	case at = <-ready:
	case err := <-ended:
		cancel()
		t.Fatalf("the service did not start: %v", err)
	case <-time.After(patience):
		t.Fatal("the service is not ready")
	}
	path, _ := service.SocketPath(dir)
	c, err := bus.Dial(path, cfg.Bench)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		c.Close()
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return &served{Client: c, tb: t, dir: dir}, func(path string) string {
		resp, err := http.Get("http://" + at.String() + path)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		b, err := io.ReadAll(resp.Body)
		if err != nil || resp.StatusCode != http.StatusOK {
			t.Fatalf("%s: %s, %v", path, resp.Status, err)
		}
		return string(b)
	}
}

// visible is a page without its tags, and with single blanks.
func visible(html string) string {
	var b strings.Builder
	tag := false
	for _, r := range html {
		switch {
		case r == '<':
			tag = true
		case r == '>':
			tag = false
			b.WriteByte(' ')
		case !tag:
			b.WriteRune(r)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}
