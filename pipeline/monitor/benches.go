package monitor

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// BenchRow is one bench on a hub's first page.
type BenchRow struct {
	Name     string
	Words    string // how far its copy is
	Troubles []string
	BenchNow
}

// BenchNow is what is worked out of a bench for who looks at the list.
type BenchNow struct {
	Doing  string         // what it does now
	Others []OtherHistory // its further histories
}

// OtherHistory is a further history of a bench: it went on from an older copy of itself.
type OtherHistory struct {
	Name  string // of its pages
	Words string
}

// Found is an entry of some bench that was searched for.
type Found struct {
	Bench string // of its pages
	Title string // how it is called
	Record
	// For people, without its build at hand; set by the page.
	Words, Where string
	Says         view.Text
}

// BenchesConfig is what a hub's monitor is made of: a page of all benches, and under /b/NAME/ the pages of each, to look at.
type BenchesConfig struct {
	Hub  string
	List func() []BenchRow
	// Doing says what each of the benches does that may be looked at, by name; it is asked when somebody looks at the list. It may
	// be nil.
	Doing func(ctx context.Context, may func(bench string) bool) (map[string]BenchNow, error)
	// Owner gives the bench that a history is of, by the name of its pages: who may see the bench may see it. It may be nil: a
	// bench has one history then, of its own name.
	Owner func(name string) string
	// Trouble says what is wrong at the hub itself; "" where nothing is. It may be nil.
	Trouble func() string
	// Open gives what a bench's pages are made of, and what ends it; false where there is no such bench. It is asked when
	// somebody looks, and ended when nobody has for a while: no state is held without a viewer.
	Open func(ctx context.Context, name string) (cfg Config, end func(), known bool, err error)
	// Search finds entries that say a text, over all benches that may be looked at, newest first.
	Search func(ctx context.Context, text string, may func(bench string) bool, most int) ([]Found, error)
	Builds AllBuilds
	// Histories follows dimensions of an engine over all benches.
	Histories AllHistories
	// LookCode is the hash of the code for all benches; Codes are those for one each. With no LookCode there is none to give,
	// and the pages are for this machine only.
	LookCode          string
	Codes             map[string]string
	Listen            string
	Hosts             []string
	CertFile, KeyFile string
	Logger            zerolog.Logger
	Now               func() time.Time
}

// Benches is a hub's monitor.
type Benches struct {
	cfg    BenchesConfig
	render *renderer
	assets map[string]asset
	hosts  hostList
	all    *access
	each   map[string]*access
	ctx    context.Context
	cancel context.CancelFunc

	mu     sync.Mutex
	opened map[string]*openedBench
}

// openedBench is a bench that somebody looks at.
type openedBench struct {
	server  *Server
	handler http.Handler
	end     func()
	looking int
	last    time.Time
}

const (
	mostOpened  = 32              // benches looked at side by side: each has its state in memory
	idleOpened  = 2 * time.Minute // after which one that nobody looks at is let go
	mostFound   = 100
	leastSearch = 3
)

// NewBenches checks the configuration. An error says what to change.
func NewBenches(cfg BenchesConfig) (*Benches, error) {
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if cfg.LookCode == "" && !isLoopback(cfg.Listen) {
		return nil, fmt.Errorf("monitor: listening on %s is open to others than this machine: set look_code first, or listen on %s", cfg.Listen, DefaultListen)
	}
	if cfg.LookCode == "" && len(cfg.Codes) > 0 {
		return nil, errors.New("monitor: codes for single benches want look_code beside them: without it every bench is open to all who reach the page")
	}
	b := &Benches{cfg: cfg, hosts: newHostList(Config{Hosts: cfg.Hosts}), each: map[string]*access{}, opened: map[string]*openedBench{}}
	var err error
	if b.all, err = b.access("", cfg.LookCode); err != nil {
		return nil, err
	}
	for name, code := range cfg.Codes {
		if b.each[name], err = b.access(name, code); err != nil {
			return nil, fmt.Errorf("code of bench %s: %w", name, err)
		}
	}
	if b.render, err = newRenderer(""); err == nil {
		b.assets, err = newAssets("")
	}
	if err != nil {
		return nil, fmt.Errorf("monitor: %w", err)
	}
	b.ctx, b.cancel = context.WithCancel(context.Background())
	return b, nil
}

