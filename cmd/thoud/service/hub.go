package service

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/rs/zerolog"
	"golang.org/x/sync/errgroup"

	"thoud/pipeline/hub"
	"thoud/store"
)

// Hub keeps the copies of several benches in one ledger. Set the fields, then Run it.
type Hub struct {
	Dir      string // the state folder; it is made where it is not there
	Settings HubSettings
	Log      zerolog.Logger
	// Ready is told once benches can link, with the address they link to; "" where others' servers carry the links.
	Ready func(address string)
	// Shown is told where the pages are; it may be nil.
	Shown func(net.Addr)
	// Told hears what the hub knows of its benches now and then; it may be nil.
	Told func([]hub.Report)
}

// forksFolder holds, while the hub runs, further histories as they are read; it can be thrown away at any time.
const forksFolder = "histories"

// invitedEvery is how often the hub looks whether somebody was invited.
const invitedEvery = time.Second

// Run keeps the hub until ctx ends.
func (h *Hub) Run(ctx context.Context) (err error) {
	h.Log.Info().Str("version", Version()).Str("hub", h.Settings.Name).Str("state", h.Dir).Msg("thoud hub begins")
	lock, err := Lock(h.Dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, lock.Close()) }()
	ledger, err := store.Open(ctx, filepath.Join(h.Dir, LedgerName))
	if err != nil {
		return hubFault(err)
	}
	defer func() { err = errors.Join(err, ledger.Close()) }()
	if name, err := ledger.Bench(ctx); err != nil {
		return err
	} else if name != "" {
		return fmt.Errorf("the ledger in %s is bench %q's own: a hub keeps another; give another --state", h.Dir, name)
	}
	asOf := h.invitedAt() // before they are read: who is invited meanwhile is then seen as new
	benches, err := h.invited()
	if err != nil {
		return err
	}
	nc, invite, address, stop, err := h.connect(benches)
	if err != nil {
		return err
	}
	defer stop()
	defer nc.Close()
	kept := newHubLedger(ledger)
	defer kept.close()
	pulls := &hub.Hub{Name: h.Settings.Name, Conn: nc, Ledger: kept, Poll: h.Settings.poll(), Log: h.Log, Now: time.Now}
	if err := pulls.Open(ctx); err != nil {
		return err
	}
	defer pulls.Close()
	if err := pulls.Invite(ctx, benches); err != nil {
		return err
	}
	if h.Ready != nil {
		h.Ready(address)
	}
	g, gctx := errgroup.WithContext(ctx)
	trouble := &hubTrouble{}
	g.Go(func() error { return h.watch(gctx, pulls, trouble, asOf, invite) })
	if h.Settings.Backup != "" {
		daily := h.daily(ledger, trouble)
		g.Go(func() error { daily.run(gctx); return nil })
	}
	if h.Settings.Monitor.Listen != "" {
		var forks *Forks
		if forks, err = NewForks(ledger, filepath.Join(h.Dir, forksFolder)); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, forks.Close()) }()
		screen := &hubScreen{h: h, trouble: trouble, ledger: ledger, nc: nc, pulls: pulls, forks: forks, doing: NewDoings(forks)}
		g.Go(func() error { return screen.serve(gctx) })
	}
	return g.Wait()
}

