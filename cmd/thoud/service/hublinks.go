package service

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"
	"golang.org/x/mod/sumdb/note"

	"thoud/capture/bench"
	"thoud/pipeline"
	"thoud/pipeline/bus"
	"thoud/pipeline/hub"
	"thoud/store"
)

// hubLinks is the bench's side of its hubs: it answers their questions out of the ledger, and knows how far each is. Nothing
// of the bench waits for it.
type hubLinks struct {
	bench   string
	dir     string
	joined  []Invitation
	ledger  *store.Store
	bus     *bus.Server
	log     zerolog.Logger
	machine string

	mu   sync.Mutex
	seen map[string]hubSeen // by hub
	why  map[string]string  // by hub: why its link does not stand
}

// hubSeen is how far a hub was when it asked last.
type hubSeen struct {
	n  uint64
	at time.Time
}

// leaves are the links to the hubs that a bench has joined.
func leaves(joined []Invitation) ([]bus.Leaf, error) {
	var out []bus.Leaf
	for _, i := range joined {
		l, err := i.leaf()
		if err != nil {
			return nil, fmt.Errorf("hub %s: %w", i.Hub, err)
		}
		out = append(out, l)
	}
	return out, nil
}

func newHubLinks(s *Service, joined []Invitation, ledger *store.Store, b *bus.Server) *hubLinks {
	return &hubLinks{bench: s.Settings.Bench, dir: s.Dir, joined: joined, ledger: ledger, bus: b, log: s.Log, machine: machineSign(s.Dir), seen: map[string]hubSeen{}, why: map[string]string{}}
}

// machineSign tells one machine, and one state folder, from another, without telling which: a copy of the folder elsewhere
// is another.
func machineSign(dir string) string {
	id, err := os.ReadFile("/etc/machine-id")
	if err != nil {
		id = nil // hostname and folder alone then
	}
	abs, err := filepath.Abs(dir)
	if err != nil {
		abs = dir
	}
	sum := sha256.Sum256(fmt.Appendf(nil, "thoud machine\n%s\n%s\n%s", strings.TrimSpace(string(id)), hostname(), abs))
	return hex.EncodeToString(sum[:8])
}

func hostname() string {
	name, err := os.Hostname()
	if err != nil {
		return "unknown"
	}
	return name
}

// serve answers hubs until the returned function is called.
func (l *hubLinks) serve(secret string, troubles func() []bench.Notice) (stop func(), err error) {
	signer, err := note.NewSigner(secret)
	if err != nil {
		return nil, err
	}
	a := hub.Answers{Bench: l.bench, Machine: l.machine, Host: hostname(), Version: Version(), Source: benchSource{l.ledger, l.bench},
		Sign: func(g hub.Given) (string, error) {
			n := store.Noted{Bench: l.bench, N: g.End.N, Seal: g.End.Seal.String(), Results: g.Results, Running: hex.EncodeToString(g.Running[:]), At: time.Now()}
			text, err := note.Sign(&note.Note{Text: n.Text()}, signer)
			return string(text), err
		},
		Troubles: func() []hub.Trouble {
			var out []hub.Trouble
			for _, n := range troubles() {
				out = append(out, hub.Trouble{Words: n.Words, Since: n.At})
			}
			return out
		},
		Asked: func(hubName string, n uint64) {
			l.mu.Lock()
			defer l.mu.Unlock()
			l.seen[hubName] = hubSeen{n, time.Now()}
		}}
	var stops []func()
	stop = func() {
		for _, s := range stops {
			s()
		}
	}
	for _, what := range []string{hub.AskEntries, hub.AskResults, hub.AskWhere} {
		one, err := l.bus.ServeAsk(what, a.Answer(what))
		if err != nil {
			stop()
			return nil, err
		}
		stops = append(stops, one)
	}
	looking, ended := context.WithCancel(context.Background())
	go l.look(looking)
	stops = append(stops, ended)
	return stop, nil
}

// hubQuiet is for how long a hub may not ask before it is said to be away: it asks at least every minute.
const hubQuiet = 90 * time.Second

