package service

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"sync"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/pipeline/monitor"
	"thoud/store"
	"thoud/store/sheet"
)

// sheets writes build sheets for the monitor: one or two at a time, and the last few are kept, so that any number of
// viewers who ask for the same sheet cost one.
type sheets struct {
	s     *store.Store
	bench string
	note  func(context.Context) string // signs where the ledger ends, and gives that note

	making chan struct{} // as many places as sheets are made side by side
	mu     sync.Mutex
	kept   []keptSheet // oldest first
}

// keptSheet is a sheet as it was written when the ledger ended with an entry.
type keptSheet struct {
	asked monitor.SheetAsked
	n     uint64
	body  []byte
}

const (
	sheetsAtOnce = 2
	sheetsKept   = 8
	// largestKept is the largest sheet that is kept, in bytes: with photos one can be large.
	largestKept = 4 << 20
)

func newSheets(s *store.Store, benchName string, note func(context.Context) string) *sheets {
	return &sheets{s: s, bench: benchName, note: note, making: make(chan struct{}, sheetsAtOnce)}
}

var _ monitor.Sheets = (*sheets)(nil)

// Sheet writes the sheet of a job.
func (x *sheets) Sheet(ctx context.Context, asked monitor.SheetAsked, w io.Writer) error {
	select {
	case x.making <- struct{}{}:
		defer func() { <-x.making }()
	case <-ctx.Done():
		return ctx.Err()
	}
	end, err := x.s.End(ctx, x.bench)
	if err != nil {
		return err
	}
	key := keptSheet{asked: asked, n: end.N}
	body, ok := x.find(key)
	if !ok {
		var b bytes.Buffer
		if err := x.write(ctx, asked, &b); err != nil {
			return err
		}
		body = b.Bytes()
		key.body = body
		x.keep(key)
	}
	_, err = w.Write(body)
	return err
}

func (x *sheets) find(key keptSheet) ([]byte, bool) {
	x.mu.Lock()
	defer x.mu.Unlock()
	for _, k := range x.kept {
		if k.asked == key.asked && k.n == key.n {
			return k.body, true
		}
	}
	return nil, false
}

func (x *sheets) keep(key keptSheet) {
	if len(key.body) > largestKept {
		return
	}
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.kept = append(x.kept, key); len(x.kept) > sheetsKept {
		x.kept = x.kept[1:]
	}
}

func (x *sheets) write(ctx context.Context, asked monitor.SheetAsked, w io.Writer) error {
	sys, err := UnitSystem(asked.System)
	if err != nil {
		return err
	}
	write, ok := SheetFormats()[asked.Format]
	if !ok {
		return fmt.Errorf("a sheet is not written as %q", asked.Format)
	}
	made, err := SheetOf(ctx, x.s, x.bench, asked.Job, true)
	if err != nil {
		return err
	}
	if text := x.note(ctx); text != "" {
		made.Note = sheetNote(text)
	}
	return write(w, made, sheet.Options{System: sys, Zone: time.Local, Readings: asked.Readings})
}

// SheetFormats are the formats of a sheet and who writes them. People's texts are cleaned where people read them; the JSON
// form keeps them, with the signs that act escaped.
func SheetFormats() map[string]func(io.Writer, sheet.Sheet, sheet.Options) error {
	clean := func(write func(io.Writer, sheet.Sheet, sheet.Options) error) func(io.Writer, sheet.Sheet, sheet.Options) error {
		return func(w io.Writer, s sheet.Sheet, o sheet.Options) error { return write(w, sheet.Clean(s), o) }
	}
	return map[string]func(io.Writer, sheet.Sheet, sheet.Options) error{
		"html": clean(sheet.HTML), "pdf": clean(sheet.PDF), "csv": clean(sheet.CSV),
		"json": func(w io.Writer, s sheet.Sheet, _ sheet.Options) error {
			var b bytes.Buffer
			if err := sheet.JSON(&b, s); err != nil {
				return err
			}
			_, err := w.Write(bench.EscapeJSON(b.Bytes()))
			return err
		},
	}
}

// UnitSystem reads --units.
func UnitSystem(units string) (quantity.System, error) {
	switch units {
	case "inch":
		return quantity.Inch, nil
	case "mm":
		return quantity.Metric, nil
	}
	return "", fmt.Errorf("--units %q: want inch or mm", units)
}

// SheetOf makes the sheet of a job from its own entries; its photos are read only where they are wanted.
func SheetOf(ctx context.Context, st *store.Store, name, job string, photos bool) (sheet.Sheet, error) {
	state, chain, err := st.StateOf(ctx, name, job)
	if err != nil {
		return sheet.Sheet{}, err
	}
	history, err := st.Standing(ctx, name, job)
	if err != nil {
		return sheet.Sheet{}, err
	}
	src := sheet.Source{State: state, Job: job, History: history, Photos: map[string]bench.Picture{}, Chain: chain, Made: time.Now(), Program: Version()}
	if photos {
		err = st.EachEntry(ctx, name, store.Filter{Build: job, Kind: bench.Photo}, func(r store.EntryRow) bool {
			if r.Entry.Picture != nil {
				src.Photos[r.Entry.ID] = *r.Entry.Picture
			}
			return true
		})
		if err != nil {
			return sheet.Sheet{}, err
		}
	}
	return sheet.Build(src)
}
