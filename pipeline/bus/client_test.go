package bus_test

import (
	"bufio"
	"context"
	"errors"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"thoud/capture/bench"
	"thoud/pipeline/bus"
)

// MustDial gives a client over a socket of the server.
func MustDial(tb testing.TB, s *bus.Server) *bus.Client {
	tb.Helper()
	path := filepath.Join(tb.TempDir(), "bus.sock")
	sock, err := s.Listen(path, 0o600)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() {
		if err := sock.Close(); err != nil {
			tb.Error(err)
		}
	})
	c, err := bus.Dial(path, benchName)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(c.Close)
	return c
}

// An answer that is lost because the server was started anew is asked for again, at once, under the same id.
func TestAClientOutlivesARestart(t *testing.T) {
	s := MustStart(t, bus.Config{Dir: t.TempDir()})
	asked := make(chan string, 16)
	var free atomic.Bool
	stop, err := s.ServeVerbs(func(ctx context.Context, v bench.Verb) bench.Answer {
		asked <- v.ID
		for !free.Load() && ctx.Err() == nil {
			time.Sleep(time.Millisecond)
		}
		return bench.Answer{OK: true, Words: "done " + v.Name}
	}, 20*time.Second)
	if err != nil {
		t.Fatal(err)
	}
	defer stop()
	stopStatus, err := s.ServeStatus(func() bench.Status { return bench.Status{Bench: benchName, N: 7} })
	if err != nil {
		t.Fatal(err)
	}
	defer stopStatus()
	c := MustDial(t, s)
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	answer := make(chan bench.Answer, 1)
	go func() {
		a, err := c.Do(ctx, bench.Verb{ID: "one", Name: bench.DoTake})
		if err != nil {
			t.Error(err)
		}
		answer <- a
	}()
	<-asked
	began := time.Now()
	if err := s.Restart(); err != nil {
		t.Fatal(err)
	}
	if id := <-asked; id != "one" {
		t.Errorf("asked again under %q", id)
	}
	free.Store(true)
	if a := <-answer; !a.OK || a.Words != "done take" {
		t.Errorf("answer %+v", a)
	}
	if since := time.Since(began); since > 5*time.Second {
		t.Errorf("it took %s to ask again", since)
	}
	if st, err := c.Status(ctx); err != nil || st.N != 7 {
		t.Errorf("status %+v, %v", st, err)
	}
}

// What cannot be reached is told with what to do.
func TestDialSaysWhatIsWrong(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bus.sock")
	if _, err := bus.Dial(path, benchName); !errors.Is(err, bus.ErrNoService) || !strings.Contains(err.Error(), path) {
		t.Errorf("no socket: %v", err)
	}
	s := MustStart(t, bus.Config{Dir: t.TempDir()})
	c := MustDial(t, s)
	if _, err := c.Status(context.Background()); !errors.Is(err, bus.ErrNoService) || !strings.Contains(err.Error(), `"test"`) {
		t.Errorf("nobody answers: %v", err)
	}
	long := filepath.Join(t.TempDir(), strings.Repeat("x", 100))
	if _, err := s.Listen(long, 0o600); err == nil || !strings.Contains(err.Error(), "a unix socket holds 107") {
		t.Errorf("long path: %v", err)
	}
}

// A socket that a killed service left behind is taken over.
func TestASocketLeftBehind(t *testing.T) {
	s := MustStart(t, bus.Config{Dir: t.TempDir()})
	path := filepath.Join(t.TempDir(), "bus.sock")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	sock, err := s.Listen(path, 0o660)
	if err != nil {
		t.Fatal(err)
	}
	if st, err := os.Stat(path); err != nil || st.Mode().Perm() != 0o660 {
		t.Errorf("mode %v, %v", st.Mode(), err)
	}
	if err := sock.Close(); err != nil {
		t.Error(err)
	}
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the socket is still there: %v", err)
	}
}

// Whoever opens connections to the socket without end is turned away in the protocol's own words, and those that are open
// go on; one that closes makes room.
func TestTheSocketCarriesSoManyConnections(t *testing.T) {
	path := MustListen(t, MustStart(t, bus.Config{Dir: t.TempDir()}))
	var open []net.Conn
	for range 128 {
		c, err := net.Dial("unix", path)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		open = append(open, c)
	}
	// line is the first that a connection hears: INFO of the server, or why it is not taken.
	line := func(c net.Conn) string {
		if err := c.SetReadDeadline(time.Now().Add(10 * time.Second)); err != nil {
			t.Fatal(err)
		}
		said, err := bufio.NewReader(c).ReadString('\n')
		if err != nil {
			t.Fatal(err)
		}
		return said
	}
	for i, c := range open {
		if said := line(c); !strings.HasPrefix(said, "INFO ") {
			t.Fatalf("connection %d hears %q", i+1, said)
		}
	}
	more, err := net.Dial("unix", path)
	if err != nil {
		t.Fatal(err)
	}
	defer more.Close()
	if said := line(more); !strings.HasPrefix(said, "-ERR 'maximum connections exceeded'") {
		t.Errorf("one more hears %q", said)
	}
	open[0].Close()
	for range 200 {
		again, err := net.Dial("unix", path)
		if err != nil {
			t.Fatal(err)
		}
		defer again.Close()
		if strings.HasPrefix(line(again), "INFO ") {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Error("a connection that closed makes no room for another")
}
