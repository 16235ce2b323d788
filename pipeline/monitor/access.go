package monitor

import (
	"context"
	"crypto/pbkdf2"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"
)

// role is what a viewer may do.
type role int

const (
	roleNone role = iota
	roleLook      // pages, no verbs
	roleWork
)

// codeRounds is the work factor of a code's hash: PBKDF2 with HMAC-SHA-256, 600,000 rounds (OWASP's password storage
// cheat sheet, from memory).
const codeRounds = 600_000

// leastCode is how long a code must be.
const leastCode = 6

// HashCode makes the hash of an access code as the configuration keeps it.
func HashCode(code string) (string, error) {
	if len(code) < leastCode {
		return "", fmt.Errorf("an access code of %d characters is too short: %d or more", len(code), leastCode)
	}
	salt := make([]byte, 16)
	_, _ = rand.Read(salt) // never fails
	return hashCode(code, salt, codeRounds)
}

func hashCode(code string, salt []byte, rounds int) (string, error) {
	key, err := pbkdf2.Key(sha256.New, code, salt, rounds, 32)
	if err != nil {
		return "", fmt.Errorf("access code: %w", err)
	}
	enc := base64.RawStdEncoding
	return fmt.Sprintf("pbkdf2-sha256:%d:%s:%s", rounds, enc.EncodeToString(salt), enc.EncodeToString(key)), nil
}

type codeHash struct {
	rounds    int
	salt, key []byte
}

func parseHash(s string) (codeHash, error) {
	parts := strings.Split(s, ":")
	bad := errors.New("monitor: the access code must be kept as its hash, as \"thoud code\" prints it")
	if len(parts) != 4 || parts[0] != "pbkdf2-sha256" {
		return codeHash{}, bad
	}
	rounds, err := strconv.Atoi(parts[1])
	if err != nil || rounds < 1 {
		return codeHash{}, bad
	}
	salt, err1 := base64.RawStdEncoding.DecodeString(parts[2])
	key, err2 := base64.RawStdEncoding.DecodeString(parts[3])
	if err1 != nil || err2 != nil || len(key) != 32 {
		return codeHash{}, bad
	}
	return codeHash{rounds, salt, key}, nil
}

func (c codeHash) fits(code string) bool {
	key, err := pbkdf2.Key(sha256.New, code, c.salt, c.rounds, len(c.key))
	return err == nil && subtle.ConstantTimeCompare(key, c.key) == 1
}

// Limits of logging in: tries from one address before it must wait, and how long a session lasts.
const (
	triesAllowed = 5
	triesWindow  = 5 * time.Minute
	sessionLasts = 30 * 24 * time.Hour
	sessionsMost = 500
	cookieName   = "thoud"
)

// access knows who may do what. Sessions live in memory: after a restart the code is asked for again.
type access struct {
	work, look *codeHash
	now        func() time.Time
	secure     bool

	mu       sync.Mutex
	sessions map[[32]byte]session // by hash of the cookie
	tries    map[string][]time.Time
	checking chan struct{} // one hash at a time: it is slow on purpose
}

type session struct {
	role  role
	until time.Time
}

func newAccess(cfg Config) (*access, error) {
	a := &access{now: cfg.Now, secure: cfg.CertFile != "", sessions: map[[32]byte]session{}, tries: map[string][]time.Time{},
		checking: make(chan struct{}, 1)}
	for _, c := range []struct {
		text string
		into **codeHash
	}{{cfg.WorkCode, &a.work}, {cfg.LookCode, &a.look}} {
		if c.text == "" {
			continue
		}
		h, err := parseHash(c.text)
		if err != nil {
			return nil, err
		}
		*c.into = &h
	}
	if a.look != nil && a.work == nil {
		return nil, errors.New("monitor: a code to look needs a code to work beside it")
	}
	return a, nil
}

// open reports whether no code is asked for.
func (a *access) open() bool { return a.work == nil }

// role tells what a request may do.
func (a *access) role(r *http.Request) role {
	if a.open() {
		return roleWork
	}
	c, err := r.Cookie(cookieName)
	if err != nil {
		return roleNone
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	s, ok := a.sessions[sha256.Sum256([]byte(c.Value))]
	if !ok || !a.now().Before(s.until) {
		return roleNone
	}
	return s.role
}

// errs of logging in, shown on the page.
var (
	errTooMany   = errors.New("too many tries from here; wait five minutes")
	errWrongCode = errors.New("that is not the code")
)

// login checks a code and gives the cookie of a new session.
func (a *access) login(ctx context.Context, from, code string) (*http.Cookie, error) {
	if !a.mayTry(from) {
		return nil, errTooMany
	}
	select {
	case a.checking <- struct{}{}:
		defer func() { <-a.checking }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	got := roleNone
	switch {
	case a.work != nil && a.work.fits(code):
		got = roleWork
	case a.look != nil && a.look.fits(code):
		got = roleLook
	default:
		return nil, errWrongCode
	}
	var raw [32]byte
	_, _ = rand.Read(raw[:]) // never fails
	value := base64.RawURLEncoding.EncodeToString(raw[:])
	a.mu.Lock()
	defer a.mu.Unlock()
	delete(a.tries, from)
	for k, s := range a.sessions {
		if len(a.sessions) >= sessionsMost || !a.now().Before(s.until) {
			delete(a.sessions, k)
		}
	}
	a.sessions[sha256.Sum256([]byte(value))] = session{got, a.now().Add(sessionLasts)}
	return a.cookie(value, sessionLasts), nil
}

func (a *access) cookie(value string, lasts time.Duration) *http.Cookie {
	return &http.Cookie{Name: cookieName, Value: value, Path: "/", MaxAge: int(lasts.Seconds()), HttpOnly: true,
		SameSite: http.SameSiteStrictMode, Secure: a.secure}
}

// logout ends a session.
func (a *access) logout(r *http.Request) {
	if c, err := r.Cookie(cookieName); err == nil {
		a.mu.Lock()
		defer a.mu.Unlock()
		delete(a.sessions, sha256.Sum256([]byte(c.Value)))
	}
}

// mayTry counts a try; it fails where an address has tried too often of late.
func (a *access) mayTry(from string) bool {
	a.mu.Lock()
	defer a.mu.Unlock()
	since := a.now().Add(-triesWindow)
	for k, ts := range a.tries { // addresses that have been quiet are forgotten
		if len(ts) == 0 || ts[len(ts)-1].Before(since) {
			delete(a.tries, k)
		}
	}
	var of []time.Time
	for _, t := range a.tries[from] {
		if t.After(since) {
			of = append(of, t)
		}
	}
	if len(of) >= triesAllowed {
		a.tries[from] = of
		return false
	}
	a.tries[from] = append(of, a.now())
	return true
}

// hostList is what the page may be asked for by. A name that is not on it may be a foreign one that was pointed at
// this machine to get at the page through somebody's browser.
type hostList map[string]bool

func newHostList(cfg Config) hostList {
	l := hostList{"localhost": true}
	for _, h := range cfg.Hosts {
		l[strings.ToLower(strings.TrimSuffix(h, "."))] = true
	}
	return l
}

// allows accepts listed names, and plain addresses: those cannot be pointed elsewhere by a name server.
func (l hostList) allows(host string) bool {
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	host = strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
	if net.ParseIP(host) != nil {
		return true
	}
	return l[strings.ToLower(strings.TrimSuffix(host, "."))]
}
