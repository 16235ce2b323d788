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
		k.mu.Lock()
		k.conns[c] = true
		k.mu.Unlock()
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
