package service_test

import (
	"bufio"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/monitor"
)

// viewer is somebody with a browser.
type viewer struct {
	t      *testing.T
	client *http.Client
	at     string
}

func newViewer(t *testing.T, h *runningHub) *viewer {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	v := &viewer{t: t, client: &http.Client{Jar: jar, Timeout: 20 * time.Second}}
	for end := time.Now().Add(10 * time.Second); v.at == "" && time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		h.mu.Lock()
		v.at = h.pages
		h.mu.Unlock()
	}
	return v
}

func (v *viewer) get(path string) (status int, body, ended string) {
	v.t.Helper()
	r, err := v.client.Get(v.at + path)
	if err != nil {
		v.t.Fatal(err)
	}
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		v.t.Fatal(err)
	}
	return r.StatusCode, string(b), r.Request.URL.Path
}

func (v *viewer) login(benchName, code string) int {
	v.t.Helper()
	r, err := v.client.PostForm(v.at+"/login", url.Values{"bench": {benchName}, "code": {code}})
	if err != nil {
		v.t.Fatal(err)
	}
	defer r.Body.Close()
	return r.StatusCode
}

var address = regexp.MustCompile(`(?:href|src|action)="(/[^"#]*)"`)

// The hub's pages: all benches, and each bench's own pages to look at. Every address in them leads to a page of that bench.
func TestTheHubsPages(t *testing.T) {
	dir, one, two := t.TempDir(), t.TempDir(), t.TempDir()
	h := MustHub(t, dir)
	h.invite("one", one)
	h.invite("two", two)
	c, _ := MustRunAs(t, one, "one")
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	start := bench.Verb{ID: service.NewID(), Name: bench.DoBuildStart, Build: &bench.Started{Job: "17", Plan: "first-fit", Text: string(text), Engine: "green twin"}}
	if a, err := c.Do(t.Context(), start); err != nil || !a.OK {
		t.Fatalf("%v, %+v", err, a)
	}
	work(t, c, 1)
	h.has("one", one)
	v := newViewer(t, h)
	if status, body, _ := v.get("/"); status != http.StatusOK || !strings.Contains(body, `href="/b/one/wall"`) || !strings.Contains(body, "all it has") || !strings.Contains(body, ">two<") {
		t.Errorf("the list: %d\n%s", status, body)
	}
	seen := map[string]bool{}
	for todo := []string{"/b/one/"}; len(todo) > 0 && len(seen) < 200; todo = todo[1:] {
		if seen[todo[0]] {
			continue
		}
		seen[todo[0]] = true
		status, body, ended := v.get(todo[0])
		if status == http.StatusNotFound && strings.Contains(body, "the ledger has no entry") {
			continue // the one after the newest
		}
		if status != http.StatusOK {
			t.Errorf("%s: status %d\n%.300s", todo[0], status, body)
			continue
		}
		if ended == "/" {
			continue // the way back
		}
		if strings.HasPrefix(ended, "/b/one/static/") || strings.HasPrefix(ended, "/b/one/sheet/") {
			continue
		}
		for _, m := range address.FindAllStringSubmatch(body, -1) {
			if !strings.HasPrefix(m[1], "/b/one/") {
				t.Errorf("%s leads out of the bench's pages: %s", todo[0], m[1])
			}
			todo = append(todo, strings.ReplaceAll(m[1], "&amp;", "&"))
		}
	}
	if len(seen) < 20 {
		t.Errorf("only %d pages and files were followed: %v", len(seen), seen)
	}
	if _, body, ended := v.get("/b/one/hub"); ended != "/" || !strings.Contains(body, "Hub hub") {
		t.Errorf("the way back leads to %s", ended)
	}
	if _, body, _ := v.get("/b/one/gauges"); !strings.Contains(body, "Gauges, bench one") {
		t.Error("the page does not say whose it is")
	}
	if _, body, _ := v.get("/b/one/wall"); !strings.Contains(body, "Guide-block") {
		t.Errorf("the wall does not show where the bench stands:\n%.2000s", body)
	}
	if _, body, _ := v.get("/b/one/static/stream.js"); !strings.Contains(body, "`/b/one/stream/") {
		t.Error("the stream's address is not the bench's")
	}
	if status, body, _ := v.get("/b/one/sheet/sheet.json?job=17"); status != http.StatusOK || !strings.Contains(body, "green twin") {
		t.Errorf("the sheet: %d %.200s", status, body)
	}
	if status, body, _ := v.get("/search?q=green+twin"); status != http.StatusOK || !strings.Contains(body, `href="/b/one/ledger/`) {
		t.Errorf("the search: %d\n%s", status, body)
	}
	if status, body, _ := v.get("/compare?q=green"); status != http.StatusOK || !strings.Contains(body, `value="one/17"`) {
		t.Errorf("the builds to choose from: %d\n%s", status, body)
	}
	start.ID, start.Build.Job = service.NewID(), "18"
	if a, err := c.Do(t.Context(), start); err != nil || !a.OK {
		t.Fatalf("%v, %+v", err, a)
	}
	h.has("one", one)
	if status, body, _ := v.get("/compare?build=one/17&build=one/18"); status != http.StatusOK || !strings.Contains(body, "one, job 18, green twin") {
		t.Errorf("side by side: %d\n%s", status, body)
	}
	if status, body, _ := v.get("/compare?build=one/17&build=one/19"); status != http.StatusOK || !strings.Contains(body, "There is no build") {
		t.Errorf("beside one that is not there: %d\n%s", status, body)
	}
	if _, body, _ := v.get("/history?engine=green+twin&dimension=no.such"); !strings.Contains(body, "<h2>green twin: over the years</h2>") || !strings.Contains(body, "no such dimension") {
		t.Errorf("the history over all benches is not looked into:\n%s", body)
	}
	if _, body, _ := v.get("/b/one/history?engine=green+twin&dimension=no.such"); !strings.Contains(body, "no such dimension") {
		t.Errorf("the history is not looked into:\n%s", body)
	}
	for _, path := range []string{"/b/one/do", "/b/one/photo", "/b/one/identify", "/b/one/keep/verify"} {
		r, err := v.client.Post(v.at+path, "application/json", strings.NewReader(`{"id":"`+service.NewID()+`","name":"take"}`))
		if err != nil {
			t.Fatal(err)
		}
		_ = r.Body.Close()
		if r.StatusCode != http.StatusForbidden {
			t.Errorf("POST %s: status %d, want 403", path, r.StatusCode)
		}
	}
	if status, _, _ := v.get("/b/three/wall"); status != http.StatusNotFound {
		t.Errorf("a bench that is not there: %d", status)
	}
	// The page is kept up while somebody looks.
	r, err := v.client.Get(v.at + "/b/one/stream/gauges")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	name := "dial-of-the-stream"
	if a, err := c.Do(t.Context(), bench.Verb{ID: service.NewID(), Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: name, Known: bench.KnownKeyed, Profile: "keyed", Role: "indicator"}}); err != nil || !a.OK {
		t.Fatalf("%v, %+v", err, a)
	}
	told := false
	lines := bufio.NewScanner(r.Body)
	lines.Buffer(nil, 4<<20)
	for end := time.Now().Add(15 * time.Second); !told && time.Now().Before(end) && lines.Scan(); {
		told = strings.Contains(lines.Text(), name)
	}
	if !told {
		t.Error("the stream did not tell of a new gauge")
	}
}

