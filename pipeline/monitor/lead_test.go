package monitor_test

import (
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// A machine without an engine is led to a page where one can be named, and the name leads to a record that can be written
// before any build.
func TestTheFirstEngineCanBeNamed(t *testing.T) {
	f := newFakeBench(t)
	f.state = bench.State{Bench: "bench-1"}
	url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}})
	page := get(t, url+"/engine")
	if !strings.Contains(page, `action="/engine"`) || !strings.Contains(page, `name="engine" required`) {
		t.Errorf("the page of the engine is a dead end:\n%s", page)
	}
	page = get(t, url+"/engine?engine=shop+twin+no.+4")
	for _, want := range []string{`data-engine="shop twin no. 4"`, `name="engine_number"`, `name="customer"`, "See what it changes"} {
		if !strings.Contains(page, want) {
			t.Errorf("the record of a new engine has no %q", want)
		}
	}
}
