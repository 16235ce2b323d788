package bus

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"os"
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
}

type dialer struct{ path string }

// Dial connects to the socket, whatever address NATS thinks it dials.
func (d dialer) Dial(_, _ string) (net.Conn, error) {
	return net.DialTimeout("unix", d.path, 2*time.Second)
}

// Dial connects to the service at a socket. ErrNoService where there is none.
func Dial(path, benchName string) (*Client, error) {
	// The address only fills a form: without SkipHostLookup it would be looked up, which takes 5 s where no name server answers.
	nc, err := nats.Connect("nats://socket", nats.SetCustomDialer(dialer{path}), nats.SkipHostLookup(), nats.Name("thoud command"), nats.Timeout(3*time.Second))
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
	return &Client{bench: benchName, nc: nc}, nil
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
		try, cancel := context.WithTimeout(ctx, 6*time.Second)
		m, err := c.nc.RequestWithContext(try, VerbSubject(c.bench, v.Name), b)
		cancel()
		switch {
		case err == nil:
			var a bench.Answer
			if err := json.Unmarshal(m.Data, &a); err != nil {
				return bench.Answer{}, fmt.Errorf("verb %s: answer: %w", v.Name, err)
			}
			return a, nil
		case errors.Is(err, nats.ErrNoResponders):
			return bench.Answer{}, fmt.Errorf("%w that keeps bench %q on this socket", ErrNoService, c.bench)
		case ctx.Err() != nil:
			return bench.Answer{}, fmt.Errorf("verb %s: no answer: %w", v.Name, err)
		}
	}
}

// Status asks how the bench stands.
func (c *Client) Status(ctx context.Context) (bench.Status, error) {
	var out bench.Status
	ctx, cancel := context.WithTimeout(ctx, 6*time.Second)
	defer cancel()
	m, err := c.nc.RequestWithContext(ctx, AskSubject(c.bench, "status"), nil)
	if errors.Is(err, nats.ErrNoResponders) {
		return out, fmt.Errorf("%w that keeps bench %q on this socket", ErrNoService, c.bench)
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
