package main

import (
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/cmd/thoud/guide"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

// tellHours has a bench tell, in a hub's ledger, how long an engine had run by a moment.
func tellHours(t *testing.T, dir, benchName string, at int64, hours float64) {
	t.Helper()
	ctx := t.Context()
	s, err := store.Open(ctx, filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	end, err := s.End(ctx, benchName)
	if err != nil {
		t.Fatal(err)
	}
	e := bench.Entry{Bench: benchName, ID: benchName + "-hours-" + bench.HourWords(hours), At: at, ClockOK: true, Kind: bench.HoursTold, Life: &bench.Life{Engine: "shop twin no. 4", Hours: hours}}
	e, body, err := end.Number(e)
	if err != nil {
		t.Fatal(err)
	}
	next, err := end.Next(e, body)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Take(ctx, []store.Taking{{Line: benchName, Entries: []store.TakenEntry{{Entry: e, Body: body, Seal: next.Seal}}}}); err != nil {
		t.Fatal(err)
	}
}

// The builds that one engine had at two benches are one history: the contact of each job 17 is 0.3900 in, that of each job 24
// 0.3920 in, as they were typed. The hours are those told last, at whichever bench: 10 at the lathe before all of it, 20 at the
// window between the passes of 17 and 24.
func TestHistoryOverSeveralBenches(t *testing.T) {
	const began, minute = 1_790_000_000_000_000, 60_000_000
	dir := hubOf(t, "lathe", "window")
	tellHours(t, dir, "lathe", began-minute, 10)
	tellHours(t, dir, "window", began+14*minute, 20)
	history := func(args ...string) []string {
		return append([]string{"build", "history", "guide-clearance/left.contact"}, args...)
	}
	for _, tt := range []struct {
		name    string
		args    []string
		code    int
		want    []string
		wantNot string
	}{
		{"all", history(), 0, []string{`lathe/17 .* 10 h .*0\.3900 in`, `window/17 .* 10 h .*0\.3900 in`, `lathe/24 .* 20 h .*0\.3920 in`, `window/24 .* 20 h .*0\.3920 in`}, "fewer"},
		{"by name", history("--engine", "shop twin no. 4"), 0, []string{"lathe/17", "window/24"}, ""},
		{"one bench", history("--bench", "window"), 0, []string{`window/17`, `window/24 .* 20 h`}, "lathe"},
		{"no such bench", history("--bench", "office"), 1, []string{`nothing of bench "office"; it has lathe, window`}, ""},
		{"no such engine", history("--engine", "no. 5"), 1, []string{`no build of it; the ledger has "shop twin no. 4"`}, ""},
		{"from a job of both", history("--since", "24"), 0, []string{"job 24 is of bench lathe and of bench window: say which, as window/24"}, ""},
		{"from a job of one", history("--since", "window/24"), 0, []string{"no wear per hour"}, "say which"},
		{"as JSON", history("--json"), 0, []string{`"bench": "window"`}, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			out, errs, code := command(dir, tt.args...)
			if code != tt.code {
				t.Errorf("code %d, want %d", code, tt.code)
			}
			for _, w := range tt.want {
				if !regexp.MustCompile(w).MatchString(out + errs) {
					t.Errorf("%q is not in:\n%s%s", w, out, errs)
				}
			}
			if tt.wantNot != "" && strings.Contains(out+errs, tt.wantNot) {
				t.Errorf("%q is in:\n%s%s", tt.wantNot, out, errs)
			}
		})
	}
	// Told at one bench to be less than at another before: said, not smoothed.
	tellHours(t, dir, "lathe", began+15*minute, 15)
	if out, errs, _ := command(dir, history()...); !strings.Contains(out, "went down, from 20 h to 15 h") {
		t.Errorf("%s%s", out, errs)
	}
	// The guide gives this command, and that of the list's troubles.
	text, err := guide.Text("benches")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"`thoud " + strings.Join(history(), " "), "--engine \"shop twin no. 4\"", "`thoud checkup --state /srv/thoud/hub`"} {
		if !strings.Contains(text, want) {
			t.Errorf("the guide lacks %q", want)
		}
	}
	// At a bench a job is its number alone.
	if out, errs, code := command(stateOfBench(t, "lathe", "lathe"), history()...); code != 0 || strings.Contains(out, "lathe/17") || !strings.Contains(out, "0.3920 in") {
		t.Errorf("code %d: %s%s", code, out, errs)
	}
}
