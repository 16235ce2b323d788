// Package service holds together what thoud run runs: the settings and the state folder, the ledger, the embedded bus,
// the recorder, the bench loop, the socket for commands and the shop monitor. The adapters of capture, pipeline and store
// never import one another; this is where they meet, each behind the interface that the other side declares. It decides
// nothing about a build and computes nothing: the rules are in capture/bench, the figures in calc.
//
// Starting has one order and stopping the reverse of it. The ledger is opened and folded, the stream is drained into it,
// and only then do ports open: a bench that began to read from an older state would take the first reading at the wrong
// place. At the end verbs stop first, the bench makes its last entry safe, the recorder stores it, and the ledger closes
// last. It refuses a state folder that another service uses, and a ledger of another bench.
package service

import (
	"context"
	"errors"
	"fmt"
	"net"
	"path/filepath"
	"time"

	"github.com/rs/zerolog"
	"golang.org/x/sync/errgroup"

	"thoud/capture"
	"thoud/capture/bench"
	"thoud/capture/line"
	"thoud/devices"
	"thoud/pipeline"
	"thoud/pipeline/bus"
	"thoud/pipeline/monitor/view"
	"thoud/store"
)

// Service is one bench's service. Set the fields, then Run it.
type Service struct {
	Dir      string // the state folder; it is made where it is not there
	Settings Settings
	Log      zerolog.Logger
	Listen   string                     // of the monitor; "" for none
	Ready    func(monitorAddr net.Addr) // told once everything runs; nil where there is no monitor
	// Ahead is how far the bench's clock runs ahead of the machine's, for a demonstration that does not wait for what cures; nil
	// for not at all.
	Ahead func() time.Duration
	// Starting hears how far a long start is, in words; it may be nil.
	Starting func(words string)
}

// busyPatience is how long a verb waits for the bench before it is told to ask again.
const busyPatience = 5 * time.Second

// statusPatience is how long a status waits for the ledger to catch up with the bench.
const statusPatience = 500 * time.Millisecond

// keepInStream is how many recorded entries stay in the stream, so that a ledger restored from a copy catches up.
const keepInStream = 100_000

// Run keeps the service until ctx ends. It starts store, bus, recorder, bench, socket, monitor, and stops them in the
// reverse order; the first error is kept.
func (s *Service) Run(ctx context.Context) (err error) {
	s.Log.Info().Str("version", Version()).Str("bench", s.Settings.Bench).Str("state", s.Dir).Msg("thoud begins")
	lock, err := Lock(s.Dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lock.Close()) }()
	if err := line.LimitDescriptors(); err != nil {
		return err
	}
	profiles, err := LoadProfiles(filepath.Join(s.Dir, ProfilesFolder))
	if err != nil {
		return err
	}
	ledger, err := store.Open(ctx, filepath.Join(s.Dir, LedgerName), store.Telling(s.stillStarting))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, ledger.Close()) }()
	if name, err := ledger.Bench(ctx); err != nil {
		return err
	} else if name != "" && name != s.Settings.Bench {
		return fmt.Errorf("the ledger in %s is bench %q's, %s names %q: set bench = %q, or give another --state", s.Dir, name, SettingsName, s.Settings.Bench, name)
	}
	if lines, err := ledger.Lines(ctx); err != nil {
		return err
	} else if len(lines) > 0 {
		return fmt.Errorf("the ledger in %s is a hub's: run it with thoud hub, and give the bench another --state", s.Dir)
	}
	loaded, err := ledger.Load(ctx, s.Settings.Bench)
	if err != nil {
		return err
	}
	if loaded.Whole != "" && loaded.Chain.N > 0 {
		s.Log.Info().Str("why", loaded.Whole).Uint64("entries", loaded.Chain.N).Msg("every entry was read")
	}
	for _, odd := range loaded.Odd {
		s.Log.Warn().Str("entry", odd).Msg("entry means nothing where it stands")
	}
	raw, err := bus.RawEntries(filepath.Join(s.Dir, BusFolder), s.Settings.Bench)
	if err != nil {
		return err
	}
	joined, err := Joined(s.Dir)
	if err != nil {
		return err
	}
	links, err := leaves(joined)
	if err != nil {
		return err
	}
	b, err := bus.Start(ctx, bus.Config{Bench: s.Settings.Bench, Dir: filepath.Join(s.Dir, BusFolder), Log: s.Log, Synced: benchLedger{s: ledger}.Synced, Leaves: links})
	if err != nil {
		return err
	}
	defer b.Close()
	return s.record(ctx, ledger, loaded, raw, b, newHubLinks(s, joined, ledger, b), profiles)
}

