package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
)

// toFile writes a result where it is wanted: to standard output for "", else to a file, which has its name only once
// it is whole.
func toFile(cmd *cobra.Command, path string, write func(io.Writer) error) (err error) {
	if path == "" || path == "-" {
		return write(cmd.OutOrStdout())
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".thoud-*")
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("write %s: %w", path, err), os.Remove(f.Name()))
		}
	}()
	if err := errors.Join(write(f), f.Chmod(0o644), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// wantJSON reports whether the answer shall be JSON.
func wantJSON(cmd *cobra.Command) bool {
	j, err := cmd.Flags().GetBool("json")
	return err == nil && j
}

// printJSON writes v as one indented JSON value.
func printJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// table prints rows in columns as wide as they need to be.
func table(w io.Writer, rows [][]string) {
	if len(rows) == 0 {
		return
	}
	width := make([]int, len(rows[0]))
	for _, r := range rows {
		for i, c := range r {
			width[i] = max(width[i], len([]rune(c)))
		}
	}
	for _, r := range rows {
		var line strings.Builder
		for i, c := range r {
			line.WriteString(c)
			if i < len(r)-1 {
				line.WriteString(strings.Repeat(" ", width[i]-len([]rune(c))+2))
			}
		}
		fmt.Fprintln(w, strings.TrimRight(line.String(), " "))
	}
}
