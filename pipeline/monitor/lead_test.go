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

// The page of a new machine says what comes first once, in large type and as the link to it; the list has the rest, with its
// numbers.
func TestTheFirstThingIsSaidOnce(t *testing.T) {
	f := newFakeBench(t)
	f.state = bench.State{Bench: "bench-1"}
	page := get(t, serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}})+"/bench")
	if n := strings.Count(page, "Plug in a gauge"); n != 1 {
		t.Errorf("what comes first is said %d times", n)
	}
	for _, want := range []string{`<a href="/gauges">Plug in a gauge`, `<li value="2"><a href="/engine">`, `<li value="3"><a href="/builds">`} {
		if !strings.Contains(page, want) {
			t.Errorf("the page of a new machine has no %q", want)
		}
	}
}
