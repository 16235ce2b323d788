package service_test

import (
	"fmt"
	"html"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
	"thoud/pipeline/hub"
	"thoud/pipeline/monitor"
)

// A bench that went on from an older copy of itself has two histories at the hub, and each is to be looked at whole, from the
// first entry on: job 17 was begun before they part, 18 in the first alone, 19 in the second alone. Who may see another bench
// sees neither.
func TestBothHistoriesOfABenchAreToBeSeen(t *testing.T) {
	dir, state := t.TempDir(), t.TempDir()
	all, err := monitor.HashCode("three old spanners")
	if err != nil {
		t.Fatal(err)
	}
	own, err := monitor.HashCode("a left-hand thread")
	if err != nil {
		t.Fatal(err)
	}
	settings := fmt.Sprintf("[monitor]\nlook_code = %q\n[monitor.codes]\none = %q\ntwo = %q\n", all, own, own)
	if err := os.WriteFile(filepath.Join(dir, service.HubSettingsName), []byte(settings), 0o600); err != nil {
		t.Fatal(err)
	}
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	start := func(c *bus.Client, job string) {
		t.Helper()
		v := bench.Verb{ID: service.NewID(), Name: bench.DoBuildStart, Build: &bench.Started{Job: job, Plan: "first-fit", Text: string(text), Engine: "twin " + job}}
		if a, err := c.Do(t.Context(), v); err != nil || !a.OK {
			t.Fatalf("job %s: %v, %+v", job, err, a)
		}
	}
	h := MustHub(t, dir)
	h.invite("one", state)
	h.invite("two", t.TempDir()) // never there, but in the list of who has its code
	c, stop := MustRunAs(t, state, "one")
	start(c, "17")
	h.has("one", state)
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	older := t.TempDir()
	copyTree(t, state, older)
	c, stop = MustRunAs(t, state, "one")
	start(c, "18")
	h.has("one", state)
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	if err := h.stop(); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(state); err != nil {
		t.Fatal(err)
	}
	copyTree(t, older, state)
	c, _ = MustRunAs(t, state, "one")
	start(c, "19")
	h = MustHub(t, dir)
	h.until("one", "a second history", func(r hub.Report) bool { return r.Line == "one~2" && r.N == r.Theirs })

	v := newViewer(t, h)
	v.login("one", "a left-hand thread")
	says := func(path string, want, wantNot []string) {
		t.Helper()
		_, body, _ := v.get(path)
		body = html.UnescapeString(body)
		for _, w := range want {
			if !strings.Contains(body, w) {
				t.Errorf("%s: %q is not on it\n%s", path, w, body)
			}
		}
		for _, w := range wantNot {
			if strings.Contains(body, w) {
				t.Errorf("%s: %q is on it", path, w)
			}
		}
	}
	says("/", []string{`href="/b/one~2/wall"`, "A second history of this name, since ", " of the first, up to entry ", "Job 19, twin 19"}, nil)
	says("/b/one/builds", []string{"twin 17", "twin 18", "Bench one has a second history too, since "}, []string{"twin 19"})
	says("/b/one~2/builds", []string{"twin 17", "twin 19", "This is the second history of bench one, since ", "one, second history"}, []string{"twin 18"})
	says("/b/one~2/sheet/sheet.json?job=19", []string{"twin 19"}, nil)
	says("/compare", []string{`value="one/17"`, `value="one/18"`, `value="one~2/19"`, "one, second history"}, []string{`value="one/19"`, `value="one~2/18"`})
	says("/compare?build=one/18&build=one~2/19", []string{"one~2, job 19, twin 19"}, []string{"there is no build"})
	says("/search?q=twin+19", []string{`href="/b/one~2/ledger/`, "one, second history"}, []string{`href="/b/one/ledger/`})
	says("/history?engine=twin+19", []string{"<h2>twin 19: over the years</h2>"}, nil)
	// What comes while somebody looks is there too.
	start(c, "20")
	h.until("one", "job 20", func(r hub.Report) bool { return r.N == r.Theirs && r.N > 0 && strings.HasSuffix(r.Line, "~2") })
	h.has("one", state)
	says("/compare", []string{`value="one~2/20"`}, nil)
	if status, _, _ := v.get("/b/one~3/wall"); status != 404 {
		t.Errorf("a third history: status %d", status)
	}
	v = newViewer(t, h)
	v.login("two", "a left-hand thread")
	for _, path := range []string{"/b/one~2/wall", "/b/one~2/sheet/sheet.json?job=19", "/b/one/wall"} {
		if _, body, ended := v.get(path); ended != "/login" || strings.Contains(body, "twin") {
			t.Errorf("%s with another bench's code ends at %s", path, ended)
		}
	}
	says("/", []string{`href="/b/two/wall"`}, []string{"one~2", "history of this name", "twin"})
	says("/compare", nil, []string{"twin 17", "twin 19"})
	says("/search?q=twin+19", nil, []string{"/ledger/"})
	says("/history", nil, []string{"twin 17", "twin 19"})
	if err := h.stop(); err != nil {
		t.Fatal(err)
	}
	if left, err := filepath.Glob(filepath.Join(dir, "histories", "*")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}
