// Package guide is the guide to thoud: one Markdown text a topic, embedded. The command thoud guide, the man pages and the
// Help page show the same text, so that nothing is said twice. Lists in it (settings, verbs, kinds of entry, roles, methods,
// schemas, exit statuses) are made from the program's own tables and held against them by a test, and every command line
// in it is run by a test. It refuses a topic that is not there.
package guide

import (
	"embed"
	"fmt"
	"strings"
)

//go:embed *.md
var texts embed.FS

// Topic is one text.
type Topic struct {
	Name  string `json:"name"`  // as it is asked for
	Title string `json:"title"` // what it is about, one line
}

// Topics lists the topics in the order of reading.
func Topics() []Topic {
	return []Topic{
		{"first-day", "The first day: from the box to the first figure"},
		{"gauges", "Gauges, adapters, pedals and bridges"},
		{"profiles", "Profiles: how a kind of gauge speaks"},
		{"bridge", "A bridge for gauges that have only a clock and a data pad"},
		{"plans", "Plans: the steps of a build"},
		{"plan-keys", "Plans: every key of the file"},
		{"engines", "Engines: several in turn, what comes due, a dimension over the years"},
		{"settings", "Settings: every key of thoud.toml"},
		{"pages", "The pages, the keys and the pedal"},
		{"commands", "Commands, their answers and exit statuses"},
		{"ledger", "The ledger, its seals, and how to audit it"},
		{"backup", "Backup, going back, moving house, upgrading"},
		{"benches", "Several benches"},
		{"messages", "Messages, subjects, rights and schemas"},
		{"methods", "The methods: what is computed, and from where"},
		{"changes", "What changed from version to version"},
	}
}

// Text gives the Markdown of a topic. The marks around the lists that are made from tables are left out.
func Text(name string) (string, error) {
	b, err := texts.ReadFile(name + ".md")
	if err != nil {
		var have []string
		for _, t := range Topics() {
			have = append(have, t.Name)
		}
		return "", fmt.Errorf("no topic %q in the guide: there are %s", name, strings.Join(have, ", "))
	}
	var out strings.Builder
	for line := range strings.Lines(string(b)) {
		if !strings.HasPrefix(line, "<!-- ") {
			out.WriteString(line)
		}
	}
	return out.String(), nil
}
