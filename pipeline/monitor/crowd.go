package monitor

import (
	"fmt"
	"io"
	"net"
	"net/http"
	"sync"
	"time"
)

// How many may come at once. A process has about a thousand files to open in all, and its ports, its ledger and its
// socket need theirs: whoever opens connections without end, by a fault or in bad will, meets these bounds, and the bench
// and everybody else go on.
const (
	connectionsInAll  = 256
	connectionsOfOne  = 64 // one address, or one IPv6 network: a browser opens six, a shop's proxy a few dozen
	streamsInAll      = 96
	streamsOfOne      = 24 // one page has one stream
	refusalsAtOnce    = 16 // that are told why; beyond that a connection is just closed
	refusalPatience   = 500 * time.Millisecond
	crowdedRetryAfter = "10" // seconds
)

// crowd counts what is there, by network and in all.
type crowd struct {
	what         string // for words: "connections"
	inAll, ofOne int

	mu    sync.Mutex
	count int
	of    map[string]int
}

// enter counts one more, or says why it may not come.
func (c *crowd) enter(from string) (refused string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	switch {
	case c.of[from] >= c.ofOne:
		return fmt.Sprintf("%s has %d %s to this bench open, which is as many as one address may have: close pages that are not looked at, and load this one again", from, c.ofOne, c.what)
	case c.count >= c.inAll:
		return fmt.Sprintf("%d %s to this bench are open, which is as many as it takes: close pages that are not looked at, and load this one again", c.inAll, c.what)
	}
	if c.of == nil {
		c.of = map[string]int{}
	}
	c.count++
	c.of[from]++
	return ""
}

// leave counts one less.
func (c *crowd) leave(from string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.count--
	if c.of[from]--; c.of[from] == 0 {
		delete(c.of, from)
	}
}

// boundListener takes so many connections and answers the others with one sentence.
type boundListener struct {
	net.Listener
	crowd    *crowd
	tls      bool // an answer in plain text would not be understood
	refusing chan struct{}
}

func newBoundListener(l net.Listener, tls bool) *boundListener {
	return &boundListener{Listener: l, tls: tls, refusing: make(chan struct{}, refusalsAtOnce),
		crowd: &crowd{what: "connections", inAll: connectionsInAll, ofOne: connectionsOfOne}}
}

// Accept gives the next connection that may come.
func (b *boundListener) Accept() (net.Conn, error) {
	for {
		c, err := b.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := network(c.RemoteAddr().String())
		why := b.crowd.enter(from)
		if why == "" {
			return &countedConn{Conn: c, leave: sync.OnceFunc(func() { b.crowd.leave(from) })}, nil
		}
		b.refuse(c, why)
	}
}

// refuse tells a connection why it is not taken, beside the others, and closes it.
func (b *boundListener) refuse(c net.Conn, why string) {
	select {
	case b.refusing <- struct{}{}:
	default:
		c.Close()
		return
	}
	go func() {
		defer func() { c.Close(); <-b.refusing }()
		if b.tls || c.SetDeadline(time.Now().Add(refusalPatience)) != nil {
			return
		}
		// What was asked is read first: a connection closed with bytes unread loses its answer on the way.
		_, _ = c.Read(make([]byte, 4<<10))
		_, _ = fmt.Fprintf(c, "HTTP/1.1 503 Service Unavailable\r\nContent-Type: text/plain; charset=utf-8\r\nContent-Length: %d\r\nRetry-After: %s\r\nConnection: close\r\n\r\n%s\n",
			len(why)+1, crowdedRetryAfter, why)
		if half, ok := c.(interface{ CloseWrite() error }); ok && half.CloseWrite() == nil {
			_, _ = io.CopyN(io.Discard, c, 64<<10) // until the other end has read it
		}
	}()
}

// countedConn is counted until it is closed.
type countedConn struct {
	net.Conn
	leave func()
}

// Close closes the connection and makes room for another.
func (c *countedConn) Close() error {
	defer c.leave()
	return c.Conn.Close()
}

// mayStream lets a stream begin, or answers why it may not. left ends it.
func (s *Server) mayStream(w http.ResponseWriter, r *http.Request) (left func(), ok bool) {
	from := network(r.RemoteAddr)
	if why := s.streams.enter(from); why != "" {
		w.Header().Set("Retry-After", crowdedRetryAfter)
		http.Error(w, why, http.StatusServiceUnavailable)
		return nil, false
	}
	return func() { s.streams.leave(from) }, true
}
