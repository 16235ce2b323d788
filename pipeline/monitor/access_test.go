package monitor_test

import (
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/pipeline/monitor"
)

func newServer(t *testing.T, cfg monitor.Config) (*fakeBench, *httptest.Server) {
	t.Helper()
	f := newFakeBench(t)
	f.firstFit()
	cfg.Bench, cfg.Logger = f, zerolog.Nop()
	s, err := monitor.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(s.Handler())
	t.Cleanup(func() { s.Close(); srv.Close() })
	return f, srv
}

func ask(t *testing.T, c *http.Client, method, url string, header map[string]string, body string) (int, string, http.Header) {
	t.Helper()
	req, err := http.NewRequest(method, url, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	for k, v := range header {
		if k == "Host" {
			req.Host = v
			continue
		}
		req.Header.Set(k, v)
	}
	res, err := c.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	got, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(got), res.Header
}

var asJSON = map[string]string{"Content-Type": "application/json"}

const goodAsk = `{"id":"abcdefgh12","verb":"acknowledge"}`

// TestListeningWiderNeedsACode refuses to listen where others can reach it without a code.
func TestListeningWiderNeedsACode(t *testing.T) {
	for _, row := range []struct {
		listen string
		ok     bool
	}{{"", true}, {"127.0.0.1:0", true}, {"[::1]:0", true}, {"localhost:8750", true}, {"0.0.0.0:8750", false}, {":8750", false}, {"[::]:8750", false}, {"192.0.2.7:8750", false}, {"shop:8750", false}} {
		s, err := monitor.New(monitor.Config{Bench: newFakeBench(t), Listen: row.listen})
		if (err == nil) != row.ok {
			t.Errorf("listen on %q: %v", row.listen, err)
		}
		if s != nil {
			s.Close()
		}
	}
	for _, bad := range []monitor.Config{{Bench: newFakeBench(t), WorkCode: "open sesame"}, {Bench: newFakeBench(t), CertFile: "a.pem"}, {}} {
		if s, err := monitor.New(bad); err == nil {
			s.Close()
			t.Errorf("%+v was accepted", bad)
		}
	}
	if _, err := monitor.HashCode("12345"); err == nil {
		t.Error("a code of five characters was accepted")
	}
}

// TestForeignNames refuses names that may have been pointed here, and lets through listed ones and plain addresses.
func TestForeignNames(t *testing.T) {
	_, srv := newServer(t, monitor.Config{Hosts: []string{"Shop.example"}})
	for host, want := range map[string]int{"localhost:8750": 200, "127.0.0.1": 200, "[::1]:8750": 200, "192.0.2.7:80": 200, "shop.example": 200, "SHOP.example.:8750": 200,
		"evil.example": 421, "localhost.evil.example": 421, "127.0.0.1.evil.example": 421, "": 200} {
		if host == "" {
			continue
		}
		if got, _, _ := ask(t, srv.Client(), "GET", srv.URL+"/bench", map[string]string{"Host": host}, ""); got != want {
			t.Errorf("host %q: status %d, want %d", host, got, want)
		}
	}
}

// TestNoChangeFromElsewhere refuses a change that another page's script or form sends, and any change by GET.
func TestNoChangeFromElsewhere(t *testing.T) {
	f, srv := newServer(t, monitor.Config{})
	rows := []struct {
		name, method, body string
		header             map[string]string
		want               int
	}{
		{"own page", "POST", goodAsk, map[string]string{"Content-Type": "application/json", "Sec-Fetch-Site": "same-origin"}, 200},
		{"a program", "POST", `{"id":"abcdefgh13","verb":"acknowledge"}`, asJSON, 200},
		{"another page", "POST", goodAsk, map[string]string{"Content-Type": "application/json", "Sec-Fetch-Site": "cross-site"}, 403},
		{"another origin", "POST", goodAsk, map[string]string{"Content-Type": "application/json", "Origin": "https://evil.example"}, 403},
		{"a form", "POST", "verb=zero", map[string]string{"Content-Type": "application/x-www-form-urlencoded"}, 415},
		{"plain text", "POST", goodAsk, map[string]string{"Content-Type": "text/plain"}, 415},
		{"GET", "GET", "", nil, 405},
		{"not JSON", "POST", "{", asJSON, 400},
		{"unknown field", "POST", `{"id":"abcdefgh12","verb":"zero","sudo":true}`, asJSON, 400},
		{"two at once", "POST", goodAsk + goodAsk, asJSON, 400},
		{"too long", "POST", `{"id":"` + strings.Repeat("a", 20_000) + `"}`, asJSON, 400},
	}
	for _, row := range rows {
		before := len(f.asked)
		got, body, _ := ask(t, srv.Client(), row.method, srv.URL+"/do", row.header, row.body)
		if got != row.want {
			t.Errorf("%s: status %d, want %d: %s", row.name, got, row.want, body)
		}
		if did := len(f.asked) - before; did != map[bool]int{true: 1, false: 0}[row.want == 200] {
			t.Errorf("%s: the bench was asked %d times", row.name, did)
		}
	}
	for _, verb := range []string{"photo", "shutdown", ""} {
		before := len(f.asked)
		_, body, _ := ask(t, srv.Client(), "POST", srv.URL+"/do", asJSON, `{"id":"abcdefgh12","verb":"`+verb+`"}`)
		if !strings.Contains(body, "nothing the bench can be asked from here") || len(f.asked) != before {
			t.Errorf("verb %q: %s", verb, body)
		}
	}
}

// TestPhotoFromElsewhere sends a good photo as a page of another origin would.
func TestPhotoFromElsewhere(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	url := serve(t, monitor.Config{Bench: f})
	for origin, want := range map[string]int{"https://evil.example": http.StatusForbidden, url: http.StatusOK} {
		got, body, _ := ask(t, http.DefaultClient, "POST", url+"/photo?id=0123456789ab", map[string]string{"Content-Type": "image/jpeg", "Origin": origin}, string(jpegOf(t, 8, 8)))
		if got != want {
			t.Errorf("from %s: status %d, want %d: %s", origin, got, want, body)
		}
	}
	if _, n := lastPhoto(f); n != 1 {
		t.Errorf("%d photos were kept, want the one of our own page", n)
	}
}

// TestHeaders looks for the policy on every kind of answer, and for anything inline that it would stop.
func TestHeaders(t *testing.T) {
	_, srv := newServer(t, monitor.Config{})
	for _, p := range []string{"/bench", "/wall", "/steps", "/help", "/static/page.js", "/nothing", "/login"} {
		_, body, h := ask(t, srv.Client(), "GET", srv.URL+p, nil, "")
		csp := h.Get("Content-Security-Policy")
		if !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "unsafe") || h.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: %v", p, h)
		}
		if strings.HasPrefix(body, "<!doctype") {
			for _, inline := range []string{" style=", " onclick=", " onload=", "<style", "javascript:"} {
				if strings.Contains(body, inline) {
					t.Errorf("%s holds %q", p, inline)
				}
			}
			if strings.Count(body, "<script") != strings.Count(body, `<script src="/static/`) {
				t.Errorf("%s holds a script that is not a file of ours", p)
			}
		}
	}
}

