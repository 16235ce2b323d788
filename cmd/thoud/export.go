package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/store"
	"thoud/store/sheet"
)

func newExportCommand() *cobra.Command {
	var format, out string
	cmd := &cobra.Command{Use: "export", Short: "Write the whole ledger as a table or as JSON lines", Args: cobra.NoArgs,
		Long: `Every entry, oldest first. As csv: one row an entry, units in the headings, for a spreadsheet. As jsonl: one line an
entry, {"seal": …, "entry": …}, the entry byte for byte as it was sealed: each seal is the SHA-256 of the seal before it
(32 zero bytes before the first) and these bytes, so that anyone can check the chain.`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if wantJSON(cmd) {
				format = "jsonl"
			}
			write, ok := map[string]func(context.Context, *store.Store, string, io.Writer, func()) error{"csv": exportCSV, "jsonl": exportLines}[format]
			if !ok {
				return usageError(cmd, "--format %q: want csv or jsonl", format)
			}
			return withLedger(cmd, func(ctx context.Context, s *store.Store, name string) error {
				n, err := s.Count(ctx, name)
				if err != nil {
					return err
				}
				step, end := progressBar(cmd.ErrOrStderr(), "exporting")
				defer end()
				done := 0
				tick := func() {
					if done++; step != nil && out != "" {
						step(done, n.Entries)
					}
				}
				return toFile(cmd, out, func(w io.Writer) error {
					b := bufio.NewWriter(w)
					if err := write(ctx, s, name, b, tick); err != nil {
						return err
					}
					return b.Flush()
				})
			})
		}}
	cmd.Flags().StringVar(&format, "format", "csv", "csv or jsonl")
	cmd.Flags().StringVarP(&out, "output", "o", "", "file to write to (default: standard output)")
	return cmd
}

// exportLines writes an entry a line; tick is called for each.
func exportLines(ctx context.Context, s *store.Store, name string, w io.Writer, tick func()) error {
	var failed error
	err := s.EachEntry(ctx, name, store.Filter{OldestFirst: true}, func(r store.EntryRow) bool {
		tick()
		_, failed = fmt.Fprintf(w, "{\"seal\":\"%s\",\"entry\":%s}\n", r.Seal, r.Body)
		return failed == nil
	})
	if err != nil {
		return err
	}
	return failed
}

var exportHeads = []string{"entry", "id", "kind", "at (UTC)", "clock set", "job", "step", "pass", "point", "seating", "by", "gauge", "mode",
	"value (mm)", "value (in)", "other value", "unit of other value", "raw value (mm)", "raw value (in)", "other raw value", "unit of other raw value",
	"zero", "as sent", "bytes (hex)", "typed", "withdrawn by entry", "refers to", "reason", "words", "seal"}

// exportCSV writes an entry a row; tick is called for each.
func exportCSV(ctx context.Context, s *store.Store, name string, w io.Writer, tick func()) error {
	gone := map[string]uint64{}
	if err := s.EachEntry(ctx, name, store.Filter{Kind: bench.Withdrawn}, func(r store.EntryRow) bool {
		gone[r.Entry.Refers] = r.Entry.N
		return true
	}); err != nil {
		return err
	}
	out := csv.NewWriter(w)
	failed := out.Write(exportHeads)
	err := s.EachEntry(ctx, name, store.Filter{OldestFirst: true}, func(r store.EntryRow) bool {
		tick()
		if failed == nil {
			failed = out.Write(exportRow(r, gone[r.Entry.ID]))
		}
		return failed == nil
	})
	if err != nil {
		return err
	}
	if failed != nil {
		return failed
	}
	out.Flush()
	return out.Error()
}

func exportRow(r store.EntryRow, gone uint64) []string {
	e := r.Entry
	var value, raw quantity.Value
	var mode, zero, sent, typed string
	var frames [][]byte
	switch {
	case e.Reading != nil:
		value, raw, mode, zero, sent, frames = e.Reading.Value, e.Reading.Raw, e.Reading.Mode, e.Reading.Zero, e.Reading.Text, e.Reading.Frames
		if e.Reading.Keyed {
			typed = "yes"
		}
	case e.Zero != nil:
		value, raw, sent, frames = e.Zero.Shows, e.Zero.Raw, e.Zero.Text, e.Zero.Frames
	}
	row := []string{strconv.FormatUint(e.N, 10), e.ID, string(e.Kind), time.UnixMicro(e.At).UTC().Format("2006-01-02T15:04:05.000000Z"), yesNo(e.ClockOK),
		e.Place.Build, e.Place.Step, count(e.Place.Pass), e.Place.Point, count(e.Place.Seating), e.By, bench.GaugeOf(e), mode}
	row = append(row, valueFields(value)...)
	row = append(row, valueFields(raw)...)
	var bytes []string
	for _, f := range frames {
		bytes = append(bytes, hex.EncodeToString(f))
	}
	row = append(row, zero, sent, strings.Join(bytes, " "), typed)
	words := ""
	if e.Reading == nil && e.Zero == nil { // those have columns of their own
		words = strings.Join(bench.SaysOf(e), "; ")
	}
	withdrawn := ""
	if gone > 0 {
		withdrawn = strconv.FormatUint(gone, 10)
	}
	row = append(row, withdrawn, e.Refers, e.Reason, words, r.Seal.String())
	for i, f := range row {
		f = bench.CleanText(f)
		row[i] = f
		if i < 13 || i > 20 { // not the numbers, which may begin with a minus
			row[i] = sheet.Plain(f)
		}
	}
	return row
}

// valueFields are a value in mm and in inches, or, where it is no length, as sent with its unit.
func valueFields(v quantity.Value) []string {
	switch {
	case !v.Valid():
		return []string{"", "", "", ""}
	case v.Kind() != quantity.Length:
		return []string{"", "", v.Digits(), v.Unit.Code}
	}
	inches := v.Round(quantity.Inch.For(quantity.Length), 7)
	if v.Unit.Code == "in" {
		inches = v.Digits()
	}
	return []string{v.In(quantity.Metric.For(quantity.Length), 4).Digits(), inches, "", ""}
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// count is a number counted from 1; "" for none.
func count(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}
