package main

import (
	"context"
	"errors"
	"io"
	"time"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
	"thoud/store"
	"thoud/store/sheet"
)

func newSheetCommand() *cobra.Command {
	var format, out, paper, units string
	var brief, readings bool
	var schema bool
	cmd := &cobra.Command{Use: "sheet JOB", Short: "Write the build sheet of a job", Args: func(cmd *cobra.Command, args []string) error {
		if schema {
			return cobra.NoArgs(cmd, args)
		}
		return cobra.ExactArgs(1)(cmd, args)
	},
		Long:    "Everything that was asked, read, found, moved, decided and signed, on one sheet.\n\n" + sheet.Caution,
		Example: "  thoud sheet 17 --format pdf -o job-17.pdf --paper letter",
		RunE: func(cmd *cobra.Command, args []string) error {
			if schema {
				_, err := rawOut(cmd).Write(sheet.Schema())
				return err
			}
			o := sheet.Options{Brief: brief, Readings: readings, Zone: time.Local}
			var err error
			if o.System, err = service.UnitSystem(units); err != nil {
				return err
			}
			switch paper {
			case "a4":
			case "letter":
				o.Letter = true
			default:
				return usageError(cmd, "--paper %q: want a4 or letter", paper)
			}
			if wantJSON(cmd) {
				format = "json"
			}
			write, ok := service.SheetFormats()[format]
			if !ok {
				return usageError(cmd, "--format %q: want html, pdf, csv or json", format)
			}
			if format == "pdf" && out == "" && isTerminal(cmd.OutOrStdout()) {
				return errors.New("a PDF is nothing to read in a terminal: name a file with -o FILE")
			}
			s, err := loadSheet(cmd, args[0])
			if err != nil {
				return err
			}
			return toFile(cmd, out, func(w io.Writer) error { return write(w, s, o) })
		}}
	cmd.Flags().StringVar(&format, "format", "html", "html, pdf, csv or json")
	cmd.Flags().StringVarP(&out, "output", "o", "", "file to write to (default: standard output)")
	cmd.Flags().StringVar(&paper, "paper", "a4", "a4 or letter")
	cmd.Flags().BoolVar(&brief, "brief", false, "the first page alone (html and pdf)")
	cmd.Flags().BoolVar(&readings, "readings", false, "every step at the end, reading by reading and pass by pass (html and pdf)")
	cmd.Flags().StringVar(&units, "units", "inch", "inch or mm")
	cmd.Flags().BoolVar(&schema, "schema", false, "print the JSON Schema of the json format instead")
	return cmd
}

// loadSheet makes the sheet of a job from the ledger.
func loadSheet(cmd *cobra.Command, job string) (sheet.Sheet, error) {
	var s sheet.Sheet
	err := withHistories(cmd, func(ctx context.Context, st *store.Store, forks *service.Forks) error {
		name, err := meant(cmd, st)
		if err != nil {
			return err
		}
		err = inHistory(ctx, forks, name, func(k service.Kept) error {
			s, err = service.SheetOf(ctx, k.Store, k.In, job, true)
			return err
		})
		if err != nil {
			return err
		}
		dir, err := stateDir(cmd)
		if err != nil {
			return err
		}
		lines, err := st.Lines(ctx)
		if err != nil {
			return err
		}
		if len(lines) > 0 {
			s.Note, err = service.WitnessedForSheet(ctx, st, dir, name)
		} else {
			s.Note, err = service.NoteForSheet(dir)
		}
		return err
	})
	return s, err
}
