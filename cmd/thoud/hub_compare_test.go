package main

import (
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

// hubOf is the state folder of a hub that has all of these benches.
func hubOf(t *testing.T, benches ...string) string {
	t.Helper()
	dir, ctx := t.TempDir(), t.Context()
	s, err := store.Open(ctx, filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for _, name := range benches {
		own, err := store.OpenReadOnly(ctx, filepath.Join(stateOfBench(t, name, name), service.LedgerName))
		if err != nil {
			t.Fatal(err)
		}
		defer own.Close()
		span, err := own.Span(ctx, name, 1, 1000, 1<<30)
		if err != nil {
			t.Fatal(err)
		}
		runs, err := own.RunSpan(ctx, name, 0, 1000, 1<<30)
		if err != nil {
			t.Fatal(err)
		}
		taking := store.Taking{Line: name, Begin: &store.Line{Name: name}, Runs: runs.Rows}
		var chain bench.Chain
		for _, body := range span.Bodies {
			var e bench.Entry
			if err := json.Unmarshal(body, &e); err != nil {
				t.Fatal(err)
			}
			if chain, err = chain.Next(e, body); err != nil {
				t.Fatal(err)
			}
			taking.Entries = append(taking.Entries, store.TakenEntry{Entry: e, Body: body, Seal: chain.Seal})
		}
		if err := s.Take(ctx, []store.Taking{taking}); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// At a hub jobs of any bench are held beside each other. The contact of job 17 is 0.3900 in, that of job 24 0.3920 in.
func TestBuildsOfSeveralBenchesCompared(t *testing.T) {
	dir := hubOf(t, "lathe", "window")
	for _, tt := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"build", "compare", "lathe/17", "window/24"}, 0, "0.0020 in"},
		{[]string{"build", "compare", "lathe/17", "window/17"}, 0, "0 of"},
		{[]string{"--bench", "lathe", "build", "compare", "17", "window/24"}, 0, "JOB window/24"},
		{[]string{"build", "compare", "17", "window/24"}, 1, "say which bench"},
		{[]string{"build", "compare", "lathe/17", "office/24"}, 1, `nothing of bench "office"; it has lathe, window`},
		{[]string{"build", "compare", "lathe/17", "window/99"}, 1, `job "99"`},
	} {
		out, errs, code := command(dir, tt.args...)
		if code != tt.code || !strings.Contains(out+errs, tt.want) {
			t.Errorf("%v: code %d, want %d; %q is not in:\n%s%s", tt.args, code, tt.code, tt.want, out, errs)
		}
	}
	// A bench's own ledger takes its own name, and no other.
	one := stateOfBench(t, "lathe", "lathe")
	if out, errs, code := command(one, "build", "compare", "lathe/17", "24"); code != 0 || !strings.Contains(out, "0.0020 in") {
		t.Errorf("code %d: %s%s", code, out, errs)
	}
	if _, errs, code := command(one, "build", "compare", "window/17", "24"); code != 1 || !strings.Contains(errs, `is bench "lathe"'s, not bench "window"'s`) {
		t.Errorf("code %d: %s", code, errs)
	}
}

// A hub's ledger is copied whole, whoever is in it, and put back: 20 entries and 8 readings of each of two benches.
func TestBackupAndRestoreAtAHub(t *testing.T) {
	dir, file := hubOf(t, "lathe", "window"), filepath.Join(t.TempDir(), "hub.tar.gz")
	if out, errs, code := command(dir, "backup", file); code != 0 || !strings.Contains(out, "40 entries, 16 readings") {
		t.Fatalf("code %d: %s%s", code, out, errs)
	}
	back := t.TempDir()
	if out, errs, code := command(back, "restore", file); code != 0 || !strings.Contains(out, "bench lathe, window: 40 entries, whole") || !strings.Contains(out, "start the service now: thoud hub") {
		t.Fatalf("code %d: %s%s", code, out, errs)
	}
	if out, errs, code := command(back, "--bench", "window", "verify"); code != 0 || !strings.Contains(out, "whole") {
		t.Errorf("code %d: %s%s", code, out, errs)
	}
}
