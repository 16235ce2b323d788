package main

import (
	"context"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
	"thoud/store"
)

func newReadingsCommand() *cobra.Command {
	var f store.Filter
	var asHex bool
	cmd := &cobra.Command{Use: "readings", Short: "Find readings again, with the bytes as they came", Args: cobra.NoArgs,
		Long: `Every reading that was ever taken, newest first: its value, the raw value and the zero it was taken against, the bytes
that the gauge sent, the place, the gauge and the time. Readings that were withdrawn are there too, and say so.`,
		Example: "  thoud readings --job 17 --step guide-clearance\n  thoud readings --point 'left.*' --json",
		RunE: func(cmd *cobra.Command, _ []string) error {
			if f.Limit < 0 {
				return usageError(cmd, "--limit %d: want a number from 0 (all of them)", f.Limit)
			}
			return withLedger(cmd, func(ctx context.Context, s *store.Store, name string) error {
				rows, err := s.Readings(ctx, name, f)
				if err != nil {
					return err
				}
				if len(rows) == 0 {
					if err := mustKnow(ctx, s, name, f); err != nil {
						return err
					}
				}
				if wantJSON(cmd) {
					if rows == nil {
						rows = []store.ReadingRow{}
					}
					return printJSON(cmd.OutOrStdout(), rows)
				}
				if len(rows) == 0 {
					fmt.Fprintln(cmd.OutOrStdout(), "no such readings")
					return nil
				}
				lines := [][]string{{"ENTRY", "TAKEN", "PLACE", "READS", "RAW", "ZERO", "GAUGE", "BY", "BYTES"}}
				for _, r := range rows {
					lines = append(lines, readingLine(r, asHex))
				}
				table(cmd.OutOrStdout(), lines)
				return nil
			})
		}}
	fl := cmd.Flags()
	fl.StringVar(&f.Build, "job", "", "of this job")
	fl.StringVar(&f.Step, "step", "", "of this step")
	fl.StringVar(&f.Point, "point", "", "of this point; * and ? stand for anything")
	fl.StringVar(&f.Gauge, "gauge", "", "of this gauge")
	fl.StringVar(&f.Text, "text", "", "with this text in it")
	fl.Uint64Var(&f.From, "from", 0, "from this entry on")
	fl.Uint64Var(&f.To, "to", 0, "up to this entry")
	fl.IntVar(&f.Limit, "limit", 50, "at most so many; 0 for all")
	fl.BoolVar(&f.OldestFirst, "oldest", false, "oldest first")
	fl.BoolVar(&asHex, "hex", false, "the bytes in hex")
	return cmd
}

// mustKnowJob fails where no build has this job number.
func mustKnowJob(ctx context.Context, s *store.Store, name, job string) error {
	known, err := anyEntry(ctx, s, name, store.Filter{Build: job})
	if err != nil || !known {
		return orUnknown(err, "no build %q: thoud build list shows what there is", job)
	}
	return nil
}

func readingLine(r store.ReadingRow, asHex bool) []string {
	place := r.Place.String()
	switch {
	case r.Withdrawn > 0:
		place += fmt.Sprintf(" (withdrawn by entry %d)", r.Withdrawn)
	case r.Kind == bench.DatumSeen:
		place += " (at rest on the datum)"
	}
	zero := "none"
	if r.ZeroRaw != nil {
		zero = fmt.Sprintf("%s at %s", r.ZeroShows, r.ZeroRaw)
	}
	gauge := r.Gauge
	if r.Channel != "" {
		gauge += " " + r.Channel
	}
	when := time.UnixMicro(r.At).Local().Format("2006-01-02 15:04:05")
	if !r.ClockOK {
		when += "?" // the machine's clock was not set then
	}
	return []string{strconv.FormatUint(r.N, 10), when, place, r.Value.String(), r.Raw.String(), zero, gauge, r.By, frameText(r, asHex)}
}

// frameText is the bytes as they came, quoted or in hex; what was typed has none.
func frameText(r store.ReadingRow, asHex bool) string {
	if r.Keyed {
		return "typed"
	}
	var parts []string
	for _, f := range r.Frames {
		if asHex {
			parts = append(parts, hex.EncodeToString(f))
		} else {
			parts = append(parts, strconv.QuoteToASCII(string(f)))
		}
	}
	if len(parts) > 3 {
		parts = append(parts[:3], fmt.Sprintf("and %d more (--json has all)", len(r.Frames)-3))
	}
	return strings.Join(parts, " ")
}
