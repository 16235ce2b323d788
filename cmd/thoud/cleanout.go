package main

import (
	"io"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"thoud/capture/bench"
)

// cleanWriter is standard output as people read it: texts of gauges, plans and older ledgers cannot act on the terminal.
// Lines and tabs pass. What is written for programs, byte for byte, goes to raw.
type cleanWriter struct {
	raw  io.Writer
	rest []byte // the beginning of a sign whose end was not written yet
}

// Write writes p without signs that act.
func (w *cleanWriter) Write(p []byte) (int, error) {
	b := append(w.rest, p...)
	n := len(b)
	for cut := 1; cut < utf8.UTFMax && cut <= len(b); cut++ {
		if utf8.RuneStart(b[len(b)-cut]) {
			if !utf8.FullRune(b[len(b)-cut:]) {
				n = len(b) - cut
			}
			break
		}
	}
	w.rest = append([]byte(nil), b[n:]...)
	if _, err := io.WriteString(w.raw, cleanLines(string(b[:n]))); err != nil {
		return 0, err
	}
	return len(p), nil
}

// cleanLines cleans a text of several lines.
func cleanLines(s string) string {
	var b strings.Builder
	for len(s) > 0 {
		i := strings.IndexAny(s, "\n\t")
		if i < 0 {
			b.WriteString(bench.CleanText(s))
			break
		}
		b.WriteString(bench.CleanText(s[:i]))
		b.WriteByte(s[i])
		s = s[i+1:]
	}
	return b.String()
}

// rawOut is standard output for what programs read byte for byte: a file's text, a PDF, sealed entries.
func rawOut(cmd *cobra.Command) io.Writer {
	w := cmd.OutOrStdout()
	if c, ok := w.(*cleanWriter); ok {
		return c.raw
	}
	return w
}
