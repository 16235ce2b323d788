package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"thoud/cmd/thoud/guide"
	"thoud/cmd/thoud/service"
)

// The guide's page on several benches, command by command, in its order: one hub, three benches, each a process of its own.
func TestSeveralBenchesStepByStep(t *testing.T) {
	text, err := guide.Text("benches")
	if err != nil {
		t.Fatal(err)
	}
	work := t.TempDir()
	h := newHubProcess(t, "name = \"shop\"\naddress = [\"127.0.0.1:PORT\"]\npoll = \"200ms\"\n")
	settings := filepath.Join(h.dir, service.HubSettingsName)
	b, err := os.ReadFile(settings)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(settings, bytes.ReplaceAll(b, []byte("PORT"), []byte(h.port)), 0o600); err != nil {
		t.Fatal(err)
	}
	place := strings.NewReplacer("/srv/thoud/hub", h.dir, "/srv/thoud/", work+"/")
	for _, name := range []string{"lathe-corner", "window", "back-room"} {
		if err := os.MkdirAll(filepath.Join(work, name), 0o750); err != nil {
			t.Fatal(err)
		}
		own := "bench = \"" + name + "\"\n[monitor]\nlisten = \"127.0.0.1:0\"\n"
		if err := os.WriteFile(filepath.Join(work, name, service.SettingsName), []byte(own), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	lines := 0
	for line := range strings.Lines(text) {
		line, ok := strings.CutPrefix(strings.TrimSuffix(line, "\n"), "    thoud ")
		if !ok {
			continue
		}
		lines++
		into := ""
		line, into, _ = strings.Cut(place.Replace(line), " > ")
		args, err := splitLine(line)
		if err != nil {
			t.Fatal(err)
		}
		if args[0] == "run" || args[0] == "hub" && args[1] == "--state" {
			keepRunning(t, work, args)
			continue
		}
		// What was just begun may take a moment to be there.
		var out, errs bytes.Buffer
		for end := time.Now().Add(patience); ; time.Sleep(200 * time.Millisecond) {
			out.Reset()
			errs.Reset()
			cmd := exec.Command("thoud", args...)
			cmd.Dir, cmd.Stdout, cmd.Stderr = work, &out, &errs
			err := cmd.Run()
			if err == nil && says(args, out.String()) {
				break
			}
			if time.Now().After(end) {
				t.Fatalf("thoud %s: %v, or it does not say what it should\n%s%s", line, err, &out, &errs)
			}
		}
		if into != "" {
			if err := os.WriteFile(filepath.Join(work, into), out.Bytes(), 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	if lines < 15 {
		t.Errorf("only %d command lines were run", lines)
	}
}

// keepRunning starts a service or a hub and ends it with the test.
func keepRunning(t *testing.T, dir string, args []string) {
	t.Helper()
	var log bytes.Buffer
	out := make(chan string, 1)
	cmd := exec.Command("thoud", args...)
	cmd.Dir, cmd.Stderr, cmd.Stdout = dir, &log, lineTo(out)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			t.Error(err)
		}
		if err := cmd.Wait(); err != nil {
			t.Errorf("thoud %v: %v\n%s", args, err, &log)
		}
	})
	select {
	case <-out:
	case <-time.After(patience):
		t.Fatalf("thoud %v did not start\n%s", args, &log)
	}
}

// says reports whether a command says what the guide promises of it.
func says(args []string, out string) bool {
	switch {
	case args[0] == "status":
		return strings.Contains(out, "hub shop: has every entry")
	case args[0] == "hub" && args[1] == "list":
		return strings.Count(out, "all it has") == 3
	case args[0] == "verify":
		return strings.Contains(out, "whole")
	case args[0] == "note":
		return strings.Count(out, "\n— ") == 2
	}
	return true
}
