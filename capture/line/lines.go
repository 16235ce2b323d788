package line

import (
	"context"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/devices"
)

// Lines are the open lines of a bench, one a port. Set the exported fields, then Add gauges from one goroutine.
type Lines struct {
	Open    Opener
	Resolve func(bench.Gauge) (string, error)
	Now     func() time.Time
	OnEvent func(Event) // called by the goroutines of the lines; it may wait, but not beyond the end of the lines' context
	Log     zerolog.Logger

	runs    map[string]running // by port
	running sync.WaitGroup
}

type running struct {
	line   *Line
	cancel context.CancelFunc
}

// Add listens to a gauge until ctx ends or it is removed. A gauge on a port that is open already joins its line.
func (ls *Lines) Add(ctx context.Context, g bench.Gauge, p devices.Profile) {
	key := portKey(g)
	if r, ok := ls.runs[key]; ok {
		// Told from a goroutine of its own: the caller may be the one that empties the queue of events.
		ls.running.Go(func() { r.line.Add(g) })
		return
	}
	ctx, cancel := context.WithCancel(ctx)
	l := &Line{Profile: p, Open: ls.Open, Resolve: ls.Resolve, Now: ls.Now, OnEvent: ls.OnEvent, Log: ls.Log, Backoff: Backoff}
	l.Add(g)
	if ls.runs == nil {
		ls.runs = map[string]running{}
	}
	ls.runs[key] = running{l, cancel}
	ls.running.Go(func() { l.Run(ctx) })
}

// Remove takes a gauge off its line; a line without gauges is closed.
func (ls *Lines) Remove(name string) {
	for key, r := range ls.runs {
		if r.line.gauges.has(name) && r.line.gauges.remove(name) == 0 {
			r.cancel()
			delete(ls.runs, key)
		}
	}
}

// Wait returns when every line is closed. End the context they were added under first.
func (ls *Lines) Wait() { ls.running.Wait() }

// portKey names the line that a gauge is on: gauges of one port share it.
func portKey(g bench.Gauge) string { return string(g.Known) + " " + g.Identity + " " + g.Profile }