// TestCodesAndRoles logs in to look and to work, and checks what each may do.
func TestCodesAndRoles(t *testing.T) {
	work, err := monitor.HashCode("both hands")
	if err != nil {
		t.Fatal(err)
	}
	look, err := monitor.HashCode("both eyes")
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(work, "hands") {
		t.Fatalf("the code stands in its hash: %s", work)
	}
	var mu sync.Mutex
	now := time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)
	f, srv := newServer(t, monitor.Config{Listen: "0.0.0.0:8750", WorkCode: work, LookCode: look, Now: func() time.Time { mu.Lock(); defer mu.Unlock(); return now }})
	client := func() *http.Client {
		jar, err := cookiejar.New(nil)
		if err != nil {
			t.Fatal(err)
		}
		return &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	}
	login := func(c *http.Client, code string) int {
		got, _, h := ask(t, c, "POST", srv.URL+"/login", map[string]string{"Content-Type": "application/x-www-form-urlencoded"}, url.Values{"code": {code}}.Encode())
		if got == http.StatusSeeOther {
			if cookie := h.Get("Set-Cookie"); !strings.Contains(cookie, "HttpOnly") || !strings.Contains(cookie, "SameSite=Strict") {
				t.Errorf("the session's cookie: %s", cookie)
			}
		}
		return got
	}
	status := func(c *http.Client, method, path, body string) int {
		got, _, _ := ask(t, c, method, srv.URL+path, asJSON, body)
		return got
	}
	nobody, looker, worker := client(), client(), client()
	for _, p := range []string{"/bench", "/wall", "/ledger", "/gauges", "/sheet", "/help"} {
		if got := status(nobody, "GET", p, ""); got != http.StatusSeeOther {
			t.Errorf("%s without a code: status %d", p, got)
		}
	}
	if got, body, _ := ask(t, nobody, "GET", srv.URL+"/stream/wall", map[string]string{"Accept": "text/event-stream"}, ""); got != http.StatusUnauthorized {
		t.Errorf("the stream without a code: status %d: %s", got, body)
	}
	if got := status(nobody, "POST", "/do", goodAsk); got != http.StatusUnauthorized || len(f.asked) != 0 {
		t.Errorf("a verb without a code: status %d", got)
	}
	if got := login(looker, "both eyes"); got != http.StatusSeeOther {
		t.Fatalf("log in to look: status %d", got)
	}
	if got := login(worker, "both hands"); got != http.StatusSeeOther {
		t.Fatalf("log in to work: status %d", got)
	}
	for _, row := range []struct {
		name               string
		c                  *http.Client
		wall, bench, doing int
	}{{"look", looker, 200, 403, 403}, {"work", worker, 200, 200, 200}} {
		if got := status(row.c, "GET", "/wall", ""); got != row.wall {
			t.Errorf("%s: wall: status %d", row.name, got)
		}
		if got := status(row.c, "GET", "/bench", ""); got != row.bench {
			t.Errorf("%s: bench: status %d", row.name, got)
		}
		if got := status(row.c, "POST", "/do", goodAsk); got != row.doing {
			t.Errorf("%s: a verb: status %d", row.name, got)
		}
		// What checks a gauge and pins a photo is work too. The gauge asked for does not exist, and no photo comes with it.
		for _, p := range []struct {
			method, path string
			work         int
		}{{"GET", "/check?gauge=none", http.StatusNotFound}, {"GET", "/now?gauge=none", http.StatusConflict}, {"POST", "/photo", http.StatusUnsupportedMediaType}} {
			want := p.work
			if row.name == "look" {
				want = http.StatusForbidden
			}
			if got := status(row.c, p.method, p.path, ""); got != want {
				t.Errorf("%s: %s %s: status %d, want %d", row.name, p.method, p.path, got, want)
			}
		}
	}
	for i := range 6 {
		want := http.StatusForbidden
		if i == 5 {
			want = http.StatusTooManyRequests
		}
		if got := login(nobody, "guess"); got != want {
			t.Errorf("wrong code, try %d: status %d, want %d", i+1, got, want)
		}
	}
	if got := login(nobody, "both hands"); got != http.StatusTooManyRequests {
		t.Errorf("the right code after too many tries: status %d", got)
	}
	mu.Lock()
	now = now.Add(6 * time.Minute)
	mu.Unlock()
	if got := login(nobody, "both hands"); got != http.StatusSeeOther {
		t.Errorf("the right code after waiting: status %d", got)
	}
	ask(t, worker, "POST", srv.URL+"/logout", nil, "")
	if got := status(worker, "GET", "/bench", ""); got != http.StatusSeeOther {
		t.Errorf("bench after leaving: status %d", got)
	}
	mu.Lock()
	now = now.Add(31 * 24 * time.Hour)
	mu.Unlock()
	if got := status(looker, "GET", "/wall", ""); got != http.StatusSeeOther {
		t.Errorf("wall after a month: status %d", got)
	}
}
