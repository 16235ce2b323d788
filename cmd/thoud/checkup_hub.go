package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"time"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

// lookAtHub finds what is wrong at a hub and at its benches, as it wrote it down last.
func lookAtHub(_ context.Context, dir string) []finding {
	if _, err := service.ReadHubSettings(dir); err != nil {
		return []finding{{What: service.HubSettingsName, Words: err.Error(), Remedy: "mend the line; the hub does not start with it"}}
	}
	r, err := service.ReadHubReport(dir)
	if err != nil {
		return []finding{{What: "hub", Words: err.Error(), Remedy: "thoud hub"}}
	}
	f := finding{What: "hub", OK: r.Running, Words: fmt.Sprintf("running, %d benches", len(r.Benches)), Remedy: "thoud hub"}
	if !r.Running {
		f.Words = "does not run; it did last at " + r.At.Local().Format(time.DateTime)
	}
	out := []finding{f}
	if r.Trouble != "" {
		out = append(out, finding{What: "hub", Words: r.Trouble})
	}
	for _, b := range r.Benches {
		what := "bench " + b.Bench
		wrong := service.Wrong(b, time.Now())
		if len(wrong) == 0 {
			out = append(out, finding{What: what, OK: true, Words: service.CopyWords(b)})
		}
		for _, words := range wrong {
			out = append(out, finding{What: what, Words: words})
		}
	}
	return out
}

// lookAtHubsBackup finds a hub's ledger that would not outlive its disk.
func lookAtHubsBackup(ctx context.Context, dir string) []finding {
	set, err := service.ReadHubSettings(dir)
	if err != nil {
		return nil // told by the hub's look
	}
	s, err := store.OpenReadOnly(ctx, filepath.Join(dir, service.LedgerName))
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, store.ErrNoLedger) {
		return []finding{{What: "ledger", OK: true, Words: "none yet"}}
	}
	if err != nil {
		return []finding{{What: "ledger", Words: err.Error(), Remedy: "thoud verify says which row; put a backup in its place"}}
	}
	defer s.Close()
	words, want := service.HubBackupLook(ctx, s, dir, set, time.Now())
	return []finding{{What: "backup", OK: want == "", Words: words, Remedy: want}}
}
