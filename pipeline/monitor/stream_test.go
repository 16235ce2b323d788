package monitor_test

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// event is one server-sent event as it came.
type event struct{ name, id, data string }

// reader opens a stream and hands on its events until the test ends.
func reader(t *testing.T, ctx context.Context, url, last string) <-chan event {
	t.Helper()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	if last != "" {
		req.Header.Set("Last-Event-ID", last)
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	if got := res.Header.Get("Content-Type"); got != "text/event-stream" {
		t.Fatalf("the stream is %q, status %s", got, res.Status)
	}
	out := make(chan event, 4096)
	go func() {
		defer res.Body.Close()
		defer close(out)
		var e event
		for lines := bufio.NewScanner(res.Body); lines.Scan(); {
			field, value, _ := strings.Cut(lines.Text(), ": ")
			switch field {
			case "event":
				e.name = value
			case "id":
				e.id = value
			case "data":
				e.data = value
			case "":
				out <- e
				e = event{}
			}
		}
	}()
	return out
}

// next waits for an event of a name.
func next(t *testing.T, events <-chan event, name string) event {
	t.Helper()
	deadline := time.After(10 * time.Second)
	for {
		select {
		case e, ok := <-events:
			if !ok {
				t.Fatalf("the stream ended before %q came", name)
			}
			if e.name == name {
				return e
			}
		case <-deadline:
			t.Fatalf("waited in vain for %q", name)
		}
	}
}

// benchRegions is how many regions the Bench has.
const benchRegions = 15

// regions are the regions of a page event.
func regions(t *testing.T, e event) map[string]string {
	t.Helper()
	var d struct {
		R map[string]string `json:"r"`
	}
	if err := json.Unmarshal([]byte(e.data), &d); err != nil {
		t.Fatal(err)
	}
	return d.R
}

// TestStreamResumes comes back with the newest id, with an old one and with one of another run: nothing is sent, what
// changed since, or everything, so that nothing is missing.
func TestStreamResumes(t *testing.T) {
	f, srv := newServer(t, monitor.Config{})
	url := srv.URL + "/stream/bench"
	ctx, cancel := context.WithCancel(t.Context())
	first := next(t, reader(t, ctx, url, ""), "page")
	if got := regions(t, first); len(got) != benchRegions || first.id == "" {
		t.Fatalf("a new page was sent %d regions under id %q, want all", len(got), first.id)
	}
	cancel()
	again := reader(t, t.Context(), url, first.id)
	next(t, again, "beat")
	f.must(t, t.Context(), benchVerb{"acknowledge", ""})
	second := next(t, again, "page")
	if got := regions(t, second); got["say"] == "" || got["head"] != "" || second.id == first.id {
		t.Errorf("after one change: regions %d, id %s: want those that changed and no more", len(got), second.id)
	}
	if behind := next(t, reader(t, t.Context(), url, first.id), "page"); behind.data != second.data {
		t.Errorf("a page that missed something was sent\n%s\nwant what changed since\n%s", behind.data, second.data)
	}
	if got := regions(t, next(t, reader(t, t.Context(), url, "another-run-1"), "page")); len(got) != benchRegions {
		t.Errorf("a page of another run was sent %d regions, want all", len(got))
	}
}

// TestLiveIsPaced floods a gauge: a viewer is sent 20 values a second at most, and the newest one at the end.
func TestLiveIsPaced(t *testing.T) {
	f, srv := newServer(t, monitor.Config{})
	events := reader(t, t.Context(), srv.URL+"/stream/wall", "")
	next(t, events, "page")
	start := time.Now()
	for i := range 1000 {
		f.show(fmt.Sprintf("0.%04d", i))
		time.Sleep(time.Millisecond)
	}
	n := 0
	for {
		e := next(t, events, "live")
		n++
		if strings.Contains(e.data, "0.0999\u00a0in") {
			break
		}
	}
	most := int(time.Since(start)/(50*time.Millisecond)) + 2
	if n > most || n < 2 {
		t.Errorf("%d live messages in %v, want %d at most", n, time.Since(start), most)
	}
}

// TestSlowViewers opens twenty streams, nineteen of which are never read: the one that is read is served, and the bench
// is never held up (the fake bench fails the test where it would be).
func TestSlowViewers(t *testing.T) {
	f, srv := newServer(t, monitor.Config{})
	for range 19 {
		req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, srv.URL+"/stream/bench", nil)
		if err != nil {
			t.Fatal(err)
		}
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { res.Body.Close() })
	}
	events := reader(t, t.Context(), srv.URL+"/stream/bench", "")
	next(t, events, "page")
	for i := range 300 {
		f.show(fmt.Sprintf("0.%04d", i))
		f.notice(bench.Notice{Words: strings.Repeat("long words ", 2000)})
	}
	f.show("0.5678")
	for !strings.Contains(next(t, events, "live").data, "0.5678\u00a0in") {
	}
}

// TestTones hears what was taken and the verdict, each once, and none of what was before.
func TestTones(t *testing.T) {
	f, srv := newServer(t, monitor.Config{})
	f.notice(bench.Notice{Tone: "fault", Words: "before anybody looked"})
	events := reader(t, t.Context(), srv.URL+"/stream/bench", "")
	next(t, events, "page")
	f.show("0.1000")
	f.ready()
	for _, value := range []string{"0.7000", "0.7020", "0.6485"} {
		f.show(value)
		f.must(t, t.Context(), benchVerb{"take", ""})
	}
	var heard, told []string
	for len(heard) < 4 {
		var tone struct {
			Tone  string
			Taken map[string]string
		}
		if err := json.Unmarshal([]byte(next(t, events, "tone").data), &tone); err != nil {
			t.Fatal(err)
		}
		if tone.Taken != nil {
			told = append(told, tone.Taken["inch"])
		}
		if tone.Tone != "" {
			heard = append(heard, tone.Tone)
		}
	}
	// Readings that come faster than they can be told are told by the newest.
	if len(told) == 0 || told[len(told)-1] != "left block, at contact: 0.5485\u00a0in" {
		t.Errorf("told %q: want the reading by the title of its point", told)
	}
	if got := strings.Join(heard, " "); got != "taken taken out taken" {
		t.Errorf("heard %q, want %q", got, "taken taken out taken")
	}
}
