package plan_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thoud/capture/plan"
)

// Builds keep the text of their plan, so every plan that ever shipped is read for ever; a copy of each form is kept.
func TestKeptPlansAreRead(t *testing.T) {
	files, err := filepath.Glob("../../testdata/plan/*.toml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no kept plans: %v", err)
	}
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		p, err := plan.ParseKept(strings.TrimSuffix(filepath.Base(f), ".toml"), text)
		if err != nil {
			t.Errorf("%s: %v", f, err)
			continue
		}
		if len(p.Steps) == 0 || string(p.Text) != string(text) {
			t.Errorf("%s: %d steps, text kept %v", f, len(p.Steps), string(p.Text) == string(text))
		}
	}
}
