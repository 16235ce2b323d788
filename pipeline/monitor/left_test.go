package monitor_test

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// someLeft is a ledger of which one build is not reckoned up yet.
type someLeft struct{ fakeArchive }

func (someLeft) Seatings(context.Context, []string) (map[string][]bench.Seating, int, error) {
	return nil, 1, nil
}

func (someLeft) Findings(context.Context, []string) (map[string][]bench.Finding, int, error) {
	return nil, 1, nil
}

// Pages of many builds say where not all of them are in it yet, and say nothing of it where all are.
func TestPagesSayWhichBuildsAreNotInThemYet(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.mu.Lock()
	engine := f.state.Index[0].Engine
	if engine == "" {
		engine = "shop twin no. 4"
		f.state.Index[0].Engine = engine
	}
	f.state.Index = append([]bench.BuildRow{{Job: "9", Engine: engine, Plan: "first-fit", N: 1}}, f.state.Index...)
	f.mu.Unlock()
	const words = "Not all builds are in this yet: 1 of 2 are still being reckoned up"
	for _, path := range []string{"/hands", "/builds/compare"} {
		if body := get(t, serve(t, monitor.Config{Bench: f, Archive: someLeft{fakeArchive{f}}})+path); !strings.Contains(body, words) {
			t.Errorf("%s does not say that a build is left out", path)
		}
		if body := get(t, serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}})+path); strings.Contains(body, "Not all builds") {
			t.Errorf("%s says that a build is left out where none is", path)
		}
	}
	// Own hands of a part of the builds are not taken for those of all.
	url := serve(t, monitor.Config{Bench: f, Archive: someLeft{fakeArchive{f}}})
	_, body, _ := ask(t, http.DefaultClient, "POST", url+"/do", asJSON, `{"id":"abcdefgh12","verb":"override","item":"setup","step":"guide-clearance"}`)
	if !strings.Contains(body, "your own hands are not to be taken yet") || !strings.Contains(body, words) {
		t.Errorf("own hands taken while a build is left out: %s", body)
	}
}