// status says how far each hub is.
func (l *hubLinks) status() []bench.HubStatus {
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []bench.HubStatus
	for _, i := range l.joined {
		s := bench.HubStatus{Hub: i.Hub, Why: l.why[i.Hub]}
		if seen, ok := l.seen[i.Hub]; ok {
			s.N, s.At, s.Linked = seen.n, seen.at.UnixMicro(), time.Since(seen.at) < hubQuiet
		}
		out = append(out, s)
	}
	return out
}

// benchSource is the store as a hub's questions are answered from it.
type benchSource struct {
	s     *store.Store
	bench string
}

var _ hub.Source = benchSource{}

func (b benchSource) Span(ctx context.Context, from uint64, most, bytes int) (hub.Given, error) {
	g, err := b.s.Span(ctx, b.bench, from, most, bytes)
	return hub.Given(g), err
}

func (b benchSource) RunSpan(ctx context.Context, after int64, most, bytes int) (hub.GivenRuns, error) {
	g, err := b.s.RunSpan(ctx, b.bench, after, most, bytes)
	out := hub.GivenRuns{Before: g.Before, After: g.After}
	for _, r := range g.Rows {
		out.Rows = append(out.Rows, hub.Run(r))
	}
	return out, err
}

func (b benchSource) SealAt(ctx context.Context, n uint64) (bench.Seal, bool, error) {
	return b.s.SealAt(ctx, b.bench, n)
}

func (b benchSource) RunAt(ctx context.Context, k int) (int64, [32]byte, bool, error) {
	return b.s.RunAt(ctx, b.bench, k)
}

// How long a bench waits for a hub before it begins without it.
const (
	hubLinkWait   = 3 * time.Second  // for the link
	hubAnswerWait = 5 * time.Second  // for one answer
	hubTakeWait   = 10 * time.Minute // for all that it lacks
)

// takeBack asks each hub for what it has beyond the bench's own end, and records it: so a bench whose folder was put back
// from an older copy is whole again before its ports open. Only what the bench signed itself is taken: nobody at a hub can
// put anything into a bench. It says in words what it did; a hub that does not answer keeps nobody from working.
func (l *hubLinks) takeBack(ctx context.Context, rec *pipeline.Recorder, at pipeline.Position) []bench.Notice {
	if len(l.joined) == 0 {
		return nil
	}
	var out []bench.Notice
	waitFor(ctx, hubLinkWait, func() bool { return l.bus.Links() >= len(l.joined) })
	for _, i := range l.joined {
		words, err := l.takeBackFrom(ctx, i.Hub, rec, at)
		if err != nil {
			l.log.Warn().Err(err).Str("hub", i.Hub).Msg("not asked what it has beyond this bench's end")
			continue
		}
		if words != "" {
			l.log.Error().Str("hub", i.Hub).Msg(words)
			out = append(out, bench.Notice{At: time.Now().UnixMicro(), Tone: "fault", Source: "hub " + i.Hub, Words: words, Stands: true})
		}
	}
	return out
}

func (l *hubLinks) takeBackFrom(ctx context.Context, hubName string, rec *pipeline.Recorder, at pipeline.Position) (words string, err error) {
	ctx, cancel := context.WithTimeout(ctx, hubTakeWait)
	defer cancel()
	first, err := l.beyond(ctx, hubName, rec.Chain)
	if err != nil || !first.Known || len(first.Bodies) == 0 || first.Note == "" {
		return "", err
	}
	had := rec.Chain
	if end, err := l.signedEnd(ctx, had, first.Note); err != nil || end.N <= had.N {
		if err != nil {
			return fmt.Sprintf("hub %s has entries beyond entry %d of this bench, and they are not taken: %v", hubName, had.N, err), nil
		}
		return "", nil
	} else if words, err := l.walk(ctx, hubName, had, end); err != nil || words != "" {
		return words, err
	} else if err := rec.Run(ctx, &hubFeed{links: l, hub: hubName, at: at, end: end, chain: &rec.Chain}); err != nil {
		return "", err
	}
	if rec.Chain.N == had.N {
		return "", nil
	}
	return fmt.Sprintf("this bench ended with entry %d; entries %d to %d were fetched from hub %s, which had them from this bench. The state folder was put back, or has lost its end", had.N, had.N+1, rec.Chain.N, hubName), nil
}

