package hub

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/pipeline/bus"
)

// Lines is what of its ledger the hub reads when it begins and gives back to benches that lack it.
type Lines interface {
	Ledger
	Lines(ctx context.Context) ([]Line, error)
	Span(ctx context.Context, line string, from uint64, most, bytes int) (Given, error)
}

// Hub keeps the copies of all benches that were invited. Set the fields, then Run it.
type Hub struct {
	Name   string
	Conn   *nats.Conn
	Ledger Lines
	Poll   time.Duration // how often a bench is asked that says nothing, about
	Log    zerolog.Logger
	Now    func() time.Time

	link *Link
	mu   sync.Mutex
	all  map[string]*copying
	at   chan struct{} // as many places as full pages are asked for at once
	wg   sync.WaitGroup
}

// askedAtOnce is how many full pages are asked for at once: more would only fill the memory and wait for the one writer. What
// asks whether there is anything new takes no place: its answer is small, and a bench that does not answer would hold it.
const askedAtOnce = 64

// Report is what the hub knows of a bench.
type Report struct {
	Bench   string            `json:"bench"`
	Line    string            `json:"line"`              // that it goes on with
	N       uint64            `json:"n"`                 // the last entry that is here
	Theirs  uint64            `json:"theirs"`            // the last entry that the bench had when it answered last
	Results int               `json:"results"`           // that are here
	Host    string            `json:"host,omitempty"`    // the machine it runs on
	Version string            `json:"version,omitempty"` // of its program
	Linked  bool              `json:"linked"`            // it answered when it was asked last
	Heard   int64             `json:"heard,omitempty"`   // µs since 1970, UTC, when it answered last; 0 not since the hub began
	Taken   int64             `json:"taken,omitempty"`   // when something of it was taken last
	Alarms  map[string]string `json:"alarms,omitempty"`
	// Troubles are what was wrong at the bench when it answered last, as it said itself.
	Troubles []Trouble `json:"troubles,omitempty"`
}

// copying is one bench and who pulls it.
type copying struct {
	puller *Puller
	wake   chan struct{}
	cancel context.CancelFunc

	mu     sync.Mutex
	report Report
}

// Open reads the ledger and begins to hear benches. Invite says which there are.
func (h *Hub) Open(ctx context.Context) (err error) {
	h.all, h.at = map[string]*copying{}, make(chan struct{}, askedAtOnce)
	if h.link, err = NewLink(h.Conn); err != nil {
		return err
	}
	if _, err = h.Conn.Subscribe(bus.EveryResult, func(m *nats.Msg) { h.wake(benchIn(m.Subject)) }); err != nil {
		return fmt.Errorf("hub: results: %w", err)
	}
	if _, err = h.Conn.Subscribe(bus.HubAsk("*", h.Name), func(m *nats.Msg) { go h.beyond(ctx, m) }); err != nil {
		return fmt.Errorf("hub: questions: %w", err)
	}
	return h.Conn.Flush()
}

