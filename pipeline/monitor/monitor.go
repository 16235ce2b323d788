// Package monitor is the shop monitor: web pages that show what the bench is doing and ask things of it. It is one more
// consumer: it computes no figure, it stores nothing, and a slow screen never holds up the bench. Pages are rendered
// here, from the state and the results, and kept up to date over one event stream a page; every text of a gauge, a plan
// or a person is escaped by package markup.
package monitor

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// Bench is what the monitor shows and asks.
type Bench interface {
	State() bench.State
	Results() bench.Results
	Scene() bench.Scene       // all that the bench's rules ask for, as far as it is in the ledger
	Live() []bench.Live       // the newest of each gauge
	Troubles() []bench.Notice // those that stand
	// Watch tells what changed until ctx ends. The channel may drop what a newer event makes old; it is closed at the end.
	Watch(ctx context.Context) <-chan Event
	Do(ctx context.Context, v bench.Verb) bench.Answer
}

// Event is one change; just one field is set.
type Event struct {
	Outcome *bench.Outcome // state or results changed, after the commit
	Live    *bench.Live
	Notice  *bench.Notice
}

// Archive answers for the ledger's pages. Nil where there is none: those pages then say so.
type Archive interface {
	// Entries lists the entries that match, newest first, at most f.Limit.
	Entries(ctx context.Context, f Filter) ([]Record, error)
	// EntryOf gives the entry of an id; an error that wraps ErrNoEntry where there is none.
	EntryOf(ctx context.Context, id string) (Record, error)
	// Using lists the results, old ones too, that used the reading of this id.
	Using(ctx context.Context, id string) ([]bench.Result, error)
	// Builds lists the newest builds that were begun before an entry, at most so many, in the order they were started, with
	// what was reckoned of them last.
	Builds(ctx context.Context, before uint64, most int) ([]view.Listed, error)
	// Open gives the open builds of which something may be due now, in memory or not, with their results in force.
	Open(ctx context.Context, sc bench.Scene) ([]*bench.Build, bench.Results, error)
	// Seatings gives the repeated seatings of builds that are not in memory, by job, and of how many builds they are not
	// reckoned up yet.
	Seatings(ctx context.Context, jobs []string) (all map[string][]bench.Seating, left int, err error)
	// Findings gives the figures of such builds that their plans want shown, as Seatings does.
	Findings(ctx context.Context, jobs []string) (all map[string][]bench.Finding, left int, err error)
	// Build folds one build, in memory or not, and gives its results in force.
	Build(ctx context.Context, job string) (*bench.Build, bench.Results, error)
	// Engine folds the record of an engine; of one that nothing was kept of it is empty.
	Engine(ctx context.Context, engine string) (*bench.Engine, error)
}

// Foresight computes what a change would bring before it is kept. Nil where there is none: changes are then kept unseen.
type Foresight interface {
	// WhatIf supposes changes to an open build as a person types them, NAME=VALUE.
	WhatIf(ctx context.Context, job string, texts []string, sure bool) (bench.Preview, error)
	// Before shows what a verb that keeps values of an engine would bring to its open builds.
	Before(ctx context.Context, v bench.Verb) (bench.Preview, error)
}

// ErrNoEntry marks an entry that is not in the ledger.
var ErrNoEntry = errors.New("no such entry in the ledger")

// Filter says which entries are wanted; an empty field matches all.
type Filter struct {
	Build, Step, Gauge string
	Kind               bench.Kind
	Text               string // anywhere in what was read, said or named
	From, To           uint64 // first and last number; To 0 = the newest
	Limit              int
}

// Record is one entry with its bytes as published and its seal.
type Record struct {
	Entry bench.Entry
	Body  []byte
	Seal  bench.Seal
}

// Sheets writes build sheets; nil where there are none.
type Sheets interface {
	Sheet(ctx context.Context, asked SheetAsked, w io.Writer) error
}

// SheetAsked says which sheet is wanted: format "html", "pdf", "csv" or "json", system "inch" or "mm", and whether with
// every reading at its end.
type SheetAsked struct {
	Job, Format, System string
	Readings            bool
}

// Finder finds what is plugged in and how gauges speak. Nil where there is none: gauges are then registered by command.
type Finder interface {
	Ports(ctx context.Context) ([]Port, error)
	Profiles() []string
	// Identify listens at a port and gives a gauge ready to be registered, but for its name and role. It may take its
	// time and tells how far it is.
	Identify(ctx context.Context, path string, progress func(done, total int, words string)) (bench.Gauge, error)
}

// Keeper looks after the ledger. Nil where there is none: the pages then offer neither.
type Keeper interface {
	// Verify checks the whole ledger and says in words what it found.
	Verify(ctx context.Context, progress func(done, total int)) (words string, err error)
	// Backup copies the ledger and says where to.
	Backup(ctx context.Context, progress func(done, total int)) (words string, err error)
}

// Port is a socket that something is plugged into.
type Port struct {
	Path     string
	Known    bench.Known
	Identity string
	Adapter  string
}

