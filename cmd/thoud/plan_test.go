package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"thoud/capture/plan"
)

// runPlan runs "plan" with arguments and gives what it wrote.
func runPlan(args ...string) (string, error) {
	var out bytes.Buffer
	err := run(context.Background(), append([]string{"plan"}, args...), strings.NewReader(""), &out, &out)
	return out.String(), err
}

func TestPlanList(t *testing.T) {
	out, err := runPlan("list", "--json")
	if err != nil {
		t.Fatal(err)
	}
	var got []planSummary
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	names, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != len(names) {
		t.Fatalf("%d plans listed, %d ship", len(got), len(names))
	}
	text, err := runPlan("list")
	if err != nil {
		t.Fatal(err)
	}
	for i, name := range names {
		if got[i].Name != name || got[i].Steps == 0 || !strings.Contains(text, name) {
			t.Errorf("%s: %+v\n%s", name, got[i], text)
		}
	}
}

func TestPlanShow(t *testing.T) {
	out, err := runPlan("show", "first-fit")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"guide-clearance", "crank-runout", "* guide_clearance", "0.050 in", "common practice", "computes contact-clearance"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is missing in\n%s", want, out)
		}
	}
	out, err = runPlan("show", "first-fit", "--json")
	if err != nil {
		t.Fatal(err)
	}
	var got planDescription
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if len(got.List) != 2 || len(got.List[0].Points) != 6 || got.List[1].Method != "runout" {
		t.Errorf("%+v", got.List)
	}
	if _, err := runPlan("show", "nothing"); err == nil || !strings.Contains(err.Error(), "first-fit") {
		t.Errorf("an unknown plan: %v", err)
	}
}

// What "show --text" writes is a plan file that checks.
func TestPlanCheck(t *testing.T) {
	text, err := runPlan("show", "single-trial", "--text")
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "own.toml")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := runPlan("check", file); err != nil || !strings.Contains(out, "sound") {
		t.Fatalf("%v\n%s", err, out)
	}
	spoiled := strings.Replace(text, "\nversion = ", "\nversoin = 1\nversion = ", 1)
	if err := os.WriteFile(file, []byte(spoiled), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := runPlan("check", file)
	line := strings.Count(spoiled[:strings.Index(spoiled, "versoin")], "\n") + 1
	if want := file + ":" + strconv.Itoa(line) + ":1: unknown key \"versoin\""; err == nil || !strings.HasPrefix(out, want) {
		t.Errorf("%v\n got %swant %s…", err, out, want)
	}
	out, err = runPlan("check", file, "--json")
	var got planCheck
	if jsonErr := json.Unmarshal([]byte(out), &got); jsonErr != nil || err == nil {
		t.Fatalf("%v, %v", jsonErr, err)
	}
	if got.OK || len(got.Faults) != 1 || got.Faults[0].Line != line || got.Faults[0].Path != "versoin" {
		t.Errorf("%+v", got)
	}
	if _, err := runPlan("check", file+".none"); err == nil || !strings.Contains(err.Error(), ".none") {
		t.Errorf("a missing file: %v", err)
	}
}
