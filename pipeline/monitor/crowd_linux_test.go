package monitor_test

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/pipeline/monitor"
)

// served serves a bench's pages until the test ends, and gives the address.
func served(t *testing.T) string {
	t.Helper()
	f := newFakeBench(t)
	f.firstFit()
	s, err := monitor.New(monitor.Config{Bench: f, Listen: "127.0.0.1:0", Logger: zerolog.Nop()})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	at, ended := make(chan string, 1), make(chan error, 1)
	go func() { ended <- s.Serve(ctx, func(a net.Addr) { at <- a.String() }) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return <-at
}

// askFrom opens a connection from one of this machine's own addresses (127.0.0.0/8, RFC 1122 3.2.1.3), asks for a page, and
// leaves the connection open.
func askFrom(t *testing.T, from, to, path string) (net.Conn, *http.Response) {
	t.Helper()
	d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(from)}, Timeout: 10 * time.Second}
	c, err := d.Dial("tcp", to)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.SetDeadline(time.Now().Add(30 * time.Second)); err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(c, "GET %s HTTP/1.1\r\nHost: %s\r\nAccept: text/event-stream\r\n\r\n", path, to)
	res, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil {
		t.Fatalf("from %s: %v", from, err)
	}
	return c, res
}

// saying reads an answer that is one sentence.
func saying(t *testing.T, res *http.Response) string {
	t.Helper()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	if res.StatusCode != http.StatusServiceUnavailable || strings.Count(strings.TrimSpace(string(b)), "\n") != 0 {
		t.Fatalf("%s: %q", res.Status, b)
	}
	return string(b)
}

// Ten thousand connections from one address do not keep anybody else out: it has as many as one may have, every other one
// is told why in a sentence, and who comes from elsewhere is served.
func TestConnectionsOfOneAddressAreBounded(t *testing.T) {
	to := served(t)
	var open []net.Conn
	refused := 0
	for range 10_001 {
		c, res := askFrom(t, "127.0.0.2", to, "/static/none")
		if res.StatusCode == http.StatusNotFound {
			open = append(open, c)
			continue
		}
		if said := saying(t, res); !strings.Contains(said, "127.0.0.2 has 64 connections") {
			t.Fatalf("said %q", said)
		}
		refused++
		c.Close()
	}
	if len(open) != 64 || refused != 10_001-64 {
		t.Errorf("%d taken and %d refused of 10,001", len(open), refused)
	}
	c, res := askFrom(t, "127.0.0.3", to, "/static/none")
	defer c.Close()
	if res.StatusCode != http.StatusNotFound {
		t.Errorf("from another address: %s", res.Status)
	}
	// Room that is made is used again.
	open[0].Close()
	for range 100 {
		again, res := askFrom(t, "127.0.0.2", to, "/static/none")
		defer again.Close()
		if res.StatusCode == http.StatusNotFound {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Error("a closed connection makes no room for another")
}

// All addresses together have as many as the bench can hold open.
func TestConnectionsInAllAreBounded(t *testing.T) {
	to := served(t)
	for i := range 256 {
		c, res := askFrom(t, fmt.Sprintf("127.0.1.%d", i/64+1), to, "/static/none")
		defer c.Close()
		if res.StatusCode != http.StatusNotFound {
			t.Fatalf("connection %d: %s", i+1, res.Status)
		}
	}
	c, res := askFrom(t, "127.0.0.9", to, "/static/none")
	defer c.Close()
	if said := saying(t, res); !strings.Contains(said, "256 connections to this bench are open") {
		t.Errorf("said %q", said)
	}
}

// Live pages are bounded too, by address and in all.
func TestStreamsAreBounded(t *testing.T) {
	to := served(t)
	var all []net.Conn
	for i := range 96 {
		c, res := askFrom(t, fmt.Sprintf("127.0.2.%d", i/24+1), to, "/stream/bench")
		defer c.Close()
		if res.StatusCode != http.StatusOK {
			t.Fatalf("stream %d: %s", i+1, res.Status)
		}
		all = append(all, c)
		if i == 23 {
			c, res := askFrom(t, "127.0.2.1", to, "/stream/bench")
			defer c.Close()
			if said := saying(t, res); !strings.Contains(said, "127.0.2.1 has 24 live pages") {
				t.Errorf("said %q", said)
			}
		}
	}
	c, res := askFrom(t, "127.0.0.9", to, "/stream/bench")
	c.Close()
	if said := saying(t, res); !strings.Contains(said, "96 live pages to this bench are open") {
		t.Errorf("said %q", said)
	}
	all[0].Close()
	for range 200 {
		c, res := askFrom(t, "127.0.0.9", to, "/stream/bench")
		defer c.Close()
		if res.StatusCode == http.StatusOK {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Error("a stream that ended makes no room for another")
}
