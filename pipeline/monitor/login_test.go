package monitor_test

import (
	"fmt"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/pipeline/monitor"
)

// clock is a time that a test moves.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func newClock() *clock { return &clock{now: time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)} }

func (c *clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) forward(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

func mustHash(t *testing.T, code string) string {
	t.Helper()
	h, err := monitor.HashCode(code)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// guarded is a monitor that asks for codes, to be asked from any address.
type guarded struct {
	t *testing.T
	h http.Handler
}

func newGuarded(t *testing.T, cfg monitor.Config) guarded {
	t.Helper()
	f := newFakeBench(t)
	f.firstFit()
	cfg.Bench, cfg.Logger, cfg.Listen = f, zerolog.Nop(), "0.0.0.0:8750"
	s, err := monitor.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return guarded{t, s.Handler()}
}

// login tries a code from an address and gives the status and the cookie.
func (g guarded) login(from, code string) (int, *http.Cookie) {
	r := httptest.NewRequest("POST", "http://127.0.0.1:8750/login", strings.NewReader(url.Values{"code": {code}}.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.RemoteAddr = from
	w := httptest.NewRecorder()
	g.h.ServeHTTP(w, r)
	if c := w.Result().Cookies(); len(c) > 0 {
		return w.Code, c[0]
	}
	return w.Code, nil
}

func (g guarded) wall(c *http.Cookie) int {
	r := httptest.NewRequest("GET", "http://127.0.0.1:8750/wall", nil)
	r.AddCookie(c)
	w := httptest.NewRecorder()
	g.h.ServeHTTP(w, r)
	return w.Code
}

// Who may only look must not be able to guess the other code without end by logging in between the guesses.
func TestALookCodeBuysNoTries(t *testing.T) {
	g := newGuarded(t, monitor.Config{WorkCode: mustHash(t, "both hands"), LookCode: mustHash(t, "both eyes"), Now: newClock().Now})
	const from = "192.0.2.7:1000"
	for i := range 5 {
		if got, _ := g.login(from, "guess"); got != http.StatusForbidden {
			t.Fatalf("guess %d: status %d", i+1, got)
		}
		if got, _ := g.login(from, "both eyes"); i < 4 && got != http.StatusSeeOther {
			t.Fatalf("the look code after %d guesses: status %d", i+1, got)
		}
	}
	if got, _ := g.login(from, "guess"); got != http.StatusTooManyRequests {
		t.Errorf("the sixth guess: status %d, want %d", got, http.StatusTooManyRequests)
	}
}

// Logging in again and again with the right code is no guessing.
func TestRightCodesAreNotCounted(t *testing.T) {
	g := newGuarded(t, monitor.Config{WorkCode: mustHash(t, "both hands"), Now: newClock().Now})
	for i := range 8 {
		if got, _ := g.login("192.0.2.7:1000", "both hands"); got != http.StatusSeeOther {
			t.Fatalf("login %d: status %d", i+1, got)
		}
	}
}

// One network has one count, however many addresses it has: a /64 is one subnet (RFC 4291, 2.5.1).
func TestIPv6IsCountedByNetwork(t *testing.T) {
	g := newGuarded(t, monitor.Config{WorkCode: mustHash(t, "both hands"), Now: newClock().Now})
	for i := range 5 {
		if got, _ := g.login(fmt.Sprintf("[2001:db8:1:2::%x]:1000", i+1), "guess"); got != http.StatusForbidden {
			t.Fatalf("guess %d: status %d", i+1, got)
		}
	}
	if got, _ := g.login("[2001:db8:1:2:ffff::9]:1000", "guess"); got != http.StatusTooManyRequests {
		t.Errorf("the sixth guess of the network: status %d", got)
	}
	if got, _ := g.login("[2001:db8:1:3::1]:1000", "guess"); got != http.StatusForbidden {
		t.Errorf("another network's first guess: status %d", got)
	}
}

// Many addresses together have a bound too.
func TestGuessesAreBoundedInAll(t *testing.T) {
	c := newClock()
	g := newGuarded(t, monitor.Config{WorkCode: mustHash(t, "both hands"), Now: c.Now})
	let := 0
	for i := range 45 {
		switch got, _ := g.login(fmt.Sprintf("192.0.2.%d:1000", i+1), "guess"); got {
		case http.StatusForbidden:
			let++
		case http.StatusTooManyRequests:
		default:
			t.Fatalf("guess %d: status %d", i+1, got)
		}
	}
	if let != 30 {
		t.Errorf("%d guesses from different addresses were looked at, want 30", let)
	}
	c.forward(6 * time.Minute)
	if got, _ := g.login("192.0.2.200:1000", "both hands"); got != http.StatusSeeOther {
		t.Errorf("the right code after waiting: status %d", got)
	}
}

// A short code of digits is for a page that only this machine reaches.
func TestAShortCodeOfDigitsStaysOnThisMachine(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	for _, c := range []struct {
		code, listen string
		ok           bool
	}{
		{"471104", "0.0.0.0:8750", false},
		{"471104", "127.0.0.1:8750", true},
		{"4711040815", "0.0.0.0:8750", true},
		{"oil can", "0.0.0.0:8750", true},
	} {
		s, err := monitor.New(monitor.Config{Bench: f, Listen: c.listen, WorkCode: mustHash(t, c.code), Logger: zerolog.Nop()})
		if err == nil {
			s.Close()
		}
		if (err == nil) != c.ok {
			t.Errorf("code %q at %s: %v", c.code, c.listen, err)
		}
	}
	// A hash that an older program made does not say how short its code is: it shows when the code is given.
	old := strings.TrimSuffix(mustHash(t, "471104"), ":short")
	g := newGuarded(t, monitor.Config{WorkCode: old})
	if got, _ := g.login("192.0.2.7:1000", "471104"); got == http.StatusSeeOther {
		t.Error("a short code of digits was taken from another machine")
	}
}

// Two benches on one machine do not log each other out: browsers keep cookies by name of the host, not by port.
func TestCookiesAreNamedByBench(t *testing.T) {
	g := newGuarded(t, monitor.Config{WorkCode: mustHash(t, "both hands")})
	if _, c := g.login("192.0.2.7:1000", "both hands"); c == nil || c.Name != "thoud-bench-1" {
		t.Errorf("cookie %v, want the name thoud-bench-1", c)
	}
}

// A session outlives a restart of the service, not a change of the codes, and not its own end.
func TestSessionsOutliveARestart(t *testing.T) {
	file := filepath.Join(t.TempDir(), "sessions.json")
	c := newClock()
	work, look := mustHash(t, "both hands"), mustHash(t, "both eyes")
	cfg := monitor.Config{WorkCode: work, LookCode: look, Sessions: file, Now: c.Now}
	first := newGuarded(t, cfg)
	_, kept := first.login("192.0.2.7:1000", "both eyes")
	_, left := first.login("192.0.2.7:1000", "both eyes")
	if kept == nil || left == nil {
		t.Fatal("no cookie")
	}
	r := httptest.NewRequest("POST", "http://127.0.0.1:8750/logout", nil)
	r.AddCookie(left)
	first.h.ServeHTTP(httptest.NewRecorder(), r)

	second := newGuarded(t, cfg)
	if got := second.wall(kept); got != http.StatusOK {
		t.Errorf("after a restart: status %d", got)
	}
	if got := second.wall(left); got == http.StatusOK {
		t.Error("a session that was left is back after a restart")
	}
	changed := cfg
	changed.LookCode = mustHash(t, "other eyes")
	if got := newGuarded(t, changed).wall(kept); got == http.StatusOK {
		t.Error("a session outlived a change of the codes")
	}
	c.forward(31 * 24 * time.Hour)
	if got := newGuarded(t, cfg).wall(kept); got == http.StatusOK {
		t.Error("a session is good after a month")
	}
}

// Who logs out, or whose session ends, sees nothing more: the stream of an open page ends too.
func TestStreamsEndWithTheSession(t *testing.T) {
	c := newClock()
	_, srv := newServer(t, monitor.Config{Listen: "0.0.0.0:8750", WorkCode: mustHash(t, "both hands"), Now: c.Now})
	for _, end := range []struct {
		name string
		do   func(client *http.Client)
	}{
		{"logout", func(client *http.Client) { ask(t, client, "POST", srv.URL+"/logout", nil, "") }},
		{"expiry", func(*http.Client) { c.forward(31 * 24 * time.Hour) }},
	} {
		jar, err := cookiejar.New(nil)
		if err != nil {
			t.Fatal(err)
		}
		client := &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
		ask(t, client, "POST", srv.URL+"/login", map[string]string{"Content-Type": "application/x-www-form-urlencoded"}, "code=both+hands")
		res, err := client.Get(srv.URL + "/stream/wall")
		if err != nil {
			t.Fatal(err)
		}
		if res.StatusCode != http.StatusOK {
			t.Fatalf("%s: the stream: status %d", end.name, res.StatusCode)
		}
		ended := make(chan struct{})
		go func() {
			defer close(ended)
			defer res.Body.Close()
			for buf := make([]byte, 4096); ; {
				if _, err := res.Body.Read(buf); err != nil {
					return
				}
			}
		}()
		end.do(client)
		select {
		case <-ended:
		case <-time.After(8 * time.Second):
			t.Errorf("%s: the stream goes on", end.name)
		}
	}
}

// What watches over machines asks from this one, unless others are let in.
func TestMetricsAreForThisMachine(t *testing.T) {
	said := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { fmt.Fprintln(w, "thoud_up 1") })
	for _, open := range []bool{false, true} {
		g := newGuarded(t, monitor.Config{WorkCode: mustHash(t, "both hands"), Watched: monitor.Watched{Metrics: said, Health: said, Open: open}})
		for from, want := range map[string]int{"127.0.0.1:5000": 200, "[::1]:5000": 200, "192.0.2.7:5000": 403} {
			if open {
				want = 200
			}
			for _, path := range []string{"/metrics", "/healthz"} {
				r := httptest.NewRequest("GET", "http://127.0.0.1:8750"+path, nil)
				r.RemoteAddr = from
				w := httptest.NewRecorder()
				g.h.ServeHTTP(w, r)
				if w.Code != want {
					t.Errorf("%s from %s, open %v: status %d, want %d", path, from, open, w.Code, want)
				}
			}
		}
	}
}
