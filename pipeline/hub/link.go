package hub

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/nats-io/nats.go"

	"thoud/pipeline/bus"
)

// Waits of a question for machines that are not known as the bench.
const (
	otherWait = time.Second      // for the right machine's answer, once another's has come
	otherKept = 10 * time.Second // for how long a second machine that answered is spoken of
)

// Link asks benches over one connection, with one subscription for all answers.
type Link struct {
	nc  *nats.Conn
	sub *nats.Subscription

	mu      sync.Mutex
	waiters map[string]*waiter // by subject of the answer
	others  map[string]other   // by bench
}

type waiter struct {
	answers chan *nats.Msg
	bench   string
	machine string // whose answer was taken; "" none yet
}

// other is a second machine of a bench's name.
type other struct {
	host string
	at   time.Time
}

// NewLink begins to hear answers.
func NewLink(nc *nats.Conn) (*Link, error) {
	l := &Link{nc: nc, waiters: map[string]*waiter{}, others: map[string]other{}}
	var err error
	if l.sub, err = nc.Subscribe(bus.EveryHubAnswer, l.deliver); err != nil {
		return nil, fmt.Errorf("hub: answers: %w", err)
	}
	return l, nil
}

// Close stops hearing answers.
func (l *Link) Close() { _ = l.sub.Unsubscribe() }

func (l *Link) deliver(m *nats.Msg) {
	l.mu.Lock()
	w := l.waiters[m.Subject]
	taken := ""
	if w != nil {
		taken = w.machine
	}
	l.mu.Unlock()
	switch {
	case w == nil: // too late, or nobody asked
	case taken == "":
		select {
		case w.answers <- m:
		default:
		}
	default: // the question was answered: by whom else?
		if p, err := ParsePage(m.Data); err == nil && p.Machine != taken {
			l.another(w.bench, p.Host)
		}
	}
}

func (l *Link) another(benchName, host string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.others[benchName] = other{host, time.Now()}
}

// Of is a bench as it is asked over this link. machine gives the sign of the machine that is known as the bench, "" where
// none is yet.
func (l *Link) Of(benchName string, machine func() string) Bench {
	return linked{l, benchName, machine}
}

type linked struct {
	link    *Link
	bench   string
	machine func() string
}

// The questions.
const (
	AskEntries = "entries"
	AskResults = "results"
	AskWhere   = "where"
)

func (b linked) Entries(ctx context.Context, a Ask) (Page, error) { return b.ask(ctx, AskEntries, a) }
func (b linked) Results(ctx context.Context, a Ask) (Page, error) { return b.ask(ctx, AskResults, a) }
func (b linked) Where(ctx context.Context, a Ask) (Page, error)   { return b.ask(ctx, AskWhere, a) }

// ask puts one question and waits for the answer of the machine that is known; another's is given back only where that one
// does not answer. It waits until ctx ends.
func (b linked) ask(ctx context.Context, what string, a Ask) (Page, error) {
	q, err := json.Marshal(a)
	if err != nil {
		return Page{}, err
	}
	l := b.link
	reply := bus.HubAnswer(b.bench, rand.Text())
	w := &waiter{answers: make(chan *nats.Msg, 4), bench: b.bench}
	l.mu.Lock()
	l.waiters[reply] = w
	l.mu.Unlock()
	defer time.AfterFunc(otherWait, func() {
		l.mu.Lock()
		defer l.mu.Unlock()
		delete(l.waiters, reply)
	})
	if err := l.nc.PublishRequest(bus.AskSubject(b.bench, what), reply, q); err != nil {
		return Page{}, err
	}
	var foreign *Page
	var late <-chan time.Time
	for {
		select {
		case m := <-w.answers:
			if m.Header.Get("Status") == "503" {
				if foreign != nil {
					return *foreign, nil
				}
				return Page{}, nats.ErrNoResponders
			}
			p, err := ParsePage(m.Data)
			if err != nil {
				return Page{}, err
			}
			known := b.machine()
			if known != "" && p.Machine != known {
				l.another(b.bench, p.Host)
				foreign, late = &p, time.After(otherWait)
				continue
			}
			l.mu.Lock()
			w.machine = p.Machine
			if o := l.others[b.bench]; o.host != "" && time.Since(o.at) < otherKept {
				p.Other = o.host
			}
			l.mu.Unlock()
			return p, nil
		case <-late:
			return *foreign, nil
		case <-ctx.Done():
			if foreign != nil {
				return *foreign, nil
			}
			return Page{}, ctx.Err()
		}
	}
}

// benchIn gives the bench's name out of a subject between bench and hub.
func benchIn(subject string) string {
	parts := strings.SplitN(subject, ".", 3)
	if len(parts) < 2 {
		return ""
	}
	return parts[1]
}
