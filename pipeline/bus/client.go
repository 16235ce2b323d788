package bus

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"os"
	"sync"
	"syscall"
	"time"

	"github.com/nats-io/nats.go"

	"thoud/capture/bench"
)

// ErrNoService means that no service answers at the socket.
var ErrNoService = errors.New("no service is running")

// Client is a command's connection to a running service.
type Client struct {
	bench string
	nc    *nats.Conn

	mu      sync.Mutex
	dropped chan struct{} // closed when the connection breaks, then made anew
	drops   int
}

type dialer struct{ path string }

// Dial connects to the socket, whatever address NATS thinks it dials.
func (d dialer) Dial(_, _ string) (net.Conn, error) {
	return net.DialTimeout("unix", d.path, 2*time.Second)
}

// Dial connects to the service at a socket. ErrNoService where there is none.
func Dial(path, benchName string) (*Client, error) {
	c := &Client{bench: benchName, dropped: make(chan struct{})}
	// The address only fills a form: without SkipHostLookup it would be looked up, which takes 5 s where no name server
	// answers. A service that starts its server anew, after a full disk, is back within a second.
	name := rand.Text()
	nc, err := nats.Connect("nats://socket", nats.UserInfo(name, ""), nats.CustomInboxPrefix(inboxOf(name)), nats.SetCustomDialer(dialer{path}), nats.SkipHostLookup(), nats.Name("thoud command"),
		nats.Timeout(3*time.Second), nats.ReconnectWait(100*time.Millisecond), nats.ReconnectJitter(0, 0), nats.MaxReconnects(100),
		nats.DisconnectErrHandler(func(*nats.Conn, error) { c.drop() }))
	switch {
	case errors.Is(err, os.ErrNotExist), errors.Is(err, syscall.ECONNREFUSED):
		return nil, fmt.Errorf("%w at %s: start it with thoud run", ErrNoService, path)
	case errors.Is(err, os.ErrPermission):
		return nil, fmt.Errorf("socket %s: no permission: is this user in the group thoud?", path)
	case err != nil:
		if _, serr := os.Stat(path); serr != nil {
			return nil, fmt.Errorf("%w at %s: start it with thoud run", ErrNoService, path)
		}
		return nil, fmt.Errorf("%w at %s: %w", ErrNoService, path, err)
	}
	c.nc = nc
	return c, nil
}

// drop wakes whoever waits for an answer: it went with the connection.
func (c *Client) drop() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.drops++
	close(c.dropped)
	c.dropped = make(chan struct{})
}

func (c *Client) connection() (dropped <-chan struct{}, drops int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.dropped, c.drops
}

// Waits of a request.
const (
	answerWait    = 6 * time.Second // longer than the service lets a verb wait
	responderWait = 2 * time.Second // after a broken connection: until the service has found its own server again
)

// request asks once and waits for the answer; where the connection breaks meanwhile it asks again, until ctx ends.
func (c *Client) request(ctx context.Context, subject string, data []byte) (*nats.Msg, error) {
	began := time.Now()
	for {
		dropped, drops := c.connection()
		try, cancel := context.WithTimeout(ctx, answerWait)
		stop := make(chan struct{})
		go func() {
			select {
			case <-dropped:
				cancel()
			case <-stop:
			}
		}()
		m, err := c.nc.RequestWithContext(try, subject, data)
		close(stop)
		cancel()
		_, now := c.connection()
		switch {
		case err == nil:
			return m, nil
		case ctx.Err() != nil || c.nc.IsClosed():
			return nil, err
		case errors.Is(err, nats.ErrNoResponders):
			if now == 0 || time.Since(began) > responderWait {
				return nil, fmt.Errorf("%w that keeps bench %q on this socket", ErrNoService, c.bench)
			}
			time.Sleep(50 * time.Millisecond)
		case now == drops:
			return nil, err // it was not the connection
		}
	}
}

// Close ends the connection.
func (c *Client) Close() { c.nc.Close() }

// Do asks the bench for something; it is asked again under the same id while no answer comes, until ctx ends.
func (c *Client) Do(ctx context.Context, v bench.Verb) (bench.Answer, error) {
	b, err := json.Marshal(v)
	if err != nil {
		return bench.Answer{}, fmt.Errorf("verb %s: %w", v.Name, err)
	}
	for {
		m, err := c.request(ctx, VerbSubject(c.bench, v.Name), b)
		switch {
		case err == nil:
			var a bench.Answer
			if err := json.Unmarshal(m.Data, &a); err != nil {
				return bench.Answer{}, fmt.Errorf("verb %s: answer: %w", v.Name, err)
			}
			return a, nil
		case errors.Is(err, ErrNoService):
			return bench.Answer{}, err
		case ctx.Err() != nil || c.nc.IsClosed():
			return bench.Answer{}, fmt.Errorf("verb %s: no answer: %w", v.Name, err)
		}
	}
}

// Status asks how the bench stands.
func (c *Client) Status(ctx context.Context) (bench.Status, error) {
	var out bench.Status
	ctx, cancel := context.WithTimeout(ctx, answerWait)
	defer cancel()
	m, err := c.request(ctx, AskSubject(c.bench, "status"), nil)
	if errors.Is(err, ErrNoService) {
		return out, err
	}
	if err == nil {
		err = json.Unmarshal(m.Data, &out)
	}
	if err != nil {
		return out, fmt.Errorf("status: %w", err)
	}
	return out, nil
}

// Follow hands on everything the bench tells until ctx ends: outcomes, live values, notices.
func (c *Client) Follow(ctx context.Context, outcome func(bench.Outcome), liveValue func(bench.Live), notice func(bench.Notice)) error {
	return follow(ctx, c.nc, c.bench, outcome, liveValue, notice)
}

func follow(ctx context.Context, nc *nats.Conn, benchName string, outcome func(bench.Outcome), liveValue func(bench.Live), notice func(bench.Notice)) error {
	ch := make(chan *nats.Msg, 1024)
	for _, s := range []string{AllResults(benchName), AllLive(benchName), NoticeSubject(benchName)} {
		sub, err := nc.ChanSubscribe(s, ch)
		if err != nil {
			return fmt.Errorf("bus: follow %s: %w", s, err)
		}
		defer func() { _ = sub.Unsubscribe() }()
	}
	if err := nc.Flush(); err != nil {
		return fmt.Errorf("bus: follow: %w", err)
	}
	res, lv := AllResults(benchName), AllLive(benchName)
	for {
		select {
		case <-ctx.Done():
			return nil
		case m := <-ch:
			switch {
			case sameBranch(m.Subject, res):
				hand(m.Data, outcome)
			case sameBranch(m.Subject, lv):
				hand(m.Data, liveValue)
			default:
				hand(m.Data, notice)
			}
		}
	}
}

func sameBranch(subject, pattern string) bool {
	n := len(pattern) - 1 // without the star
	return len(subject) > n && subject[:n] == pattern[:n]
}

func hand[T any](data []byte, to func(T)) {
	var v T
	if to != nil && json.Unmarshal(data, &v) == nil {
		to(v)
	}
}
