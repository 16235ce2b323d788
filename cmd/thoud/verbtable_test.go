package main

import (
	"strings"
	"testing"

	"thoud/capture/bench"
)

// Every verb of the bench has the command that its row names.
func TestEveryVerbHasItsCommand(t *testing.T) {
	for _, row := range bench.VerbTable() {
		words := strings.Fields(row.Command)
		cmd, rest, err := newRootCommand().Find(words)
		if err != nil || len(rest) > 0 || cmd.Name() != words[len(words)-1] {
			t.Errorf("verb %q: there is no command %q: add it to cmd/thoud and to root.go, or mend the row in capture/bench/verb_table.go", row.Name, row.Command)
		}
	}
}
