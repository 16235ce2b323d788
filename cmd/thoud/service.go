package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/rs/zerolog"
	"golang.org/x/sync/errgroup"

	"thoud/capture"
	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/devices"
	"thoud/pipeline"
	"thoud/pipeline/bus"
	"thoud/pipeline/monitor"
	"thoud/store"
)

// service is everything that thoud run holds together.
type service struct {
	dir    string
	cfg    config
	log    zerolog.Logger
	listen string                     // of the monitor; "" for none
	ready  func(monitorAddr net.Addr) // told once everything runs
}

// busyPatience is how long a verb waits for the bench before it is told to ask again.
const busyPatience = 5 * time.Second

// statusPatience is how long a status waits for the ledger to catch up with the bench.
const statusPatience = 500 * time.Millisecond

// keepInStream is how many recorded entries stay in the stream, so that a ledger restored from a copy catches up.
const keepInStream = 100_000

// run keeps the service until ctx ends. It starts store, bus, recorder, bench, socket, monitor, and stops them in the
// reverse order; the first error is kept.
func (s *service) run(ctx context.Context) (err error) {
	lock, err := lockState(s.dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lock.Close()) }()
	if err := line.LimitDescriptors(); err != nil {
		return err
	}
	profiles, err := loadProfiles(filepath.Join(s.dir, profilesFolder))
	if err != nil {
		return err
	}
	ledger, err := store.Open(ctx, filepath.Join(s.dir, ledgerName))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, ledger.Close()) }()
	if name, err := ledger.Bench(ctx); err != nil {
		return err
	} else if name != "" && name != s.cfg.Bench {
		return fmt.Errorf("the ledger in %s is bench %q's, %s names %q: set bench = %q, or give another --state", s.dir, name, configName, s.cfg.Bench, name)
	}
	loaded, err := ledger.Load(ctx, s.cfg.Bench)
	if err != nil {
		return err
	}
	for _, odd := range loaded.Odd {
		s.log.Warn().Str("entry", odd).Msg("entry means nothing where it stands")
	}
	b, err := bus.Start(ctx, bus.Config{Bench: s.cfg.Bench, Dir: filepath.Join(s.dir, busFolder), Log: s.log})
	if err != nil {
		return err
	}
	defer b.Close()
	return s.record(ctx, ledger, loaded, b, profiles)
}

// record drains the stream into the ledger, then runs the bench, the recorder, the socket and the monitor side by side.
func (s *service) record(ctx context.Context, ledger *store.Store, loaded store.Loaded, b *bus.Server, profiles map[string]devices.Profile) error {
	d := newDesk(b, loaded.State, loaded.Results)
	rec := &pipeline.Recorder{
		Ledger: benchLedger{ledger, s.cfg.Bench}, Log: s.log, Wait: line.Backoff, Keep: keepInStream,
		State: loaded.State, Chain: loaded.Chain, Results: loaded.Results,
		Tell: func(bench.Outcome) {},
		Alarm: func(source, words string) {
			d.Notice(bench.Notice{At: time.Now().UnixMicro(), Tone: "fault", Source: source, Words: words, Stands: words != ""})
		},
	}
	at := pipeline.Position{Generation: loaded.Checkpoint.Generation, Seq: loaded.Checkpoint.Seq}
	drain, err := b.Feed(ctx, at, true)
	if err != nil {
		return err
	}
	if err := rec.Run(ctx, drain); err != nil {
		return err
	}
	drain.Close()
	loop := s.bench(rec, b, d, profiles)
	d.settle(loop, rec.State, rec.Results)
	feed, err := b.Feed(ctx, drained(at, drain), false)
	if err != nil {
		return err
	}
	defer feed.Close()
	return s.together(ctx, rec, feed, loop, d, b, ledger)
}

// drained is the position after a drain.
func drained(at pipeline.Position, f *bus.Feed) pipeline.Position {
	if last := f.Last(); last > 0 {
		return pipeline.Position{Generation: f.Generation(), Seq: last}
	}
	return at
}

func (s *service) bench(rec *pipeline.Recorder, b *bus.Server, d *desk, profiles map[string]devices.Profile) *capture.Loop {
	loop := capture.NewLoop(s.cfg.Bench, rec.State, rec.Chain, rec.Results)
	loop.Log, loop.Tell, loop.Profiles, loop.Logger = b, d, profiles, s.log
	loop.NewID, loop.Boot, loop.ClockOK = newID, bootID(), clockOK
	loop.Lockout = s.cfg.lockout()
	for key, verb := range s.cfg.Keys {
		loop.Keys[key] = verb
	}
	return loop
}

