package service_test

import (
	"context"
	"io"
	"net"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
)

// sample is a line of the text exposition format 0.0.4: a name, labels in braces, a number.
var sample = regexp.MustCompile(`^[a-zA-Z_:][a-zA-Z0-9_:]*(\{[a-zA-Z_][a-zA-Z0-9_]*="[^"\\\n]*"(,[a-zA-Z_][a-zA-Z0-9_]*="[^"\\\n]*")*\})? -?[0-9.e+-]+$`)

func TestMetricsAndHealth(t *testing.T) {
	dir := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan net.Addr, 1), make(chan error, 1)
	s := &service.Service{Dir: dir, Settings: service.DefaultSettings(), Log: zerolog.Nop(), Listen: "127.0.0.1:0", Ready: func(a net.Addr) { ready <- a }}
	go func() { ended <- s.Run(ctx) }()
	var at net.Addr
	select {
	case at = <-ready:
	case err := <-ended:
		t.Fatal(err)
	}
	get := func(path string) (int, string) {
		t.Helper()
		res, err := http.Get("http://" + at.String() + path)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		b, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return res.StatusCode, string(b)
	}
	if code, body := get("/healthz"); code != http.StatusOK || body != "ok\n" {
		t.Errorf("/healthz: %d %q", code, body)
	}
	path, _ := service.SocketPath(dir)
	c, err := bus.Dial(path, "bench")
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if a, err := c.Do(ctx, bench.Verb{ID: service.NewID(), Name: bench.DoGaugeAdd,
		Register: &bench.Gauge{Name: "plain-dial", Known: bench.KnownKeyed, Profile: "keyed", Role: "indicator"}}); err != nil || !a.OK {
		t.Fatalf("%v, %+v", err, a)
	}
	if _, err := c.Status(ctx); err != nil {
		t.Fatal(err)
	}
	code, body := get("/metrics")
	if code != http.StatusOK {
		t.Fatalf("/metrics: %d", code)
	}
	names := map[string]bool{}
	for line := range strings.Lines(body) {
		line = strings.TrimSuffix(line, "\n")
		if strings.HasPrefix(line, "# HELP ") || strings.HasPrefix(line, "# TYPE ") {
			continue
		}
		if !sample.MatchString(line) {
			t.Errorf("%q is no sample", line)
		}
		name, _, _ := strings.Cut(line, " ")
		name, _, _ = strings.Cut(name, "{")
		names[name] = true
	}
	for _, want := range []string{"thoud_build_info", "thoud_entries_total", "thoud_readings_total", "thoud_commit_seconds_count", "thoud_disk_free_bytes", "thoud_troubles", "thoud_bus_restarts_total", "thoud_queue_entries", "thoud_publish_seconds_count", "thoud_publish_failures_total", "thoud_monitor_viewers"} {
		if !names[want] {
			t.Errorf("no %s in\n%s", want, body)
		}
	}
	// The gauge, and before it what names the rules and the key of notes.
	if !strings.Contains(body, "\nthoud_entries_total 3\n") {
		t.Errorf("an entry was made and is not counted:\n%s", body)
	}
	if !strings.Contains(body, "\nthoud_publish_seconds_count 3\n") || !strings.Contains(body, "\nthoud_queue_entries 0\n") || !strings.Contains(body, "\nthoud_monitor_viewers 0\n") {
		t.Errorf("three entries were published, none waits, and nobody looks:\n%s", body)
	}
	// One screen follows.
	screen, err := http.Get("http://" + at.String() + "/stream/bench")
	if err != nil {
		t.Fatal(err)
	}
	defer screen.Body.Close()
	for end := time.Now().Add(10 * time.Second); !strings.Contains(body, "\nthoud_monitor_viewers 1\n"); _, body = get("/metrics") {
		if time.Now().After(end) {
			t.Fatalf("a screen follows and is not counted (%s):\n%s", screen.Status, body)
		}
		time.Sleep(10 * time.Millisecond)
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
}
