package bus

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"fmt"
	"net/url"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
)

// Leaf is a bench's link to a hub: the embedded server dials out, so that nothing has to reach the bench.
type Leaf struct {
	Hub       string
	Addresses []string // host:port, any of which leads to the hub
	Seed      string   // of the nkey that the hub knows the bench by
	// Sign, where not nil, answers an operator's server that wants more than the key: who the bench is, and its nonce signed.
	Sign func(nonce []byte) (jwt string, signature []byte, err error)
	TLS  *tls.Config
}

// linkAgain is how long a link that broke waits before it is tried again.
const linkAgain = time.Second

// A link may die without a word, as behind a router that has forgotten it: it is found dead by signs of life that are not
// answered, after some three quarters of a minute. They wait behind what is being sent: with less patience the largest entry
// would never get over a slow link.
const (
	linkSigns   = 15 * time.Second
	linkMissing = 2  // signs in a row; the next one finds the link dead
	linkGreet   = 15 // seconds until the hub is known: where a thousand link at once it takes its time
)

// link puts the links to hubs into the server's options. Links are not compressed: that would cost a hub 2 to 4 MB a bench.
func (c Config) link(opts *server.Options) error {
	if len(c.Leaves) == 0 {
		return nil
	}
	// A name of its own, or two machines of one bench's name would push each other off the hub: both stay, and the hub
	// tells them apart and says so.
	opts.ServerName += "-" + rand.Text()[:8]
	opts.JetStreamDomain = c.Bench
	opts.PingInterval, opts.MaxPingsOut = linkSigns, linkMissing
	opts.LeafNode = server.LeafNodeOpts{ReconnectInterval: linkAgain}
	for _, l := range c.Leaves {
		r := &server.RemoteLeafOpts{Nkey: l.Seed, TLS: l.TLS != nil, TLSConfig: l.TLS, TLSTimeout: linkGreet, IgnoreDiscoveredServers: true, RequestIsolation: true,
			DenyImports: notFromHub(), Compression: server.CompressionOpts{Mode: server.CompressionOff}}
		if l.Sign != nil {
			r.Nkey, r.SignatureCB = "", l.Sign
		}
		for _, a := range l.Addresses {
			u, err := url.Parse("nats-leaf://" + a)
			if err != nil || u.Host == "" || u.Port() == "" {
				return fmt.Errorf("bus: the address %q of hub %q is not HOST:PORT", a, l.Hub)
			}
			r.URLs = append(r.URLs, u)
		}
		opts.LeafNode.Remotes = append(opts.LeafNode.Remotes, r)
	}
	return nil
}

// Links is how many links to hubs stand.
func (s *Server) Links() int {
	s.mu.Lock()
	srv := s.srv
	s.mu.Unlock()
	if srv == nil {
		return 0
	}
	return srv.NumLeafNodes()
}

// ServeAsk answers a question by its name with bytes, until the returned function is called.
func (s *Server) ServeAsk(what string, answer func(ctx context.Context, question []byte) []byte) (stop func(), err error) {
	at := make(chan struct{}, asksAtOnce)
	sub, err := s.nc.Subscribe(AskSubject(s.cfg.Bench, what), func(m *nats.Msg) {
		select {
		case at <- struct{}{}:
		default:
			return // it is asked again
		}
		go func() {
			defer func() { <-at }()
			ctx, cancel := context.WithTimeout(context.Background(), answerWait)
			defer cancel()
			if err := respond(m, answer(ctx, m.Data), HubAnswer(s.cfg.Bench, "")); err != nil {
				s.cfg.Log.Warn().Err(err).Str("asked", what).Msg("answer not delivered")
			}
		}()
	})
	if err != nil {
		return nil, fmt.Errorf("bus: questions of %s: %w", what, err)
	}
	return func() { _ = sub.Unsubscribe() }, nil
}

// AskHub asks a hub and waits for its answer, until ctx ends. Wraps nats.ErrNoResponders where no hub of that name is there.
func (s *Server) AskHub(ctx context.Context, hub string, question []byte) ([]byte, error) {
	reply := ToldSubject(s.cfg.Bench, rand.Text())
	sub, err := s.nc.SubscribeSync(reply)
	if err != nil {
		return nil, fmt.Errorf("bus: hub %s: %w", hub, err)
	}
	defer func() { _ = sub.Unsubscribe() }()
	if err := s.nc.PublishRequest(HubAsk(s.cfg.Bench, hub), reply, question); err != nil {
		return nil, fmt.Errorf("bus: hub %s: %w", hub, err)
	}
	m, err := sub.NextMsgWithContext(ctx)
	if err == nil && m.Header.Get("Status") == "503" {
		err = nats.ErrNoResponders
	}
	if err != nil {
		return nil, fmt.Errorf("bus: hub %s: %w", hub, err)
	}
	return m.Data, nil
}