// signedEnd is where the bench was when it signed a note.
func (l *hubLinks) signedEnd(ctx context.Context, had bench.Chain, text string) (bench.Chain, error) {
	keys, err := l.ledger.Keys(ctx, l.bench)
	if err != nil {
		return bench.Chain{}, err
	}
	if len(keys) == 0 {
		return bench.Chain{}, errors.New("this ledger names no key yet by which they could be known for its own; a fuller backup (thoud restore) can tell")
	}
	n, err := OpenNote(text, keys)
	if err != nil {
		return bench.Chain{}, err
	}
	seal, err := bench.ParseSeal(n.Seal)
	return bench.Chain{N: n.N, Seal: seal}, err
}

// walk follows what the hub has without recording it, to see that it ends as it was signed.
func (l *hubLinks) walk(ctx context.Context, hubName string, from, end bench.Chain) (words string, err error) {
	for c := from; c.N < end.N; {
		p, err := l.beyond(ctx, hubName, c)
		if err != nil {
			return "", err
		}
		before := c.N
		for _, body := range p.Bodies {
			e, err := bench.Decode(body)
			if err == nil && e.Bench != l.bench {
				err = fmt.Errorf("it is bench %q's", e.Bench)
			}
			if err == nil {
				c, err = c.Next(e, body)
			}
			if err != nil {
				return fmt.Sprintf("hub %s has entries beyond entry %d of this bench, and they are not taken: after entry %d: %v", hubName, from.N, c.N, err), nil
			}
			if c.N == end.N {
				break
			}
		}
		if c.N == before {
			return "", fmt.Errorf("it gives nothing after entry %d, and signed up to %d", c.N, end.N)
		}
		if c.N == end.N && c.Seal != end.Seal {
			return fmt.Sprintf("hub %s has entries beyond entry %d of this bench, and they are not taken: they end otherwise than this bench signed", hubName, from.N), nil
		}
	}
	return "", nil
}

func (l *hubLinks) beyond(ctx context.Context, hubName string, c bench.Chain) (hub.Page, error) {
	ctx, cancel := context.WithTimeout(ctx, hubAnswerWait)
	defer cancel()
	q, err := json.Marshal(hub.Ask{From: c.N + 1, Seal: c.Seal.String(), Max: hub.MostEntries, Hub: hubName})
	if err != nil {
		return hub.Page{}, err
	}
	b, err := l.bus.AskHub(ctx, hubName, q)
	if err != nil {
		return hub.Page{}, err
	}
	p, err := hub.ParsePage(b)
	if err == nil && p.Fault != "" {
		err = errors.New(p.Fault)
	}
	return p, err
}

// hubFeed gives the recorder what a hub has beyond the ledger's end, up to where the bench signed it.
type hubFeed struct {
	links *hubLinks
	hub   string
	at    pipeline.Position
	end   bench.Chain
	chain *bench.Chain // where the recorder is
	left  [][]byte
}

var _ pipeline.Source = (*hubFeed)(nil)

func (f *hubFeed) Next(ctx context.Context) (pipeline.Message, error) {
	if f.chain.N >= f.end.N {
		return pipeline.Message{}, pipeline.ErrDry
	}
	if len(f.left) == 0 {
		p, err := f.links.beyond(ctx, f.hub, *f.chain)
		if err != nil {
			return pipeline.Message{}, err
		}
		if f.left = p.Bodies; len(f.left) == 0 {
			return pipeline.Message{}, pipeline.ErrDry
		}
	}
	body := f.left[0]
	f.left = f.left[1:]
	return pipeline.Message{Seq: f.at.Seq, Body: body}, nil
}

// Generation is the stream's: what a hub gives is at no place of it, and the checkpoint stays where it is.
func (f *hubFeed) Generation() string { return f.at.Generation }

// Trim forgets nothing: a hub keeps what it has.
func (f *hubFeed) Trim(context.Context, uint64) error { return nil }
