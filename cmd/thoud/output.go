package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// wantJSON reports whether the answer shall be JSON.
func wantJSON(cmd *cobra.Command) bool {
	j, err := cmd.Flags().GetBool("json")
	return err == nil && j
}

// printJSON writes v as one indented JSON value.
func printJSON(w io.Writer, v any) error { return writeJSON(w, v, true) }

// exactValue finds the stored form of an exact quantity, as calc/quantity writes it. It cannot occur within a text: there
// the quotes are escaped.
var exactValue = regexp.MustCompile(`\{"n":-?[0-9]+,"places":[0-9]+,"unit":"[^"\\]*"\}`)

// writeJSON writes v as JSON. Each exact quantity gets a text beside the count it is kept as: a count of tenths of a
// nanometre with "unit": "in" beside it can be misread, "0.1250 in" cannot.
func writeJSON(w io.Writer, v any, indent bool) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return err
	}
	text := exactValue.ReplaceAllFunc(bench.EscapeJSON(b.Bytes()), func(exact []byte) []byte {
		var q quantity.Value
		if json.Unmarshal(exact, &q) != nil {
			return exact
		}
		words, err := json.Marshal(q.String())
		if err != nil {
			return exact
		}
		return fmt.Appendf(nil, `{"text":%s,%s`, words, exact[1:])
	})
	if !indent {
		_, err := w.Write(text)
		return err
	}
	b.Reset()
	if err := json.Indent(&b, text, "", "  "); err != nil {
		return err
	}
	_, err := w.Write(b.Bytes())
	return err
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
