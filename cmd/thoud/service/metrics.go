package service

import (
	"context"
	"fmt"
	"net/http"
	"sort"
	"strings"
	"sync"
	"time"

	"thoud/capture"
	"thoud/capture/bench"
	"thoud/pipeline/bus"
	"thoud/pipeline/monitor"
	"thoud/store/disk"
)

// metrics counts what goes through the service, for programs that watch over machines. It is written by hand: the text
// format is a page long, and the libraries for it are a tenth of the whole binary.
type metrics struct {
	began time.Time

	mu       sync.Mutex
	readings uint64
	entries  uint64
	results  uint64
	commit   seconds           // from an entry's own time to its commit
	publish  seconds           // until an entry is safe on the stream
	failed   uint64            // times that it was not
	lost     map[string]uint64 // times that a gauge was gone
	back     map[string]uint64
	viewers  func() int // nil while there is no page
	live     map[string]uint64
	noise    map[string]int // spoilt frames of a gauge since its line was opened
	notices  map[string]uint64
}

// seconds is a sum and a count of times.
type seconds struct {
	sum   float64
	count uint64
}

func newMetrics() *metrics {
	return &metrics{began: time.Now(), live: map[string]uint64{}, noise: map[string]int{}, notices: map[string]uint64{}, lost: map[string]uint64{}, back: map[string]uint64{}}
}

// watch says who counts the screens that follow the pages.
func (m *metrics) watch(viewers func() int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.viewers = viewers
}

// timedLog is the stream as the bench appends to it, with the time that takes.
type timedLog struct {
	capture.Log
	metrics *metrics
}

// Append appends an entry; what it returns is the stream's.
func (l timedLog) Append(ctx context.Context, e bench.Entry, body []byte) error {
	began := time.Now()
	err := l.Log.Append(ctx, e, body)
	l.metrics.onPublished(time.Since(began), err)
	return err
}

func (m *metrics) onPublished(took time.Duration, err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err != nil {
		m.failed++
		return
	}
	m.publish.sum += took.Seconds()
	m.publish.count++
}

func (m *metrics) onLive(v bench.Live) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.live[v.Gauge]++
	m.noise[v.Gauge] = v.Noise
}

func (m *metrics) onNotice(n bench.Notice) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if n.Tone != "" {
		m.notices[n.Tone]++
	}
}

// onCommitted counts an entry that is in the ledger with its results.
func (m *metrics) onCommitted(e bench.Entry, results int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.entries++
	m.results += uint64(results)
	switch e.Kind {
	case bench.ReadingTaken:
		m.readings++
	case bench.GaugeLost:
		m.lost[bench.GaugeOf(e)]++
	case bench.GaugeBack:
		m.back[bench.GaugeOf(e)]++
	}
	// An entry that was drained at the start, or made while the clock was wrong, says nothing of the time it took.
	if d := time.Since(time.UnixMicro(e.At)); d > 0 && d < time.Minute {
		m.commit.sum += d.Seconds()
		m.commit.count++
	}
}

