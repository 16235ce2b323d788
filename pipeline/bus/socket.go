package bus

import (
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"
)

// longestPath is what a unix socket's address holds on Linux, without the closing zero.
const longestPath = 107

// socketsInAll is how many connections the socket carries at once: each is a command, or a program of the bench's own
// machine that listens.
const socketsInAll = 128

// tooMany answers one more, as a NATS server does that is full.
const tooMany = "-ERR 'maximum connections exceeded'\r\n"

// acceptPause is how long the socket waits after it could not take a connection.
const acceptPause = 50 * time.Millisecond

// Socket carries NATS connections from a unix socket to the embedded server.
type Socket struct {
	ln     net.Listener
	server *Server
	wg     sync.WaitGroup
	mu     sync.Mutex
	conns  map[net.Conn]bool
}

// Listen opens the socket at a path, with these permissions. A socket left by a killed service is taken over: the lock
// on the state folder already says that nobody else is using it.
func (s *Server) Listen(path string, mode os.FileMode) (*Socket, error) {
	if len(path) > longestPath {
		return nil, fmt.Errorf("socket %s: its path has %d bytes, a unix socket holds %d: use a shorter --state", path, len(path), longestPath)
	}
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("socket %s: %w", path, err)
	}
	// Whoever connects shall find what is served: the server has heard of it once this is answered. Without, a command that
	// was quick was told that no service keeps the bench (seen on a busy machine).
	if err := s.nc.FlushTimeout(startWait); err != nil {
		return nil, fmt.Errorf("bus: before the socket %s: %w", path, err)
	}
	ln, err := net.Listen("unix", path)
	if err != nil {
		return nil, fmt.Errorf("socket %s: %w", path, err)
	}
	if err := os.Chmod(path, mode); err != nil {
		ln.Close()
		return nil, fmt.Errorf("socket %s: %w", path, err)
	}
	k := &Socket{ln: ln, server: s, conns: map[net.Conn]bool{}}
	k.wg.Add(1)
	go k.accept()
	return k, nil
}

func (k *Socket) accept() {
	defer k.wg.Done()
	for {
		c, err := k.ln.Accept()
		if errors.Is(err, net.ErrClosed) {
			return
		}
		if err != nil {
			// Too many open files, mostly: they are let go again, and commands must find the bench then.
			k.server.cfg.Log.Warn().Err(err).Msg("socket: no connection taken; trying again")
			time.Sleep(acceptPause)
			continue
		}
		if !k.keep(c) {
			k.server.cfg.Log.Warn().Int("open", socketsInAll).Msg("socket: one connection more than it carries was turned away")
			_ = c.SetWriteDeadline(time.Now().Add(acceptPause)) // one that does not read loses the word alone
			_, _ = io.WriteString(c, tooMany)
			c.Close()
			continue
		}
		k.wg.Add(1)
		go func() {
			defer k.wg.Done()
			k.carry(c)
			k.mu.Lock()
			delete(k.conns, c)
			k.mu.Unlock()
		}()
	}
}

// keep notes a connection, where there is room for one more.
func (k *Socket) keep(c net.Conn) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	if len(k.conns) >= socketsInAll {
		return false
	}
	k.conns[c] = true
	return true
}

func (k *Socket) carry(c net.Conn) {
	defer c.Close()
	in, err := k.server.InProcessConn()
	if err != nil {
		k.server.cfg.Log.Warn().Err(err).Msg("socket: no server to carry to")
		return
	}
	var g errgroup.Group
	pipe := func(to, from net.Conn) func() error {
		return func() error {
			_, err := io.Copy(to, from)
			to.Close()
			from.Close()
			return err
		}
	}
	g.Go(pipe(in, c))
	g.Go(pipe(c, in))
	_ = g.Wait() // either end closing is how a connection ends
}

// Close stops listening, ends the connections and removes the socket.
func (k *Socket) Close() error {
	err := k.ln.Close()
	k.mu.Lock()
	for c := range k.conns {
		c.Close()
	}
	k.mu.Unlock()
	k.wg.Wait()
	return err
}
