package main

import (
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// Where there is no bench, a command that wants one says in one sentence where it runs; the others do not.
func TestWhereABenchRuns(t *testing.T) {
	root := newRootCommand()
	known := map[string]bool{}
	refused := map[string]bool{}
	var walk func(*cobra.Command)
	walk = func(c *cobra.Command) {
		_, path, _ := strings.Cut(c.CommandPath(), " ")
		known[path] = true
		if err := benchElsewhere(c, "linux"); err != nil {
			t.Errorf("on Linux: %v", err)
		}
		if err := benchElsewhere(c, "windows"); err != nil {
			refused[path] = true
			if strings.Count(err.Error(), "\n") > 0 || !strings.Contains(err.Error(), "Linux") {
				t.Errorf("%s says %q", path, err)
			}
		}
		for _, sub := range c.Commands() {
			walk(sub)
		}
	}
	walk(root)
	for _, row := range benchless() {
		if !known[row] && !strings.HasPrefix(row, "__") && row != "help" && row != "completion" {
			t.Errorf("benchless (elsewhere.go) names %q, which is no command", row)
		}
		if refused[row] {
			t.Errorf("%s is refused", row)
		}
	}
	for _, path := range []string{"run", "try", "demo", "ports", "take", "status", "build start", "gauge add", "teach"} {
		if !refused[path] {
			t.Errorf("%s is not refused", path)
		}
	}
}
