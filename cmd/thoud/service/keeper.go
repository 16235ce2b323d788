package service

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"thoud/pipeline/monitor"
	"thoud/store"
)

// keeper looks after the ledger for the monitor.
type keeper struct {
	s     *store.Store
	bench string
	dir   string
	note  func(context.Context) string
}

var _ monitor.Keeper = keeper{}

// Verify checks the ledger.
func (k keeper) Verify(ctx context.Context, progress func(done, total int)) (string, error) {
	check := Check()
	check.Progress = progress
	rep, err := k.s.Verify(ctx, k.bench, check)
	if err != nil {
		return "", err
	}
	words := fmt.Sprintf("%d entries, %d readings, %d results; ends with seal %s", rep.Entries, rep.Readings, rep.Results, rep.Seal)
	for _, f := range rep.Unknown {
		words += fmt.Sprintf("\n%s: %s", f.Row, f.What)
	}
	for _, f := range rep.Wrong {
		words += fmt.Sprintf("\nWRONG %s: %s", f.Row, f.What)
	}
	if len(rep.Wrong) > 0 {
		return words + "\nKeep the file as it is, and compare it with a backup.", nil
	}
	return "Whole: " + words, nil
}

// Backup copies the ledger into a folder beside it.
func (k keeper) Backup(ctx context.Context, progress func(done, total int)) (string, error) {
	dir := filepath.Join(k.dir, BackupsFolder)
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return "", err
	}
	file := filepath.Join(dir, "ledger-"+time.Now().Format("2006-01-02-150405")+ArchiveSuffix)
	if err := Backup(ctx, k.s, k.dir, file, progress); err != nil {
		return "", err
	}
	k.note(ctx)
	return "Copied and checked: " + file + ". Carry a copy to another disk too.", nil
}
