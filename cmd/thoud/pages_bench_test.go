package main

import (
	"io"
	"net/http"
	"strings"
	"testing"
	"time"
)

// benchPages says what the pages of a service with a ledger take.
func benchPages(b *testing.B, dir string) {
	r := startRunning(b, dir)
	defer r.stop(b)
	get := func(path string) (time.Duration, string) {
		t0 := time.Now()
		resp, err := http.Get(r.url + path)
		if err != nil {
			b.Fatal(err)
		}
		body, err := io.ReadAll(resp.Body)
		if err != nil || resp.StatusCode != http.StatusOK {
			b.Fatalf("%s: %s, %v", path, resp.Status, err)
		}
		resp.Body.Close()
		return time.Since(t0), string(body)
	}
	// A ledger that an earlier program kept is reckoned up first, one build after another: the pages of many builds then have
	// nothing to fold. The longest look meanwhile is told too.
	var longest, reckoned time.Duration
	for began := time.Now(); ; time.Sleep(5 * time.Second) {
		took, body := get("/history")
		if longest = max(longest, took); !strings.Contains(body, "Not all builds are in this yet") {
			reckoned = time.Since(began)
			break
		}
	}
	pages := []struct{ name, path string }{
		{"bench-ms", "/"}, {"ledger-ms", "/ledger"}, {"gauge-none-ms", "/ledger?gauge=nobody"}, {"gauge-ms", "/ledger?gauge=dial-1"},
		{"step-none-ms", "/ledger?step=nowhere"}, {"text-none-ms", "/ledger?text=nothing-of-the-kind"}, {"short-none-ms", "/ledger?text=%C2%B6q"}, {"builds-ms", "/builds"},
		{"gauges-ms", "/gauges"}, {"engine-ms", "/engine"}, {"due-ms", "/due"}, {"plans-ms", "/plans"}, {"help-ms", "/help"},
		{"hands-ms", "/hands"}, {"compare-ms", "/builds/compare"}, {"histories-ms", "/history"}, {"history-ms", "/history?dimension=crank-runout/total_reading"},
	}
	all := map[string][]time.Duration{}
	for b.Loop() {
		for _, p := range pages {
			took, _ := get(p.path)
			all[p.name] = append(all[p.name], took)
		}
	}
	for _, p := range pages {
		b.ReportMetric(ms(percentile(all[p.name], 0.5)), p.name)
	}
	b.ReportMetric(reckoned.Seconds(), "until-reckoned-s")
	b.ReportMetric(ms(longest), "until-then-most-ms")
	b.ReportMetric(0, "ns/op")
}