// stillStarting tells how far a long start is.
func (s *Service) stillStarting(what string, done, total int) {
	if s.Starting != nil {
		s.Starting(fmt.Sprintf("%s: %d of %d", what, done, total))
	}
}

// record drains the stream into the ledger, then runs the bench, the recorder, the socket and the monitor side by side.
func (s *Service) record(ctx context.Context, ledger *store.Store, loaded store.Loaded, raw []bus.RawEntry, b *bus.Server, hubs *hubLinks, profiles map[string]devices.Profile) error {
	d := newLiveFeed(b, loaded.State, loaded.Results)
	d.whole = func(ctx context.Context, job, step string) ([]bench.Result, error) {
		return ledger.StepResults(ctx, s.Settings.Bench, job, step)
	}
	d.log = s.Log
	secret, public, err := signingKey(s.Dir, s.Settings.Bench)
	if err != nil {
		return fmt.Errorf("key of notes: %w", err)
	}
	signs := &notes{ledger: ledger, bench: s.Settings.Bench, dir: s.Dir, secret: secret, public: public, log: s.Log, now: time.Now}
	keep := newSnapshots(ledger, s.Settings.Bench, s.Log)
	rec := &pipeline.Recorder{
		Ledger: benchLedger{ledger, s.Settings.Bench, d.metrics}, Log: s.Log, Wait: line.Backoff, Keep: keepInStream, Snapshot: keep.later, Fold: ledger.Fold(),
		State: loaded.State, Chain: loaded.Chain, Results: loaded.Results,
		Tell: func(bench.Outcome) {},
		Alarm: func(source, words string) {
			d.onNotice(bench.Notice{At: time.Now().UnixMicro(), Tone: "fault", Source: source, Words: words, Stands: words != ""})
		},
	}
	holds, err := b.Holds(ctx)
	if err != nil {
		return err
	}
	at := startOf(loaded)
	drain, err := b.Feed(ctx, at, true)
	if err != nil {
		return err
	}
	if err := rec.Run(ctx, drain); err != nil {
		return err
	}
	drain.Close()
	found := make([]pipeline.Found, len(raw))
	for i, f := range raw {
		found[i] = pipeline.Found(f)
	}
	delivered := rec.Chain.N
	if err := rec.Rescue(ctx, found, drained(at, drain)); err != nil {
		return err
	}
	for _, t := range heldAgainst(loaded, holds, delivered, rec.Chain, rec.SetAside(), s.backups()) {
		s.Log.Error().Str("what", t.Source).Msg(t.Words)
		d.onNotice(t)
	}
	for _, t := range hubs.takeBack(ctx, rec, drained(at, drain)) {
		d.onNotice(t)
	}
	if t, short := shortOfNotes(s.Dir, rec.Chain); short {
		s.Log.Error().Str("what", t.Source).Msg(t.Words)
		d.onNotice(t)
	}
	from := drained(at, drain)
	if lacks(loaded, holds, rec.SetAside()) {
		again, told, err := s.putBack(ctx, ledger, b)
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			s.Log.Error().Err(err).Msg("what the stream has lost is in the ledger and was not put back; it is tried again at the next start")
		default:
			from = again
			s.Log.Warn().Msg(told.Words)
			d.onNotice(told)
		}
	}
	loop := s.bench(archive{ledger, s.Settings.Bench}, public, rec, b, d, profiles)
	d.begin(loop, rec.State, rec.Results)
	feed, err := b.Feed(ctx, from, false)
	if err != nil {
		return err
	}
	defer feed.Close()
	err = s.together(ctx, rec, feed, loop, d, b, ledger, signs, hubs)
	keep.last(rec.State, rec.Chain, rec.Results)
	signs.make(context.WithoutCancel(ctx))
	return err
}

// drained is the position after a drain.
func drained(at pipeline.Position, f *bus.Feed) pipeline.Position {
	if last := f.Last(); last > 0 {
		return pipeline.Position{Generation: f.Generation(), Seq: last}
	}
	return at
}