// Invite begins to pull the benches that are new, and lets go of those that are not named any more; benches are named with
// their public keys. What was copied of a bench that is let go stays.
func (h *Hub) Invite(ctx context.Context, benches map[string]string) error {
	lines, err := h.Ledger.Lines(ctx)
	if err != nil {
		return err
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	for name, c := range h.all {
		if benches[name] != c.puller.Key {
			c.cancel()
			delete(h.all, name)
		}
	}
	of := map[string][]Line{}
	for _, l := range lines {
		name, _ := BenchOf(l.Name)
		of[name] = append(of[name], l)
	}
	for name, key := range benches {
		if h.all[name] == nil {
			h.all[name] = h.begin(ctx, name, key, of[name])
		}
	}
	return nil
}

func (h *Hub) begin(ctx context.Context, name, key string, lines []Line) *copying {
	ctx, cancel := context.WithCancel(ctx)
	c := &copying{wake: make(chan struct{}, 1), cancel: cancel}
	c.report = Report{Bench: name, Line: name, Alarms: map[string]string{}}
	p := &Puller{Name: name, Hub: h.Name, Key: key, Ledger: h.Ledger, Lines: lines, Now: h.Now}
	p.Alarm = func(about, words string) { h.alarm(c, about, words) }
	p.Heard = func(head Head) {
		c.mu.Lock()
		defer c.mu.Unlock()
		c.report.Host, c.report.Version = head.Host, head.Version
		c.report.Troubles = heardTroubles(head, h.Now(), c.report.Troubles)
	}
	p.Bench = h.link.Of(name, p.Machine)
	p.Open()
	c.puller = p
	c.note(true, 0)
	c.report.Linked = false
	h.wg.Go(func() { h.copy(ctx, c) })
	return c
}

// copy asks a bench until ctx ends: at once where there is more, else when it says that something happened, and now and then.
func (h *Hub) copy(ctx context.Context, c *copying) {
	for {
		more, err := h.once(ctx, c)
		if ctx.Err() != nil {
			return
		}
		c.note(err == nil || !errors.Is(err, errAgain), h.Now().UnixMicro())
		if more && err == nil {
			continue
		}
		wait := h.Poll/2 + rand.N(h.Poll)
		t := time.NewTimer(wait)
		select {
		case <-ctx.Done():
		case <-c.wake:
		case <-t.C:
		}
		t.Stop()
	}
}

func (h *Hub) once(ctx context.Context, c *copying) (more bool, err error) {
	if !c.puller.Behind() {
		return c.puller.Once(ctx)
	}
	select {
	case h.at <- struct{}{}:
		defer func() { <-h.at }()
	case <-ctx.Done():
		return false, ctx.Err()
	}
	return c.puller.Once(ctx)
}

// note keeps what is reported of a bench.
func (c *copying) note(linked bool, at int64) {
	l := c.puller.Line()
	c.mu.Lock()
	defer c.mu.Unlock()
	r := &c.report
	r.Line, r.N, r.Results, r.Taken, r.Linked = l.Name, l.End.N, l.Results, l.At, linked
	r.Theirs = l.End.N
	if t := c.puller.Theirs().N; t > 0 {
		r.Theirs = t
	}
	if linked && at > 0 {
		r.Heard = at
	}
}

func (h *Hub) alarm(c *copying, about, words string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	was := c.report.Alarms[about]
	if was == words {
		return
	}
	if words == "" {
		delete(c.report.Alarms, about)
		h.Log.Info().Str("bench", c.report.Bench).Str("about", about).Msg("over: " + was)
		return
	}
	c.report.Alarms[about] = words
	h.Log.Error().Str("bench", c.report.Bench).Str("about", about).Msg(words)
}

func (h *Hub) wake(benchName string) {
	h.mu.Lock()
	c := h.all[benchName]
	h.mu.Unlock()
	if c == nil {
		return
	}
	select {
	case c.wake <- struct{}{}:
	default: // it will look anyway
	}
}

// Reports tells of every bench, in the order of their names.
func (h *Hub) Reports() []Report {
	h.mu.Lock()
	defer h.mu.Unlock()
	out := make([]Report, 0, len(h.all))
	for _, c := range h.all {
		c.mu.Lock()
		r := c.report
		r.Alarms = map[string]string{}
		for about, words := range c.report.Alarms {
			r.Alarms[about] = words
		}
		c.mu.Unlock()
		out = append(out, r)
	}
	slices.SortFunc(out, func(a, b Report) int { return strings.Compare(a.Bench, b.Bench) })
	return out
}

// beyond gives a bench what the hub has beyond the bench's own end: the entries of the line that has the same seal there, up
// to where the bench itself signed that line's end.
func (h *Hub) beyond(ctx context.Context, m *nats.Msg) {
	name := benchIn(m.Subject)
	p, err := h.given(ctx, name, m.Data)
	if err != nil {
		p = Page{Head: Head{Bench: name, Fault: err.Error()}}
	}
	b, err := p.Bytes()
	// A bench hears answers at its own asks alone, whatever it names.
	if err == nil && strings.HasPrefix(m.Reply, bus.ToldSubject(name, "")) {
		err = h.Conn.Publish(m.Reply, b)
	}
	if err != nil {
		h.Log.Warn().Err(err).Str("bench", name).Msg("answer not delivered")
	}
}

func (h *Hub) given(ctx context.Context, name string, question []byte) (Page, error) {
	var q Ask
	if err := json.Unmarshal(question, &q); err != nil || q.From == 0 {
		return Page{}, fmt.Errorf("the question cannot be read: %v", err)
	}
	before, err := bench.ParseSeal(q.Seal)
	if err != nil {
		return Page{}, err
	}
	lines, err := h.Ledger.Lines(ctx)
	if err != nil {
		return Page{}, err
	}
	best := Line{At: -1}
	for _, l := range lines {
		if of, _ := BenchOf(l.Name); of != name || l.End.N < q.From-1 || l.At < best.At {
			continue
		}
		seal, ok, err := h.Ledger.SealAt(ctx, l.Name, q.From-1)
		if err != nil {
			return Page{}, err
		}
		if ok && seal == before {
			best = l
		}
	}
	if best.At < 0 {
		return Page{Head: Head{Bench: name}}, nil
	}
	g, err := h.Ledger.Span(ctx, best.Name, q.From, bounded(q.Max), MostBytes)
	if err != nil {
		return Page{}, err
	}
	p := pageOf(Head{Bench: name, Note: best.Note}, g)
	return p, nil
}

// Close lets go of every bench and waits until nothing is taken any more.
func (h *Hub) Close() {
	h.mu.Lock()
	for _, c := range h.all {
		c.cancel()
	}
	h.mu.Unlock()
	h.wg.Wait()
	h.link.Close()
}
