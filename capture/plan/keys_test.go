package plan_test

import (
	"fmt"
	"strings"
	"testing"

	"thoud/capture/plan"
)

// where is a plan with one table of each kind, into which a line is written.
var where = map[string]string{
	"plan":     "%s",
	"variant":  "[variant.x]\n%s",
	"group":    "[group.x]\n%s",
	"engine":   "[engine.x]\n%s",
	"never":    "[[never]]\n%s",
	"blocks":   "[[blocks]]\n%s",
	"step":     "[[step]]\nid = \"x\"\n%s",
	"change":   "[[change]]\n%s",
	"capture":  "[[step]]\nid = \"x\"\n[step.capture]\n%s",
	"datum":    "[[step]]\nid = \"x\"\n[step.datum]\n%s",
	"gauge":    "[[step]]\nid = \"x\"\n[[step.gauge]]\nname = \"g\"\n%s",
	"point":    "[[step]]\nid = \"x\"\n[[step.point]]\n%s",
	"compute":  "[[step]]\nid = \"x\"\n[step.compute]\nmethod = \"statistics\"\n%s",
	"also":     "[[step]]\nid = \"x\"\n[[step.also]]\nmethod = \"statistics\"\n%s",
	"approach": "[[step]]\nid = \"x\"\n[step.compute]\nmethod = \"statistics\"\ninputs = {}\n[step.compute.approach]\n%s",
	"limit":    "[[step]]\nid = \"x\"\n[step.compute]\nmethod = \"statistics\"\ninputs = {}\n[step.compute.limits.mean]\n%s",
	"confirm":  "[[step]]\nid = \"x\"\n[[step.confirms]]\n%s",
	"ask":      "[[step]]\nid = \"x\"\n[[step.asks]]\n%s",
	"item":     "[[step]]\nid = \"x\"\n[[step.items]]\n%s",
	"loose":    "[[step]]\nid = \"x\"\n[[step.loose]]\n%s",
	"cure":     "[[step]]\nid = \"x\"\n[[step.cures]]\n%s",
}

// The tables of keys are the reader's own: it knows every key that stands in them, and refuses any other with the list of
// them. (A key that it asked for without a row would be a panic.)
func TestTheReaderKnowsTheKeysOfItsTables(t *testing.T) {
	for _, table := range plan.KeyTables() {
		form, ok := where[table.Name]
		if !ok {
			t.Errorf("no place in this test for the table %q", table.Name)
			continue
		}
		told := func(line string) string {
			_, err := plan.Parse("test", []byte(fmt.Sprintf(form, line)))
			return fmt.Sprint(err)
		}
		for _, k := range table.Keys {
			if k.Words == "" || k.Form == plan.FormWord && len(k.Enum) == 0 {
				t.Errorf("%s: row %+v", table.Name, k)
			}
			if strings.Contains(form, "\n"+k.Name+" = ") || strings.Contains(form, "["+k.Name+"]") {
				continue // it stands there
			}
			if got := told(k.Name + " = 2001-01-01"); strings.Contains(got, fmt.Sprintf("unknown key %q", k.Name)) {
				t.Errorf("%s: the reader does not read %q, which has a row in keytable.go", table.Name, k.Name)
			}
		}
		if table.Name == "change" { // what else stands in it is a step's
			continue
		}
		got := told("zzzzqqq = 1")
		if !strings.Contains(got, "unknown key \"zzzzqqq\"") {
			t.Errorf("%s: an unknown key is taken:\n%s", table.Name, got)
		}
		for _, k := range table.Keys {
			if !strings.Contains(got, k.Name) {
				t.Errorf("%s: %q is not among the keys that are told", table.Name, k.Name)
			}
		}
	}
}

// What earlier versions read over without a word is refused now; a build that keeps it is read.
func TestKeysThatWereReadOver(t *testing.T) {
	text := strings.Replace(sound, "[step.compute]\n", "[step.compute]\nbefore = true\n", 1)
	if _, err := plan.Parse("test", []byte(text)); err == nil || !strings.Contains(err.Error(), `unknown key "before"`) {
		t.Errorf("got %v", err)
	}
	if _, err := plan.ParseKept("test", []byte(text)); err != nil {
		t.Errorf("a build that keeps it: %v", err)
	}
}
