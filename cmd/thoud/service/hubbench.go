package service

import (
	"context"
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/pipeline/bus"
	"thoud/pipeline/monitor"
	"thoud/store"
)

// hubBench is a bench as a hub's pages show it: its state from the hub's ledger, kept up while somebody looks, and its newest
// values as it tells them. Nothing can be done there.
type hubBench struct {
	s     *store.Store
	line  string
	title string                          // how it is called on its pages
	fetch func(ctx context.Context) error // brings the ledger that is read up to date
	told  func() []bench.Notice           // what is wrong, or to be known
	hears string                          // the bench whose newest values are shown; "" for none
	nc    *nats.Conn
	log   zerolog.Logger

	mu       sync.Mutex
	loaded   store.Loaded
	results  bench.Results
	live     map[string]bench.Live
	watchers monitor.Watchers
}

var _ monitor.Bench = (*hubBench)(nil)

// followEvery is how often the hub's ledger is asked for what came of a bench that is looked at.
const followEvery = 300 * time.Millisecond

// open folds the bench's state and follows it until ctx ends.
func (h *hubBench) open(ctx context.Context) error {
	h.live = map[string]bench.Live{}
	loaded, err := h.s.Load(ctx, h.line)
	if err == nil {
		err = h.take(ctx, loaded)
	}
	if err != nil {
		return err
	}
	if h.hears != "" {
		sub, err := h.nc.Subscribe(bus.AllLive(h.hears), func(m *nats.Msg) {
			var v bench.Live
			if json.Unmarshal(m.Data, &v) != nil || v.Gauge == "" {
				return
			}
			h.mu.Lock()
			h.live[v.Gauge] = v
			h.mu.Unlock()
			h.watchers.Tell(monitor.Event{Live: &v})
		})
		if err != nil {
			return err
		}
		context.AfterFunc(ctx, func() { _ = sub.Unsubscribe() })
	}
	go h.follow(ctx)
	return nil
}

// take keeps a state with the results of the build at hand, with what was asked of the methods: pictures are drawn from it.
func (h *hubBench) take(ctx context.Context, l store.Loaded) error {
	results := l.Results
	if p := l.State.Place; p.Step != "" {
		whole, err := h.s.StepResults(ctx, h.line, p.Build, p.Step)
		if err != nil {
			return err
		}
		results = results.With(whole...)
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.loaded, h.results = l, results
	return nil
}

func (h *hubBench) follow(ctx context.Context) {
	t := time.NewTicker(followEvery)
	defer t.Stop()
	said := noticeWords(h.told())
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		}
		h.mu.Lock()
		was := h.loaded
		h.mu.Unlock()
		err := h.fetch(ctx)
		var end bench.Chain
		if err == nil {
			end, err = h.s.End(ctx, h.line)
		}
		if told := noticeWords(h.told()); told != said {
			said = told
			h.watchers.Tell(monitor.Event{Notice: &bench.Notice{Stands: true}})
		}
		if err != nil || end == was.Chain {
			continue
		}
		next, err := h.s.LoadOn(ctx, h.line, was)
		if err == nil {
			err = h.take(ctx, next)
		}
		if err != nil {
			if ctx.Err() == nil {
				h.log.Warn().Err(err).Str("bench", h.line).Msg("the page of a bench is not kept up; tried again")
			}
			continue
		}
		h.watchers.Tell(monitor.Event{Outcome: &bench.Outcome{N: end.N}})
	}
}

func (h *hubBench) State() bench.State {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.stateLocked()
}

// stateLocked is the state with the name that its pages have.
func (h *hubBench) stateLocked() bench.State {
	s := h.loaded.State
	s.Bench = h.title
	return s
}

func (h *hubBench) Results() bench.Results {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.results
}

func (h *hubBench) Scene() bench.Scene {
	h.mu.Lock()
	defer h.mu.Unlock()
	return bench.Scene{State: h.stateLocked(), Results: h.results, Committed: h.loaded.Chain.N, Now: time.Now().UnixMicro(), Newest: map[string]bench.Sample{}}
}

func (h *hubBench) Live() []bench.Live {
	h.mu.Lock()
	defer h.mu.Unlock()
	out := slices.Collect(maps.Values(h.live))
	slices.SortFunc(out, func(a, b bench.Live) int { return strings.Compare(a.Gauge, b.Gauge) })
	return out
}

// Troubles are what the bench said was wrong when it answered last, and what is to be known of its histories. What the hub itself
// finds stands on its own page.
func (h *hubBench) Troubles() []bench.Notice { return h.told() }

func noticeWords(all []bench.Notice) string {
	var out strings.Builder
	for _, n := range all {
		out.WriteString(n.Words + "\n")
	}
	return out.String()
}

// Watch tells of every change until ctx ends.
func (h *hubBench) Watch(ctx context.Context) <-chan monitor.Event { return h.watchers.Watch(ctx) }

// Do refuses: nobody at a hub can do anything at a bench.
func (h *hubBench) Do(context.Context, bench.Verb) bench.Answer {
	return bench.Answer{Words: "this is a hub: its pages are to look at; work at the bench"}
}