// metricsPage answers in the text exposition format, version 0.0.4.
func (s *Service) metricsPage(d *liveFeed, b *bus.Server) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		var out strings.Builder
		say := func(name, kind, help string) {
			fmt.Fprintf(&out, "# HELP thoud_%s %s\n# TYPE thoud_%s %s\n", name, help, name, kind)
		}
		value := func(name string, v any, labels ...string) {
			fmt.Fprintf(&out, "thoud_%s", name)
			for i := 0; i+1 < len(labels); i += 2 {
				sep := "{"
				if i > 0 {
					sep = ","
				}
				fmt.Fprintf(&out, "%s%s=%q", sep, labels[i], labels[i+1]) // names of gauges are a-z, 0-9 and -
			}
			if len(labels) > 0 {
				out.WriteByte('}')
			}
			fmt.Fprintf(&out, " %v\n", v)
		}
		one := func(name, kind, help string, v any) { say(name, kind, help); value(name, v) }
		say("build_info", "gauge", "the version that runs, always 1")
		value("build_info", 1, "version", Version(), "bench", s.Settings.Bench)
		state := d.State()
		one("ledger_entries", "gauge", "number of the last entry in the ledger", state.N)
		made := d.loop.State().N
		one("bench_entries", "gauge", "number of the last entry that the bench made", made)
		one("queue_entries", "gauge", "entries that are safe on the stream and not in the ledger yet", made-min(made, state.N))
		standing := d.Troubles()
		one("troubles", "gauge", "troubles that stand now", len(standing))
		say("trouble", "gauge", "a trouble that stands now, by where it comes from, always 1")
		for _, t := range standing {
			value("trouble", 1, "source", t.Source)
		}
		one("monitor_watchers", "gauge", "who follows the live feed within the process", d.watchers.Count())
		one("bus_restarts_total", "counter", "how often the embedded server was started anew", b.Restarts())
		if space, err := disk.SpaceOf(s.Dir); err == nil {
			one("disk_free_bytes", "gauge", "free on the disk of the state folder", space.Free)
			one("disk_bytes", "gauge", "size of that disk", space.Total)
		}
		m := d.metrics
		m.mu.Lock()
		defer m.mu.Unlock()
		one("uptime_seconds", "gauge", "since the service began", int64(time.Since(m.began).Seconds()))
		one("entries_total", "counter", "entries committed since the service began", m.entries)
		one("readings_total", "counter", "readings committed since the service began", m.readings)
		one("results_total", "counter", "results computed since the service began", m.results)
		say("commit_seconds", "summary", "from an entry's own time to its commit in the ledger")
		value("commit_seconds_sum", m.commit.sum)
		value("commit_seconds_count", m.commit.count)
		say("publish_seconds", "summary", "until an entry of the bench is safe on the stream")
		value("publish_seconds_sum", m.publish.sum)
		value("publish_seconds_count", m.publish.count)
		one("publish_failures_total", "counter", "times that an entry was refused by the stream and tried again", m.failed)
		viewers := 0
		if m.viewers != nil {
			viewers = m.viewers()
		}
		one("monitor_viewers", "gauge", "screens that follow the pages now", viewers)
		say("gauge_lost_total", "counter", "times that a gauge was gone")
		for _, g := range sortedKeys(m.lost) {
			value("gauge_lost_total", m.lost[g], "gauge", g)
		}
		say("gauge_back_total", "counter", "times that a gauge spoke, again or for the first time")
		for _, g := range sortedKeys(m.back) {
			value("gauge_back_total", m.back[g], "gauge", g)
		}
		say("live_values_total", "counter", "live values of a gauge that were passed on")
		for _, g := range sortedKeys(m.live) {
			value("live_values_total", m.live[g], "gauge", g)
		}
		say("bad_frames", "gauge", "frames of a gauge that were spoilt since its line was opened")
		for _, g := range sortedKeys(m.noise) {
			value("bad_frames", m.noise[g], "gauge", g)
		}
		say("tones_total", "counter", "what the bench told with a tone")
		for _, t := range sortedKeys(m.notices) {
			value("tones_total", m.notices[t], "tone", t)
		}
		w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
		_, _ = w.Write([]byte(out.String())) // whoever asked is gone
	})
}

// healthPage answers ok while the bench can take readings, else what stands in the way.
func (s *Service) healthPage(d *liveFeed) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		for _, t := range d.Troubles() {
			if t.Source == "bus" || t.Source == "ledger" || t.Source == "disk" {
				w.WriteHeader(http.StatusServiceUnavailable)
				fmt.Fprintf(w, "%s: %s\n", t.Source, t.Words)
				return
			}
		}
		fmt.Fprintln(w, "ok")
	})
}

// watched are the answers to programs that watch over machines; the monitor guards them.
func (s *Service) watched(d *liveFeed, b *bus.Server) monitor.Watched {
	return monitor.Watched{Metrics: s.metricsPage(d, b), Health: s.healthPage(d), Open: s.Settings.Monitor.Metrics == metricsOpen}
}

// metricsOpen in the settings lets other machines ask for metrics and health.
const metricsOpen = "open"

func sortedKeys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}
