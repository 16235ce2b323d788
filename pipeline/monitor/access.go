package monitor

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"
)

// role is what a viewer may do.
type role int

const (
	roleNone role = iota
	roleLook      // pages, no verbs
	roleWork
)

// access knows who may do what.
type access struct {
	work, look *codeHash
	now        func() time.Time
	log        zerolog.Logger
	secure     bool   // cookies go over TLS only
	wide       bool   // other machines reach the page
	cookieName string // the bench's own: browsers keep cookies by the name of a host, not by its port
	file       string // of the sessions; "" for none
	codes      string // what the codes are, hashed once more
	lookOnly   bool   // everybody looks and nobody works

	mu       sync.Mutex
	sessions sessions
	tries    tries
	checking chan struct{} // one hash at a time: it is slow on purpose
}

func newAccess(cfg Config) (*access, error) {
	sum := sha256.Sum256([]byte(cfg.WorkCode + "\n" + cfg.LookCode))
	a := &access{now: cfg.Now, log: cfg.Logger, secure: cfg.CertFile != "", wide: !isLoopback(cfg.Listen),
		cookieName: "thoud-" + cfg.Bench.State().Bench, file: cfg.Sessions, codes: hex.EncodeToString(sum[:]), lookOnly: cfg.LookOnly, checking: make(chan struct{}, 1)}
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
		if h.short && a.wide {
			return nil, errors.Join(errors.New("monitor: listening on "+cfg.Listen), errShortCode)
		}
		*c.into = &h
	}
	if a.look != nil && a.work == nil {
		return nil, errors.New("monitor: a code to look needs a code to work beside it")
	}
	var err error
	if a.sessions, err = readSessions(a.file, a.codes); err != nil {
		a.log.Warn().Err(err).Msg("sessions not kept")
	}
	return a, nil
}

// open reports whether no code is asked for.
func (a *access) open() bool { return a.work == nil }

// role tells what a request may do.
func (a *access) role(r *http.Request) role {
	if a.lookOnly {
		return roleLook
	}
	if a.open() {
		return roleWork
	}
	c, err := r.Cookie(a.cookieName)
	if err != nil {
		return roleNone
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	s, ok := a.sessions[sha256.Sum256([]byte(c.Value))]
	if !ok || !a.now().Before(s.Until) {
		return roleNone
	}
	return s.Role
}

// errs of logging in, shown on the page.
var (
	errTooMany   = errors.New("too many tries; wait five minutes")
	errWrongCode = errors.New("that is not the code")
)

// login checks a code given from an address and gives the cookie of a new session.
func (a *access) login(ctx context.Context, remote, code string) (*http.Cookie, error) {
	select {
	case a.checking <- struct{}{}:
		defer func() { <-a.checking }()
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	from := network(remote)
	a.mu.Lock()
	may := a.tries.mayTry(from, a.now())
	a.mu.Unlock()
	if !may {
		return nil, errTooMany
	}
	got := a.roleOf(code) // slow on purpose: not under the lock
	a.mu.Lock()
	defer a.mu.Unlock()
	if got == roleNone {
		a.tries.fail(from, a.now())
		return nil, errWrongCode
	}
	if a.wide && shortDigits(code) {
		return nil, errShortCode // of a hash made before codes were marked
	}
	value := rand.Text() + rand.Text()
	a.sessions.add(value, session{got, a.now().Add(sessionLasts)}, a.now())
	a.keep()
	return a.cookie(value, sessionLasts), nil
}

func (a *access) roleOf(code string) role {
	switch {
	case a.work != nil && a.work.fits(code):
		return roleWork
	case a.look != nil && a.look.fits(code):
		return roleLook
	}
	return roleNone
}

// keep writes the sessions where they outlive a restart. The caller holds mu.
func (a *access) keep() {
	if a.file == "" {
		return
	}
	if err := a.sessions.write(a.file, a.codes); err != nil {
		a.log.Warn().Err(err).Msg("sessions not kept: after a restart the code is asked for again")
	}
}

func (a *access) cookie(value string, lasts time.Duration) *http.Cookie {
	return &http.Cookie{Name: a.cookieName, Value: value, Path: "/", MaxAge: int(lasts.Seconds()), HttpOnly: true,
		SameSite: http.SameSiteStrictMode, Secure: a.secure}
}

// logout ends a session.
func (a *access) logout(r *http.Request) {
	if c, err := r.Cookie(a.cookieName); err == nil {
		a.mu.Lock()
		defer a.mu.Unlock()
		delete(a.sessions, sha256.Sum256([]byte(c.Value)))
		a.keep()
	}
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