// watch takes in who was invited since the invitations of a moment were read, and tells how the benches stand.
func (h *Hub) watch(ctx context.Context, pulls *hub.Hub, trouble *hubTrouble, last time.Time, invite func(map[string]string) error) error {
	t := time.NewTicker(invitedEvery)
	defer t.Stop()
	report := newReporter(h.Dir, h.Settings.Name)
	said := "" // the same is not said every second
	write := func(running bool) {
		words := ""
		if err := report.write(time.Now(), pulls.Reports(), trouble.get(), running); err != nil {
			words = err.Error()
		}
		if words != "" && words != said {
			h.Log.Warn().Msg("how the benches stand was not written: " + words)
		}
		said = words
	}
	defer write(false)
	write(true)
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-t.C:
		}
		write(true)
		if h.Told != nil {
			h.Told(pulls.Reports())
		}
		at := h.invitedAt()
		if at.Equal(last) {
			continue
		}
		benches, err := h.invited()
		if err == nil {
			err = invite(benches)
		}
		if err == nil {
			err = pulls.Invite(ctx, benches)
		}
		if err != nil {
			h.Log.Error().Err(err).Msg("invitations not taken in; tried again")
			continue
		}
		last = at
		h.Log.Info().Int("benches", len(benches)).Msg("invitations taken in")
	}
}

func (h *Hub) invitedAt() time.Time {
	info, err := os.Stat(filepath.Join(h.Dir, invitedName))
	if err != nil {
		return time.Time{}
	}
	return info.ModTime()
}

// invited are the public keys of those that may link, by name.
func (h *Hub) invited() (map[string]string, error) {
	all, err := readInvited(h.Dir)
	out := map[string]string{}
	for name, i := range all {
		out[name] = i.Key
	}
	return out, err
}

// connect brings up the hub's own server and connects to it, or connects to the servers of others, which know by their own
// settings who may link.
func (h *Hub) connect(benches map[string]string) (nc *nats.Conn, invite func(map[string]string) error, address string, stop func(), err error) {
	if len(h.Settings.NATS.URL) > 0 {
		nc, err = h.Settings.NATS.connect(h.Log)
		return nc, func(map[string]string) error { return nil }, "", func() {}, err
	}
	conf, err := hubTLS(h.Dir, h.Settings)
	if err != nil {
		return nil, nil, "", nil, err
	}
	srv, err := hub.StartServer(hub.ServerConfig{Name: h.Settings.Name, Listen: h.Settings.Listen, TLS: conf}, benches)
	if err != nil {
		return nil, nil, "", nil, err
	}
	if nc, err = srv.Connect(); err != nil {
		srv.Close()
		return nil, nil, "", nil, err
	}
	return nc, srv.Invite, srv.Addr(), srv.Close, nil
}

// connect logs in at others' servers. Where they refuse, that is said at once; where none is there, it is tried until one is.
func (c HubNATS) connect(log zerolog.Logger) (*nats.Conn, error) {
	said := ""
	opts := []nats.Option{nats.Name("thoud hub"), nats.MaxReconnects(-1), nats.ReconnectWait(200 * time.Millisecond), nats.NoEcho(),
		// Servers that refuse it for a while, as they are set up anew, take it again later.
		nats.IgnoreAuthErrorAbort(),
		nats.ReconnectErrHandler(func(_ *nats.Conn, err error) {
			if words, _ := linkFault(err); words != said {
				said = words
				log.Warn().Strs("servers", c.URL).Msg("no connection, tried again: " + words)
			}
		})}
	if c.CA != "" {
		opts = append(opts, nats.RootCAs(c.CA))
	}
	if c.Creds != "" {
		opts = append(opts, nats.UserCredentials(c.Creds))
	}
	if c.Seed != "" {
		o, err := nats.NkeyOptionFromSeed(c.Seed)
		if err != nil {
			return nil, fmt.Errorf("nats.seed in %s: %w", HubSettingsName, err)
		}
		opts = append(opts, o)
	}
	urls := strings.Join(c.URL, ",")
	nc, err := nats.Connect(urls, opts...)
	if err == nil {
		return nc, nil
	}
	words, refused := linkFault(err)
	if !refused {
		log.Warn().Strs("servers", c.URL).Msg("no connection yet: " + words)
		nc, err = nats.Connect(urls, append(opts, nats.RetryOnFailedConnect(true))...)
		if err == nil {
			return nc, nil
		}
	}
	return nil, fmt.Errorf("hub: NATS at %s: %s", urls, words)
}
