package service

import (
	"context"
	"sync"
	"time"

	"thoud/capture/bench"
	"thoud/store"
)

// lineNames are the lines of a hub's ledger.
func lineNames(s *store.Store) func(context.Context) ([]string, error) {
	return func(ctx context.Context) ([]string, error) {
		lines, err := s.Lines(ctx)
		names := make([]string, len(lines))
		for i, l := range lines {
			names[i] = l.Name
		}
		return names, err
	}
}

// hubTrouble is what is wrong at the hub itself, for its page; each change is logged.
type hubTrouble struct {
	mu    sync.Mutex
	words string
}

func (h *hubTrouble) get() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.words
}

func (h *hubTrouble) set(words string) (changed bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	changed = h.words != words
	h.words = words
	return changed
}

// daily makes the hub's own checked copies, as a bench does. No note stands beside them: thoud note asks for one of a bench.
func (h *Hub) daily(ledger *store.Store, trouble *hubTrouble) dailyBackup {
	return dailyBackup{ledger: ledger, name: "hub-" + h.Settings.Name, lines: lineNames(ledger), dir: h.Dir, folder: h.Settings.Backup, settings: HubSettingsName,
		now: time.Now, note: func(context.Context) string { return "" }, log: h.Log, notice: func(n bench.Notice) {
			words := ""
			if n.Stands {
				words = n.Words
			}
			if trouble.set(words) && words != "" {
				h.Log.Error().Msg(words)
			}
		}}
}
