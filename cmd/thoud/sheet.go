package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/store"
	"thoud/store/sheet"
)

func newSheetCommand() *cobra.Command {
	var format, out, paper, units string
	var brief bool
	var schema bool
	cmd := &cobra.Command{Use: "sheet JOB", Short: "Write the build sheet of a job", Args: cobra.MaximumNArgs(1),
		Long:    "Everything that was asked, read, found, moved, decided and signed, on one sheet.\n\n" + sheet.Caution,
		Example: "  thoud sheet 17 --format pdf -o job-17.pdf --paper letter",
		RunE: func(cmd *cobra.Command, args []string) error {
			if schema {
				_, err := cmd.OutOrStdout().Write(sheet.Schema())
				return err
			}
			if len(args) == 0 {
				return errors.New("sheet of which job? thoud build list shows them")
			}
			o := sheet.Options{Brief: brief}
			var err error
			if o.System, err = unitSystem(units); err != nil {
				return err
			}
			switch paper {
			case "a4":
			case "letter":
				o.Letter = true
			default:
				return fmt.Errorf("--paper %q: want a4 or letter", paper)
			}
			write, ok := sheetFormats()[format]
			if !ok {
				return fmt.Errorf("--format %q: want html, pdf, csv or json", format)
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
	cmd.Flags().BoolVar(&brief, "brief", false, "without the steps reading by reading (html and pdf)")
	cmd.Flags().StringVar(&units, "units", "inch", "inch or mm")
	cmd.Flags().BoolVar(&schema, "schema", false, "print the JSON Schema of the json format instead")
	return cmd
}

// unitSystem reads --units.
func unitSystem(units string) (quantity.System, error) {
	switch units {
	case "inch":
		return quantity.Inch, nil
	case "mm":
		return quantity.Metric, nil
	}
	return "", fmt.Errorf("--units %q: want inch or mm", units)
}

// loadSheet makes the sheet of a job from the ledger.
func loadSheet(cmd *cobra.Command, job string) (sheet.Sheet, error) {
	var s sheet.Sheet
	err := withLedger(cmd, func(ctx context.Context, st *store.Store, name string) error {
		loaded, err := st.Load(ctx, name)
		if err != nil {
			return err
		}
		s, err = sheetOf(ctx, st, name, loaded, job, true)
		return err
	})
	return s, err
}

// sheetOf makes the sheet of a job; its photos are read only where they are wanted.
func sheetOf(ctx context.Context, st *store.Store, name string, loaded store.Loaded, job string, photos bool) (sheet.Sheet, error) {
	history, err := st.History(ctx, name, job)
	if err != nil {
		return sheet.Sheet{}, err
	}
	src := sheet.Source{State: loaded.State, Job: job, History: history, Photos: map[string]bench.Picture{}, Chain: loaded.Chain, Made: time.Now()}
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
