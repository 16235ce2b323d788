package main

import (
	"fmt"
	"io"
	"os"
	"strings"
)

// progressBar draws how far something is on a terminal; on anything else it is silent. The second result ends its line.
func progressBar(w io.Writer, what string) (step func(done, total int), end func()) {
	if !isTerminal(w) {
		return nil, func() {}
	}
	const wide = 30
	last := -1
	return func(done, total int) {
			if total <= 0 {
				return
			}
			part := done * wide / total
			if part == last && done < total {
				return
			}
			last = part
			fmt.Fprintf(w, "\r%s |%s%s| %d of %d", what, strings.Repeat("-", part), strings.Repeat(" ", wide-part), done, total)
		}, func() {
			if last >= 0 {
				fmt.Fprintln(w)
			}
		}
}

// isTerminal reports whether people read what is written here.
func isTerminal(w io.Writer) bool {
	if c, ok := w.(*cleanWriter); ok {
		w = c.raw
	}
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	if err != nil || info.Mode()&os.ModeCharDevice == 0 {
		return false
	}
	null, err := os.Stat(os.DevNull)
	return err != nil || !os.SameFile(info, null)
}

// progressLine writes progress over one line of a terminal, and line by line elsewhere.
func progressLine(w io.Writer) func(done, total int, words string) {
	tty := isTerminal(w)
	return func(done, total int, words string) {
		if tty {
			fmt.Fprintf(w, "\r\x1b[K%d of %d: %s", done, total, words)
			if done == total {
				fmt.Fprintln(w)
			}
			return
		}
		fmt.Fprintf(w, "%d of %d: %s\n", done, total, words)
	}
}