// Who has the code of one bench sees that bench, in the list and in the search too, and no other.
func TestCodesOfAHub(t *testing.T) {
	dir, one, two := t.TempDir(), t.TempDir(), t.TempDir()
	all, err := monitor.HashCode("three old spanners")
	if err != nil {
		t.Fatal(err)
	}
	own, err := monitor.HashCode("a left-hand thread")
	if err != nil {
		t.Fatal(err)
	}
	text := fmt.Sprintf("[monitor]\nlook_code = %q\n[monitor.codes]\none = %q\n", all, own)
	if err := os.WriteFile(filepath.Join(dir, service.HubSettingsName), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	h := MustHub(t, dir)
	plantext, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	for name, state := range map[string]string{"one": one, "two": two} {
		h.invite(name, state)
		c, _ := MustRunAs(t, state, name)
		start := bench.Verb{ID: service.NewID(), Name: bench.DoBuildStart, Build: &bench.Started{Job: "17", Plan: "first-fit", Text: string(plantext), Engine: "engine of " + name}}
		if a, err := c.Do(t.Context(), start); err != nil || !a.OK {
			t.Fatalf("%v, %+v", err, a)
		}
		work(t, c, 1)
		h.has(name, state)
	}
	for _, p := range []struct {
		bench, code string
		may         []string
	}{{"", "", nil}, {"one", "three wrong words", nil}, {"two", "a left-hand thread", nil}, {"one", "a left-hand thread", []string{"one"}}, {"", "three old spanners", []string{"one", "two"}}} {
		v := newViewer(t, h)
		if p.code != "" {
			v.login(p.bench, p.code)
		}
		_, list, _ := v.get("/")
		_, found, _ := v.get("/search?q=keyed")
		_, builds, _ := v.get("/compare")
		_, engines, _ := v.get("/history")
		for _, name := range []string{"one", "two"} {
			_, _, ended := v.get("/b/" + name + "/ledger")
			may := false
			for _, m := range p.may {
				may = may || m == name
			}
			if got := ended == "/b/"+name+"/ledger"; got != may {
				t.Errorf("bench %q with the code of %q: sees the pages %t, want %t", name, p.bench, got, may)
			}
			if got := strings.Contains(list, "/b/"+name+"/"); got != may {
				t.Errorf("bench %q with the code of %q: in the list %t, want %t", name, p.bench, got, may)
			}
			if got := strings.Contains(found, "/b/"+name+"/"); got != may {
				t.Errorf("bench %q with the code of %q: found %t, want %t", name, p.bench, got, may)
			}
			if got := strings.Contains(builds, name+"/17"); got != may {
				t.Errorf("bench %q with the code of %q: among the builds %t, want %t", name, p.bench, got, may)
			}
			if got := strings.Contains(engines, "engine of "+name); got != may {
				t.Errorf("bench %q with the code of %q: its engine in the history %t, want %t", name, p.bench, got, may)
			}
			_, past, _ := v.get("/history?engine=engine+of+" + name)
			if got := strings.Contains(past, "<h2>engine of "+name+": over the years</h2>"); got != may {
				t.Errorf("bench %q with the code of %q: its engine's history %t, want %t", name, p.bench, got, may)
			}
		}
	}
}