func (s *Service) bench(from archive, key string, rec *pipeline.Recorder, b *bus.Server, d *liveFeed, profiles map[string]devices.Profile) *capture.Loop {
	loop := capture.NewLoop(s.Settings.Bench, rec.State, rec.Chain, rec.Results)
	loop.Log, loop.Publisher, loop.Profiles, loop.Logger = timedLog{b, d.metrics}, publisher{d}, profiles, s.Log
	loop.NewID, loop.Boot, loop.Up, loop.ClockOK = NewID, bootID(), upTime, ClockOK
	if s.Ahead != nil {
		loop.Now = func() time.Time { return time.Now().Add(s.Ahead()) }
		loop.Up = func() int64 { return upTime() + s.Ahead().Microseconds() }
	}
	loop.Lockout, loop.Taught = s.Settings.lockout(), make(chan devices.Profile)
	loop.Load, loop.LoadRecord, loop.Fold = from.Build, from.Engine, rec.Fold
	loop.Namings = func(st bench.State) []bench.Entry {
		texts := map[string]string{}
		for name, p := range profiles {
			texts[name] = string(p.TOML())
		}
		return bench.Namings(st, bench.RulesNow(Version()), texts, key)
	}
	for key, verb := range s.Settings.Keys {
		loop.Keys[key] = verb
	}
	return loop
}

// together runs what belongs together; when one part fails the others end too. The order of stopping is: no more
// verbs, the bench makes its last entry safe, the recorder stores it.
func (s *Service) together(ctx context.Context, rec *pipeline.Recorder, feed *bus.Feed, loop *capture.Loop, d *liveFeed, b *bus.Server, ledger *store.Store, signs *notes, hubs *hubLinks) error {
	recording, stopRecording := context.WithCancel(context.WithoutCancel(ctx))
	defer stopRecording()
	rec.Tell = func(o bench.Outcome) {
		told := o
		told.Results = bench.Light(o.Results)
		loop.Outcome(recording, told)
		d.onOutcome(rec.State, rec.Results, o)
		signs.after(rec.State, o)
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
	g.Go(func() error {
		if err := fillKept(gctx, ledger, s.Settings.Bench); err != nil && gctx.Err() == nil {
			s.Log.Warn().Err(err).Msg("some builds are listed without how far they are, and pages of many builds reckon them anew")
		}
		return nil
	})
	if s.Settings.Backup != "" {
		daily := dailyBackup{ledger: ledger, name: s.Settings.Bench, lines: ownLine(s.Settings.Bench), dir: s.Dir, folder: s.Settings.Backup, settings: SettingsName, now: time.Now, note: signs.make, notice: d.onNotice, log: s.Log}
		g.Go(func() error { daily.run(gctx); return nil })
	}
	stopVerbs, err := b.ServeVerbs(d.Do, busyPatience)
	if err != nil {
		return err
	}
	defer stopVerbs()
	stopAsks, err := b.ServeStatus(func() bench.Status {
		// Who was told that a verb is done shall see it done: wait for the ledger, but not for one that cannot be written.
		waitFor(gctx, statusPatience, func() bool { return d.State().N >= loop.State().N })
		st := d.status()
		st.Hubs = hubs.status()
		return st
	})
	if err != nil {
		return err
	}
	defer stopAsks()
	stopHubs, err := hubs.serve(signs.secret, func() []bench.Notice { return view.Standing(d.Scene(), d.Troubles()) })
	if err != nil {
		return err
	}
	defer stopHubs()
	path, mode := SocketPath(s.Dir)
	sock, err := b.Listen(path, mode)
	if err != nil {
		return err
	}
	if s.Listen != "" {
		known := &profileList{of: loop.Profiles, tell: func(p devices.Profile) {
			select {
			case loop.Taught <- p:
			case <-gctx.Done():
			}
		}}
		g.Go(func() error { return s.serveMonitor(gctx, d, b, ledger, known, signs) })
	} else if s.Ready != nil {
		s.Ready(nil)
	}
	err = g.Wait()
	err = errors.Join(err, sock.Close())
	// The last entry is on the bus; give the recorder a moment to store it. What it does not reach is drained at start.
	waitFor(context.WithoutCancel(ctx), 2*time.Second, func() bool { return d.State().N >= loop.State().N })
	stopRecording()
	return errors.Join(err, recorder.Wait())
}

// waitFor waits until something is done, patience or ctx ends.
func waitFor(ctx context.Context, patience time.Duration, done func() bool) {
	for end := time.Now().Add(patience); !done() && time.Now().Before(end) && ctx.Err() == nil; {
		time.Sleep(2 * time.Millisecond)
	}
}
