package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

func newVerifyCommand() *cobra.Command {
	var seals, signed []string
	cmd := &cobra.Command{Use: "verify", Short: "Check the ledger: every seal, every reading, every result", Args: cobra.NoArgs,
		Long: `Starts from the entries: walks the chain of seals, decodes readings again from their bytes, holds every row against its
entry, works out again which results there must be and what each was asked, and computes each again. Says exactly which row is
wrong, and ends with status 1 where one is.

A ledger that was made anew as a whole, every entry, seal and result, is whole in itself. Only what was noted elsewhere shows
it: --seal N:HEX holds the seal of an entry, as a sheet shows it, against the ledger.`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			check := service.Check()
			var err error
			if check.Seals, err = notedSeals(seals); err != nil {
				return err
			}
			quickGarbage()
			return withRows(cmd, func(ctx context.Context, s *store.Store, name string) error {
				if check.Notes, err = signedNotes(ctx, s, name, signed); err != nil {
					return err
				}
				step, end := progressBar(cmd.ErrOrStderr(), "verifying")
				check.Progress = step
				rep, err := service.VerifyHistory(ctx, s, name, check)
				end()
				if err != nil {
					return err
				}
				if wantJSON(cmd) {
					if err := printJSON(cmd.OutOrStdout(), rep); err != nil {
						return err
					}
				} else {
					printReport(cmd.OutOrStdout(), name, rep)
				}
				if n := len(rep.Wrong); n > 0 {
					return fmt.Errorf("ledger %s: rows wrong: %d; keep the file as it is, and compare it with a backup", s.Path(), n)
				}
				if !wantJSON(cmd) {
					fmt.Fprintln(cmd.OutOrStdout(), "whole")
				}
				return nil
			})
		}}
	cmd.Flags().StringArrayVar(&seals, "seal", nil, "the seal of an entry as it was noted elsewhere, N:HEX; may be given several times")
	cmd.Flags().StringArrayVar(&signed, "note", nil, "a note that the service signed, as a file or as its text; may be given several times")
	return cmd
}

// signedNotes reads --note FILE|TEXT and checks the signatures.
func signedNotes(ctx context.Context, s *store.Store, name string, given []string) ([]store.Noted, error) {
	if len(given) == 0 {
		return nil, nil
	}
	keys, err := s.Keys(ctx, name)
	if err != nil {
		return nil, err
	}
	witnesses, err := service.WitnessKeys(filepath.Dir(s.Path()))
	if err != nil {
		return nil, err
	}
	keys = append(keys, witnesses...)
	var out []store.Noted
	for _, text := range given {
		if !strings.Contains(text, "\n") {
			b, err := os.ReadFile(text)
			if err != nil {
				return nil, fmt.Errorf("--note: %w", err)
			}
			text = string(b)
		}
		n, err := service.OpenNote(text, keys)
		if err != nil {
			return nil, fmt.Errorf("--note: %w", err)
		}
		out = append(out, n)
	}
	return out, nil
}

func printReport(w io.Writer, name string, rep store.Report) {
	fmt.Fprintf(w, "bench %s: %d entries, %d readings, %d results\n", name, rep.Entries, rep.Readings, rep.Results)
	fmt.Fprintf(w, "bound again from the entries: %d results; decoded again from their bytes: %d readings\n", rep.Bound, rep.Derived)
	fmt.Fprintf(w, "ends with seal %s\n", rep.Seal)
	if rep.Aside > 0 {
		fmt.Fprintf(w, "set aside, and no part of the ledger: %d messages; thoud quarantine list shows them\n", rep.Aside)
	}
	for _, f := range rep.Unknown {
		fmt.Fprintf(w, "%s: %s\n", f.Row, f.What)
	}
	for _, f := range rep.Wrong {
		fmt.Fprintf(w, "WRONG  %s: %s\n", f.Row, f.What)
	}
	if rep.Held == "" {
		fmt.Fprintln(w, "nothing from outside was held against it: a ledger made anew as a whole would look the same; see --note and --seal")
	} else {
		fmt.Fprintf(w, "held against %s\n", rep.Held)
	}
}

var notedSeal = regexp.MustCompile(`^(\d+):([0-9a-fA-F]{8,64})$`)

// notedSeals reads --seal N:HEX.
func notedSeals(texts []string) (map[uint64]string, error) {
	out := map[uint64]string{}
	for _, text := range texts {
		m := notedSeal.FindStringSubmatch(text)
		if m == nil {
			return nil, fmt.Errorf("--seal %q: want the number of an entry, a colon, and at least 8 signs of its seal, as a sheet shows them: 967:1fda7d1e4a5b", text)
		}
		n, err := strconv.ParseUint(m[1], 10, 64)
		if err != nil {
			return nil, fmt.Errorf("--seal %q: %w", text, err)
		}
		out[n] = m[2]
	}
	return out, nil
}