// Config is what a monitor is made of.
type Config struct {
	Bench     Bench
	Archive   Archive
	Sheets    Sheets
	Finder    Finder
	Keeper    Keeper
	Guide     Guide
	Teacher   Teacher
	Foresight Foresight
	// Plans are the shop's own; nil where none can be kept.
	Plans Plans
	// Histories looks into the past of an engine; nil where nothing can.
	Histories Histories
	Aim       view.Aim // tells the way of a part before its first reading; nil where nothing does
	// Listen is where to listen; DefaultListen where empty. An address that is not loopback needs WorkCode.
	Listen string
	// WorkCode and LookCode are hashes made by HashCode: who knows the first may work, who knows the second may look.
	// With neither everyone who can reach the page may work.
	WorkCode, LookCode string
	Watched            Watched
	// Root is under which path the pages are served, as "/b/lathe"; empty where they have the host to themselves.
	Root string
	// LookOnly shows and lets nobody work, whatever codes there are: it asks for none itself.
	LookOnly bool
	// Sessions is the file in which sessions outlive a restart; none where empty.
	Sessions string
	// Hosts are further names the page may be asked for by (a name of the shop's own network); addresses and localhost
	// are always known.
	Hosts []string
	// CertFile and KeyFile turn TLS on.
	CertFile, KeyFile string
	// Pedal is the key that the pedal types, as the browser names it ("F9", "b", "PageDown"); DefaultPedal where empty.
	Pedal  string
	Logger zerolog.Logger
	Now    func() time.Time
}

// What holds where the configuration says nothing.
const (
	DefaultListen = "127.0.0.1:8750"
	DefaultPedal  = "PageDown"
)

// Server is the shop monitor. New makes one; Serve or Handler puts it to work; Close ends it.
type Server struct {
	cfg     Config
	hub     *hub
	access  *access
	render  *renderer
	assets  map[string]asset
	hosts   hostList
	streams crowd
	plans   knownPlans
	ctx     context.Context // ends the streams
	cancel  context.CancelFunc
	done    chan struct{}
}

// New checks the configuration and starts watching the bench. An error says what to change.
func New(cfg Config) (*Server, error) {
	if cfg.Bench == nil {
		return nil, errors.New("monitor: no bench to show")
	}
	if cfg.Listen == "" {
		cfg.Listen = DefaultListen
	}
	if cfg.Pedal == "" {
		cfg.Pedal = DefaultPedal
	}
	if cfg.Now == nil {
		cfg.Now = time.Now
	}
	if (cfg.CertFile == "") != (cfg.KeyFile == "") {
		return nil, errors.New("monitor: TLS needs both a certificate file and a key file")
	}
	if cfg.WorkCode == "" && !isLoopback(cfg.Listen) {
		return nil, fmt.Errorf("monitor: listening on %s is open to others than this machine: set an access code first, or listen on %s", cfg.Listen, DefaultListen)
	}
	acc, err := newAccess(cfg)
	if err != nil {
		return nil, err
	}
	r, err := newRenderer(cfg.Root)
	if err != nil {
		return nil, fmt.Errorf("monitor: %w", err)
	}
	assets, err := newAssets(cfg.Root)
	if err != nil {
		return nil, fmt.Errorf("monitor: %w", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	s := &Server{cfg: cfg, access: acc, render: r, assets: assets, hosts: newHostList(cfg),
		streams: crowd{what: "live pages", inAll: streamsInAll, ofOne: streamsOfOne}, ctx: ctx, cancel: cancel, done: make(chan struct{})}
	s.hub = newHub(cfg, r)
	events := cfg.Bench.Watch(ctx)
	go func() {
		defer close(s.done)
		s.hub.run(ctx, events)
	}()
	return s, nil
}

// Handler serves the pages.
func (s *Server) Handler() http.Handler { return s.guarded(s.routes()) }

// Serve listens until ctx ends, then ends the streams and closes. started, where given, is told the address.
func (s *Server) Serve(ctx context.Context, started func(addr net.Addr)) error {
	return serve(ctx, serving{s.cfg.Listen, s.cfg.CertFile, s.cfg.KeyFile}, s.Handler(), s.Close, started)
}

// serving is where pages are served, and by which certificate.
type serving struct{ listen, certFile, keyFile string }

// serve listens until ctx ends; then end ends the streams.
func serve(ctx context.Context, at serving, pages http.Handler, end func(), started func(addr net.Addr)) error {
	l, err := net.Listen("tcp", at.listen)
	if err != nil {
		return fmt.Errorf("monitor: listen on %s: %w; is another service on it? choose another address", at.listen, err)
	}
	l = newBoundListener(l, at.certFile != "")
	if started != nil {
		started(l.Addr())
	}
	srv := &http.Server{
		Handler: pages, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 30 * time.Second,
		WriteTimeout: 60 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 32 << 10,
	}
	ended := make(chan error, 1)
	go func() {
		if at.certFile != "" {
			ended <- srv.ServeTLS(l, at.certFile, at.keyFile)
			return
		}
		ended <- srv.Serve(l)
	}()
	select {
	case err := <-ended:
		end()
		return fmt.Errorf("monitor: %w", err)
	case <-ctx.Done():
	}
	end() // streams end first, or Shutdown would wait for them
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	if err := srv.Shutdown(stop); err != nil {
		return fmt.Errorf("monitor: %w", errors.Join(err, srv.Close()))
	}
	return nil
}

// Close ends every stream and stops watching the bench.
func (s *Server) Close() {
	s.cancel()
	<-s.done
}

func isLoopback(listen string) bool {
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		return false
	}
	if strings.EqualFold(host, "localhost") {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}
