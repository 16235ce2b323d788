package bus

import (
	"net"
	"path/filepath"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/rs/zerolog"
)

// crowded is a listener that meets "too many open files" a few times.
type crowded struct {
	net.Listener
	left atomic.Int32
}

func (c *crowded) Accept() (net.Conn, error) {
	if c.left.Add(-1) >= 0 {
		return nil, &net.OpError{Op: "accept", Err: syscall.EMFILE}
	}
	return c.Listener.Accept()
}

// A process that has run out of descriptors for a moment goes on answering commands afterwards.
func TestTheSocketGoesOnAfterTooManyOpenFiles(t *testing.T) {
	ln, err := net.Listen("unix", filepath.Join(t.TempDir(), "s"))
	if err != nil {
		t.Fatal(err)
	}
	c := &crowded{Listener: ln}
	c.left.Store(3)
	k := &Socket{ln: c, server: &Server{cfg: Config{Log: zerolog.Nop()}}, conns: map[net.Conn]bool{}}
	k.wg.Add(1)
	go k.accept()
	conn, err := net.Dial("unix", ln.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	// There is no server behind it, so that a connection that was taken is closed at once.
	if err := conn.SetReadDeadline(time.Now().Add(5 * time.Second)); err != nil {
		t.Fatal(err)
	}
	if _, err := conn.Read(make([]byte, 1)); err == nil || isTimeout(err) {
		t.Errorf("the connection was not taken: %v", err)
	}
	if err := k.Close(); err != nil {
		t.Error(err)
	}
}

func isTimeout(err error) bool {
	ne, ok := err.(net.Error)
	return ok && ne.Timeout()
}