// together runs what belongs together; when one part fails the others end too. The order of stopping is: no more
// verbs, the bench makes its last entry safe, the recorder stores it.
func (s *service) together(ctx context.Context, rec *pipeline.Recorder, feed *bus.Feed, loop *capture.Loop, d *desk, b *bus.Server, ledger *store.Store) error {
	recording, stopRecording := context.WithCancel(context.WithoutCancel(ctx))
	defer stopRecording()
	rec.Tell = func(o bench.Outcome) {
		loop.Outcome(recording, o)
		d.committed(rec.State, rec.Results, o)
	}
	var recorder errgroup.Group
	recorder.Go(func() error {
		if err := rec.Run(recording, feed); err != nil && recording.Err() == nil {
			return err
		}
		return nil
	})
	g, gctx := errgroup.WithContext(ctx)
	g.Go(func() error { return loop.Run(gctx) })
	stopVerbs, err := b.ServeVerbs(loop.Do, busyPatience)
	if err != nil {
		return err
	}
	defer stopVerbs()
	stopAsks, err := b.ServeStatus(func() bench.Status {
		// Who was told that a verb is done shall see it done: wait for the ledger, but not for one that cannot be written.
		waitFor(statusPatience, func() bool { return d.State().N >= loop.State().N })
		return d.status()
	})
	if err != nil {
		return err
	}
	defer stopAsks()
	path, mode := socketPath(s.dir)
	sock, err := b.Listen(path, mode)
	if err != nil {
		return err
	}
	if s.listen != "" {
		g.Go(func() error { return s.monitor(gctx, d, ledger, loop.Profiles) })
	} else if s.ready != nil {
		s.ready(nil)
	}
	err = g.Wait()
	err = errors.Join(err, sock.Close())
	// The last entry is on the bus; give the recorder a moment to store it. What it does not reach is drained at start.
	waitFor(2*time.Second, func() bool { return d.State().N >= loop.State().N })
	stopRecording()
	return errors.Join(err, recorder.Wait())
}

func (s *service) monitor(ctx context.Context, d *desk, ledger *store.Store, profiles map[string]devices.Profile) error {
	m, err := monitor.New(monitor.Config{
		Bench: screen{d}, Archive: archive{ledger, s.cfg.Bench}, Sheets: sheets{ledger, s.cfg.Bench}, Finder: finder{profiles}, Keeper: keeper{ledger, s.cfg.Bench, s.dir}, Listen: s.listen,
		WorkCode: s.cfg.Monitor.WorkCode, LookCode: s.cfg.Monitor.LookCode, Hosts: s.cfg.Monitor.Hosts,
		CertFile: s.cfg.Monitor.TLSCert, KeyFile: s.cfg.Monitor.TLSKey, Pedal: s.cfg.Monitor.Pedal, Logger: s.log,
	})
	if err != nil {
		return err
	}
	return m.Serve(ctx, func(a net.Addr) {
		s.log.Info().Str("address", "http://"+a.String()).Msg("monitor")
		if s.ready != nil {
			s.ready(a)
		}
	})
}

func waitFor(patience time.Duration, done func() bool) {
	for end := time.Now().Add(patience); !done() && time.Now().Before(end); {
		time.Sleep(2 * time.Millisecond)
	}
}

// benchLedger is the store as the recorder wants it.
type benchLedger struct {
	s     *store.Store
	bench string
}

// Record stores an entry with what came of it.
func (l benchLedger) Record(ctx context.Context, e bench.Entry, body []byte, seal bench.Seal, results []bench.Result, at pipeline.Position) error {
	return l.s.Record(ctx, l.bench, e, body, seal, results, store.Checkpoint(at))
}

// Quarantine sets a message aside.
func (l benchLedger) Quarantine(ctx context.Context, body []byte, why string, at pipeline.Position) error {
	return l.s.Quarantine(ctx, l.bench, body, why, store.Checkpoint(at))
}

// Has reports whether an entry is stored.
func (l benchLedger) Has(ctx context.Context, id string) (bool, error) {
	return l.s.Has(ctx, l.bench, id)
}

// loadProfiles reads the profiles that ship and those in the folder of the user's own, where there is one.
func loadProfiles(dir string) (map[string]devices.Profile, error) {
	var own fs.FS
	if _, err := os.Stat(dir); err == nil {
		own = os.DirFS(dir)
	}
	list, err := devices.Profiles(own)
	if err != nil {
		return nil, fmt.Errorf("profiles in %s: %w", dir, err)
	}
	out := map[string]devices.Profile{}
	for _, p := range list {
		out[p.Name] = p
	}
	return out, nil
}

// newID makes a UUIDv7: ids sort by time.
func newID() string {
	id, err := uuid.NewV7()
	if err != nil {
		return uuid.NewString()
	}
	return id.String()
}

// bootID tells one start of the machine from the next; "" where the system does not say, and then no zero outlives a
// restart of the service.
func bootID() string {
	b, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
		return newID()
	}
	return strings.TrimSpace(string(b))
}

// clockOK is false while the clock cannot be right: before this program was written.
func clockOK() bool { return time.Now().Year() >= 2025 }
