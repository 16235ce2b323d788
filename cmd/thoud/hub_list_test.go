package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"thoud/cmd/thoud/service"
	"thoud/pipeline/hub"
)

// What is wrong at the hub itself, at a bench as the hub found it and at a bench as it says itself is listed, each with the words
// it was told in, and is found by checkup, which exits 1 then. What a bench does is worked out of the hub's own ledger.
func TestTheListOfAHubAndItsCheckup(t *testing.T) {
	dir := hubOf(t, "lathe", "window")
	stand := func(r service.HubReport) {
		t.Helper()
		body, err := json.Marshal(r)
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, "benches.json"), body, 0o600)
		}
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, service.HubSettingsName), []byte("name = \"shop\"\nbackup = \"/no/such/disk\"\n"), 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	now := time.Now()
	lathe := hub.Report{Bench: "lathe", Line: "lathe", N: 20, Theirs: 20, Linked: true}
	window := hub.Report{Bench: "window", Line: "window", N: 20, Theirs: 20, Heard: now.UnixMicro(), Alarms: map[string]string{hub.AboutPage: "an answer is refused"},
		Troubles: []hub.Trouble{{Words: "the disk is full", Since: now.Add(-3 * time.Hour).UnixMicro()}}}
	stand(service.HubReport{Hub: "shop", At: now, Running: true, Trouble: "no backup was made: the folder is not there", Benches: []hub.Report{lathe, window}})
	out, errs, code := command(dir, "hub", "list")
	for _, want := range []string{"trouble of the hub itself: no backup was made", "lathe: entry 20, all it has", "now: job 24, shop twin no. 4; step 1 of 2, Guide-block clearance: ",
		"trouble: an answer is refused", "trouble: it said last, for 3 h: the disk is full"} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not in:\n%s%s", want, out, errs)
		}
	}
	if code != 0 {
		t.Errorf("code %d", code)
	}
	if out, _, code := command(dir, "--json", "hub", "list"); code != 0 || !strings.Contains(out, `"doing"`) || !strings.Contains(out, "the disk is full") {
		t.Errorf("code %d: %s", code, out)
	}
	out, errs, code = command(dir, "checkup")
	for _, want := range []string{"LOOK  hub: no backup was made", "LOOK  bench window: an answer is refused", "LOOK  bench window: it said last", "good  bench lathe: entry 20, all it has",
		"LOOK  backup: the folder /no/such/disk is not there", "in hub.toml: backup ="} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not in:\n%s%s", want, out, errs)
		}
	}
	if code != 1 || strings.Contains(out, "adapters") {
		t.Errorf("code %d\n%s", code, out)
	}
	stand(service.HubReport{Hub: "shop", At: now.Add(-time.Hour), Running: true, Benches: []hub.Report{lathe}})
	if out, _, _ := command(dir, "checkup"); !strings.Contains(out, "LOOK  hub: does not run") {
		t.Errorf("%s", out)
	}
}
