package main

import (
	"context"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"time"

	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/devices"
	"thoud/pipeline/monitor"
	"thoud/store"
	"thoud/store/sheet"
)

// sheets writes build sheets for the monitor.
type sheets struct {
	s     *store.Store
	bench string
}

var _ monitor.Sheets = sheets{}

// Sheet writes the sheet of a job.
func (x sheets) Sheet(ctx context.Context, job, format, system string, w io.Writer) error {
	sys, err := unitSystem(system)
	if err != nil {
		return err
	}
	write, ok := sheetFormats()[format]
	if !ok {
		return fmt.Errorf("a sheet is not written as %q", format)
	}
	loaded, err := x.s.Load(ctx, x.bench)
	if err != nil {
		return err
	}
	made, err := sheetOf(ctx, x.s, x.bench, loaded, job, true)
	if err != nil {
		return err
	}
	return write(w, made, sheet.Options{System: sys})
}

// sheetFormats are the formats of a sheet and who writes them.
func sheetFormats() map[string]func(io.Writer, sheet.Sheet, sheet.Options) error {
	return map[string]func(io.Writer, sheet.Sheet, sheet.Options) error{
		"html": sheet.HTML, "pdf": sheet.PDF, "csv": sheet.CSV,
		"json": func(w io.Writer, s sheet.Sheet, _ sheet.Options) error { return sheet.JSON(w, s) },
	}
}

// finder looks for gauges for the monitor. It only listens: nothing is written to a port.
type finder struct{ profiles map[string]devices.Profile }

var _ monitor.Finder = finder{}

// Ports lists what is plugged in.
func (f finder) Ports(context.Context) ([]monitor.Port, error) {
	found, err := line.SystemPorts().List()
	if err != nil {
		return nil, err
	}
	var out []monitor.Port
	for _, p := range found {
		out = append(out, monitor.Port{Path: p.Path, Known: p.Known, Identity: p.Identity, Adapter: p.Adapter})
	}
	return out, nil
}

// Profiles lists the profiles by name.
func (f finder) Profiles() []string { return slices.Sorted(maps.Keys(f.profiles)) }

// Identify listens at a port and gives a gauge with the likeliest profile.
func (f finder) Identify(ctx context.Context, path string, progress func(done, total int, words string)) (bench.Gauge, error) {
	found, err := line.SystemPorts().Identify(path)
	if err != nil {
		return bench.Gauge{}, err
	}
	var list []devices.Profile
	for _, name := range f.Profiles() {
		list = append(list, f.profiles[name])
	}
	id := line.Identifier{Open: line.OpenSerial, Profiles: list, Each: listenEach, Progress: progress}
	guesses, err := id.Run(ctx, path)
	if err != nil {
		return bench.Gauge{}, err
	}
	if len(guesses) == 0 {
		return bench.Gauge{}, fmt.Errorf("port %s: what it sends fits no profile; teach it one with: thoud teach", path)
	}
	p := guesses[0].Profile
	g := bench.Gauge{Port: found.Path, Known: found.Known, Identity: found.Identity, Profile: p.Name, Role: p.Role, Sends: bench.SendsStream, Sense: 1}
	if p.Poll.Polled() {
		g.Sends = bench.SendsPolled
	}
	return g, nil
}

// keeper looks after the ledger for the monitor.
type keeper struct {
	s     *store.Store
	bench string
	dir   string
}

var _ monitor.Keeper = keeper{}

// backupsFolder is where backups that are made from the monitor go, within the state folder.
const backupsFolder = "backups"

// Verify checks the ledger.
func (k keeper) Verify(ctx context.Context, progress func(done, total int)) (string, error) {
	rep, err := k.s.Verify(ctx, k.bench, progress)
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
	dir := filepath.Join(k.dir, backupsFolder)
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return "", err
	}
	file := filepath.Join(dir, "ledger-"+time.Now().Format("2006-01-02-150405")+filepath.Ext(ledgerName))
	if err := k.s.Backup(ctx, file, progress); err != nil {
		return "", err
	}
	return "Copied and checked: " + file + ". Carry a copy to another disk too.", nil
}