// access is who may look at one bench, or at all of them. Its sessions end with the service.
func (b *Benches) access(name, code string) (*access, error) {
	sum := sha256.Sum256([]byte(code))
	a := &access{now: b.cfg.Now, log: b.cfg.Logger, secure: b.cfg.CertFile != "", wide: !isLoopback(b.cfg.Listen), cookieName: "thoud-hub-" + name,
		codes: hex.EncodeToString(sum[:]), sessions: sessions{}, checking: make(chan struct{}, 1)}
	if code == "" {
		return a, nil
	}
	h, err := parseHash(code)
	if err != nil {
		return nil, err
	}
	if h.short && a.wide {
		return nil, errShortCode
	}
	a.work = &h
	return a, nil
}

// may reports whether a request may see a bench.
func (b *Benches) may(r *http.Request, name string) bool {
	if b.all.role(r) != roleNone {
		return true
	}
	own := b.each[b.owner(name)]
	return own != nil && own.role(r) != roleNone
}

// owner is the bench that pages of a name belong to.
func (b *Benches) owner(name string) string {
	if b.cfg.Owner == nil {
		return name
	}
	return b.cfg.Owner(name)
}

// Handler serves the pages.
func (b *Benches) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", b.list)
	mux.HandleFunc("GET /search", b.search)
	mux.HandleFunc("GET /compare", b.sideBySide)
	mux.HandleFunc("GET /history", b.history)
	mux.HandleFunc("GET /login", func(w http.ResponseWriter, r *http.Request) { b.login(w, r, "") })
	mux.HandleFunc("POST /login", b.loginDo)
	mux.HandleFunc("GET /static/{file}", (&Server{cfg: Config{Logger: b.cfg.Logger}, assets: b.assets}).staticFile)
	mux.HandleFunc("/b/{bench}/", b.bench)
	s := &Server{hosts: b.hosts}
	return s.guarded(mux)
}

// benchesPage is what the hub's own pages show.
type benchesPage struct {
	Hub   string
	Fault string
	Rows  []BenchRow
	Text  string
	Found []Found
	Side  *sidePage
	Past  *view.HistoryData
	Bench string // whose code is asked for
	Codes bool   // there are codes for single benches
}

