package calc

import (
	"os"
	"slices"
	"strings"
	"testing"
)

// A file is a method, named as in the table, or says by its first word what it is (doc.go).
func TestFileNamesSayWhatTheyHold(t *testing.T) {
	methods := map[string]bool{}
	for _, m := range Methods() {
		methods[strings.ReplaceAll(m.Name, "-", "_")+".go"] = false
	}
	files, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		name := f.Name()
		if f.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") || name == "doc.go" || name == "table.go" {
			continue
		}
		if _, ok := methods[name]; ok {
			methods[name] = true
			continue
		}
		if !slices.ContainsFunc([]string{"engine_", "math_", "part_"}, func(p string) bool { return strings.HasPrefix(name, p) }) {
			t.Errorf("%s is no method of the table: begin its name with engine_, math_ or part_ (doc.go)", name)
		}
	}
	for name, found := range methods {
		if !found {
			t.Errorf("a method of the table has no file %s of its own", name)
		}
	}
}
