package monitor

import (
	"context"
	"sync"
)

// Watchers are who follow a bench's changes. Telling them never waits: a slow one loses the oldest of what it has not taken, never
// the newest, for pages are made from what stands. The zero Watchers has none.
type Watchers struct {
	mu  sync.Mutex
	all map[chan Event]bool
}

// watchersHold is how many events wait for a slow watcher.
const watchersHold = 64

// Watch tells of every change until ctx ends; then the channel is closed.
func (w *Watchers) Watch(ctx context.Context) <-chan Event {
	c := make(chan Event, watchersHold)
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.all == nil {
		w.all = map[chan Event]bool{}
	}
	w.all[c] = true
	context.AfterFunc(ctx, func() {
		w.mu.Lock()
		defer w.mu.Unlock()
		delete(w.all, c)
		close(c)
	})
	return c
}

// Tell tells all of an event. A live value that finds no room is left out, as the next one is newer anyway.
func (w *Watchers) Tell(e Event) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for c := range w.all {
		select {
		case c <- e:
			continue
		default:
		}
		if e.Live != nil {
			continue
		}
		select {
		case <-c:
		default:
		}
		select {
		case c <- e:
		default:
		}
	}
}

// Count is how many watch.
func (w *Watchers) Count() int {
	w.mu.Lock()
	defer w.mu.Unlock()
	return len(w.all)
}
