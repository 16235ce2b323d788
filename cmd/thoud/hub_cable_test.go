package main

import (
	"net"
	"sync"
	"testing"
	"time"
)

// cable is a link that can be cut, go silent without being cut, or be slow.
type cable struct {
	to string
	ln net.Listener

	mu     sync.Mutex
	silent bool
	rate   int                // bytes a second; 0 as fast as it can
	conns  map[net.Conn]*wire // both ends of each
}

// wire is one connection through a cable.
type wire struct{ dead, gone bool }

func newCable(t *testing.T, to string) *cable {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	c := &cable{to: to, ln: ln, conns: map[net.Conn]*wire{}}
	t.Cleanup(func() { _ = ln.Close(); c.cut() })
	go func() {
		for {
			in, err := ln.Accept()
			if err != nil {
				return
			}
			go c.carry(in)
		}
	}()
	return c
}

func (c *cable) carry(in net.Conn) {
	out, err := net.Dial("tcp", c.to)
	if err != nil {
		_ = in.Close()
		return
	}
	w := &wire{}
	c.mu.Lock()
	c.conns[in], c.conns[out] = w, w
	c.mu.Unlock()
	pipe := func(to, from net.Conn) {
		defer to.Close()
		defer from.Close()
		b := make([]byte, 32<<10)
		for {
			n, err := from.Read(b)
			for c.isSilent(w) {
				time.Sleep(5 * time.Millisecond)
			}
			c.takeTime(n)
			if n > 0 {
				if _, err := to.Write(b[:n]); err != nil {
					return
				}
			}
			if err != nil {
				return
			}
		}
	}
	go pipe(in, out)
	pipe(out, in)
}

func (c *cable) isSilent(w *wire) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return (c.silent || w.dead) && !w.gone
}

// takeTime waits as long as so many bytes take.
func (c *cable) takeTime(n int) {
	c.mu.Lock()
	rate := c.rate
	c.mu.Unlock()
	if rate > 0 {
		time.Sleep(time.Duration(n) * time.Second / time.Duration(rate))
	}
}

func (c *cable) quiet(yes bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.silent = yes
}

// slow lets so many bytes a second through each way; 0 as many as there are.
func (c *cable) slow(rate int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.rate = rate
}

// die leaves what is connected silent for ever, as a router does that has forgotten it; what dials anew gets through.
func (c *cable) die() {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, w := range c.conns {
		w.dead = true
	}
}

// cut breaks what is connected; what dials again gets through.
func (c *cable) cut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	for conn, w := range c.conns {
		w.gone = true
		_ = conn.Close()
	}
	clear(c.conns)
}