func (b *Benches) show(w http.ResponseWriter, r *http.Request, name string, p benchesPage) {
	p.Fault = view.Whole(p.Fault)
	p.Hub, p.Codes = b.cfg.Hub, len(b.cfg.Codes) > 0
	var out bytes.Buffer
	if err := b.render.t.Execute(&out, name, p); err != nil {
		b.fail(w, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if err := writeSmall(w, r, out.Bytes()); err != nil {
		b.cfg.Logger.Debug().Err(err).Str("page", name).Msg("page not sent")
	}
}

func (b *Benches) fail(w http.ResponseWriter, err error) {
	b.cfg.Logger.Error().Err(err).Msg("page failed")
	http.Error(w, "this page could not be made: "+err.Error(), http.StatusInternalServerError)
}

// rows are the benches that a request may see.
func (b *Benches) rows(r *http.Request) []BenchRow {
	var out []BenchRow
	for _, row := range b.cfg.List() {
		if b.may(r, row.Name) {
			out = append(out, row)
		}
	}
	return out
}

// sent reports whether a request was sent to the page of codes: it may see no bench.
func (b *Benches) sent(w http.ResponseWriter, r *http.Request, rows []BenchRow) bool {
	if len(rows) > 0 || b.all.role(r) != roleNone {
		return false
	}
	http.Redirect(w, r, "/login", http.StatusSeeOther)
	return true
}

func (b *Benches) list(w http.ResponseWriter, r *http.Request) {
	rows := b.rows(r)
	if b.sent(w, r, rows) {
		return
	}
	p := benchesPage{Rows: rows}
	if b.cfg.Doing != nil {
		doing, err := b.cfg.Doing(r.Context(), func(name string) bool { return b.may(r, name) })
		if err != nil {
			b.fail(w, err)
			return
		}
		for i := range rows {
			rows[i].BenchNow = doing[rows[i].Name]
		}
	}
	if b.cfg.Trouble != nil {
		p.Fault = b.cfg.Trouble()
	}
	b.show(w, r, "hub-list", p)
}

func (b *Benches) search(w http.ResponseWriter, r *http.Request) {
	if b.sent(w, r, b.rows(r)) {
		return
	}
	p := benchesPage{Text: strings.TrimSpace(r.URL.Query().Get("q"))}
	if len([]rune(p.Text)) < leastSearch {
		p.Fault = fmt.Sprintf("give at least %d letters to look for", leastSearch)
		b.show(w, r, "hub-search", p)
		return
	}
	var err error
	if p.Found, err = b.cfg.Search(r.Context(), p.Text, func(name string) bool { return b.may(r, name) }, mostFound); err != nil {
		b.fail(w, err)
		return
	}
	for i := range p.Found {
		f := &p.Found[i]
		at := f.Entry.Place
		at.Step = "" // its title is in the plan of its build, which is not folded for a list
		f.Words, f.Where, f.Says = view.Happened(f.Entry.Kind), view.Where(bench.State{}, at), view.Says(bench.State{}, f.Entry)
	}
	b.show(w, r, "hub-search", p)
}

func (b *Benches) login(w http.ResponseWriter, r *http.Request, fault string) {
	b.show(w, r, "hub-login", benchesPage{Fault: fault, Bench: r.FormValue("bench")})
}

func (b *Benches) loginDo(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	name := strings.TrimSpace(r.PostFormValue("bench"))
	who, to := b.all, "/"
	if name != "" {
		if who = b.each[name]; who == nil {
			who = b.all // a bench without a code of its own is opened by the one for all; so is one that is not there
		}
		to = "/b/" + url.PathEscape(name) + "/"
	}
	if who.open() {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	cookie, err := who.login(r.Context(), r.RemoteAddr, r.PostFormValue("code"))
	if err != nil {
		b.cfg.Logger.Warn().Str("from", r.RemoteAddr).Err(err).Msg("access code refused")
		w.WriteHeader(http.StatusForbidden)
		b.login(w, r, err.Error())
		return
	}
	http.SetCookie(w, cookie)
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// hubPath, under a bench's pages, leads back to the page of all benches.
const hubPath = "/hub"

// bench serves the pages of one bench. Nothing can be done there: they are to look at.
func (b *Benches) bench(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("bench")
	if r.URL.Path == "/b/"+name+hubPath {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	if !b.may(r, name) {
		http.Redirect(w, r, "/login?bench="+url.QueryEscape(b.owner(name)), http.StatusSeeOther)
		return
	}
	o, err := b.look(name)
	switch {
	case errors.Is(err, errNoBench):
		http.NotFound(w, r)
		return
	case errors.Is(err, errManyBenches):
		http.Error(w, err.Error(), http.StatusServiceUnavailable)
		return
	case err != nil:
		b.fail(w, err)
		return
	}
	defer b.leave(o)
	o.handler.ServeHTTP(w, r)
}

var (
	errNoBench     = errors.New("no such bench")
	errManyBenches = fmt.Errorf("%d benches are looked at already: try again in a few minutes", mostOpened)
)

func (b *Benches) look(name string) (*openedBench, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if o := b.opened[name]; o != nil {
		o.looking++
		return o, nil
	}
	if len(b.opened) >= mostOpened {
		return nil, errManyBenches
	}
	cfg, end, known, err := b.cfg.Open(b.ctx, name)
	if err == nil && !known {
		err = errNoBench
	}
	if err != nil {
		return nil, err
	}
	cfg.Root, cfg.LookOnly, cfg.Hosts, cfg.Logger = "/b/"+name, true, b.cfg.Hosts, b.cfg.Logger
	s, err := New(cfg)
	if err != nil {
		end()
		return nil, err
	}
	o := &openedBench{server: s, handler: http.StripPrefix(cfg.Root, s.Handler()), end: end, looking: 1, last: b.cfg.Now()}
	b.opened[name] = o
	return o, nil
}

func (b *Benches) leave(o *openedBench) {
	b.mu.Lock()
	defer b.mu.Unlock()
	o.looking--
	o.last = b.cfg.Now()
}

// letGo ends the benches that nobody has looked at for a while.
func (b *Benches) letGo(idle time.Duration) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for name, o := range b.opened {
		if o.looking == 0 && b.cfg.Now().Sub(o.last) >= idle {
			o.server.Close()
			o.end()
			delete(b.opened, name)
		}
	}
}

// Serve listens until ctx ends. started, where given, is told the address.
func (b *Benches) Serve(ctx context.Context, started func(net.Addr)) error {
	go func() {
		t := time.NewTicker(idleOpened / 4)
		defer t.Stop()
		for {
			select {
			case <-b.ctx.Done():
				return
			case <-t.C:
				b.letGo(idleOpened)
			}
		}
	}()
	return serve(ctx, serving{b.cfg.Listen, b.cfg.CertFile, b.cfg.KeyFile}, b.Handler(), b.Close, started)
}

// Close ends every stream and lets go of every bench.
func (b *Benches) Close() {
	b.cancel()
	b.mu.Lock()
	defer b.mu.Unlock()
	for name, o := range b.opened {
		o.server.Close()
		o.end()
		delete(b.opened, name)
	}
}
