package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"thoud/cmd/thoud/service"
)

// wholeBench is a bench at work, as a process: gauges on pseudo-terminals, a builder who plays a plan, everything computed,
// the page up. When a build is done the next one begins.
type wholeBench struct {
	tb  testing.TB
	dir string

	mu   sync.Mutex
	seed int
	run  *benchRun // nil while it is away
}

// benchRun is one life of its process.
type benchRun struct {
	cmd   *exec.Cmd
	page  string
	text  tail
	ended chan struct{}
	meant bool // it was ended by the test
}

// tail keeps the last of what was written.
type tail struct {
	mu    sync.Mutex
	lines []string
}

func (t *tail) add(line string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.lines = append(t.lines, line); len(t.lines) > 25 {
		t.lines = t.lines[1:]
	}
}

func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return strings.Join(t.lines, "\n")
}

// wholeName is how the demo calls its bench.
const wholeName = "demo"

// start begins its work, and returns once it answers.
func (b *wholeBench) start() {
	b.tb.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.begin(); err != nil {
		b.tb.Fatal(err)
	}
}

func (b *wholeBench) begin() error {
	b.seed++
	out, in, err := os.Pipe()
	if err != nil {
		return err
	}
	r := &benchRun{ended: make(chan struct{})}
	r.cmd = exec.Command("thoud", "demo", "--fast", "--plan", "pushrod-twin", "--listen", "127.0.0.1:0", "--state", b.dir, "--seed", fmt.Sprint(b.seed))
	r.cmd.Stdout, r.cmd.Stderr = in, in
	if err := r.cmd.Start(); err != nil {
		return err
	}
	_ = in.Close()
	ready := make(chan string, 1)
	go b.follow(r, out, ready)
	select {
	case r.page = <-ready:
		b.run = r
		return nil
	case <-r.ended:
		return fmt.Errorf("the bench did not start:\n%s", &r.text)
	case <-time.After(5 * time.Minute): // it may have much to compute again
		_ = r.cmd.Process.Kill()
		return fmt.Errorf("the bench did not start within five minutes:\n%s", &r.text)
	}
}

// follow reads what a bench writes, and begins the next build where one is done.
func (b *wholeBench) follow(r *benchRun, out io.ReadCloser, ready chan<- string) {
	defer out.Close()
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		r.text.add(lines.Text())
		if _, page, ok := strings.Cut(lines.Text(), "watch at "); ok {
			ready <- page
		}
		if strings.HasPrefix(lines.Text(), "the build is done") {
			_ = r.cmd.Process.Signal(os.Interrupt)
		}
	}
	_ = r.cmd.Wait() // how it ended shows in what it wrote
	close(r.ended)
	b.mu.Lock()
	defer b.mu.Unlock()
	if r.meant || b.run != r {
		return
	}
	b.run = nil
	// A demo that is begun again on one folder has its clock behind that of the entries there, where time was made to pass for
	// what cures: its builder may find that held up; or the machine is too busy for his patience. The next one goes on, and a bench
	// that does nothing while something happens fails the test.
	if !strings.Contains(r.text.String(), "the build is done") {
		b.tb.Logf("the builder gave up:\n%s", &r.text)
	}
	if err := b.begin(); err != nil {
		b.tb.Error(err)
	}
}

// end ends its process, by a signal, and waits for that.
func (b *wholeBench) end(how os.Signal) {
	b.mu.Lock()
	r := b.run
	if r != nil {
		r.meant, b.run = true, nil
	}
	b.mu.Unlock()
	if r == nil {
		return
	}
	_ = r.cmd.Process.Signal(how) // it may have ended by itself
	<-r.ended
}

func (b *wholeBench) stop() { b.end(os.Interrupt) }
func (b *wholeBench) kill() { b.end(os.Kill) }

// at is where its page is; empty while it is away.
func (b *wholeBench) at() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.run == nil {
		return ""
	}
	return b.run.page
}

// copied is a copy of its state folder as one makes it by hand, the bench being stopped.
func (b *wholeBench) copied() string {
	b.tb.Helper()
	to := filepath.Join(b.tb.TempDir(), "state")
	b.copyTo(b.dir, to)
	return to
}

// copyTo copies a folder by another process: where this one closed a ledger that it has open too, the system would drop its
// locks on it.
func (b *wholeBench) copyTo(from, to string) {
	b.tb.Helper()
	out, err := exec.Command("cp", "-a", from, to).CombinedOutput()
	if err != nil {
		b.tb.Fatalf("%v: %s", err, out)
	}
	for _, name := range []string{"lock", service.SocketName} {
		if err := os.RemoveAll(filepath.Join(to, name)); err != nil {
			b.tb.Fatal(err)
		}
	}
}

// putBack puts an older copy in the place of its folder, or of some names in it.
func (b *wholeBench) putBack(older string, names ...string) {
	b.tb.Helper()
	if len(names) == 0 {
		if err := os.RemoveAll(b.dir); err != nil {
			b.tb.Fatal(err)
		}
		b.copyTo(older, b.dir)
		return
	}
	for _, name := range names {
		if err := os.RemoveAll(filepath.Join(b.dir, name)); err != nil {
			b.tb.Fatal(err)
		}
		from := filepath.Join(older, name)
		if _, err := os.Stat(from); err != nil {
			continue
		}
		if out, err := exec.Command("cp", "-a", from, b.dir).CombinedOutput(); err != nil {
			b.tb.Fatalf("%v: %s", err, out)
		}
	}
}

// viewer looks at a page and hears its stream for as long as it can, again and again: somebody stands before the screen. It
// counts what it heard.
type viewer struct {
	mu    sync.Mutex
	heard int
}

// look begins; where gives the address of the pages, empty where there are none now.
func (v *viewer) look(ctx context.Context, where func() string) {
	for ctx.Err() == nil {
		if at := where(); at != "" {
			v.once(ctx, at)
		}
		select {
		case <-ctx.Done():
		case <-time.After(500 * time.Millisecond):
		}
	}
}

func (v *viewer) once(ctx context.Context, at string) {
	for _, page := range []string{"/bench", "/stream/bench"} {
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, strings.TrimSuffix(at, "/")+page, nil)
		if err != nil {
			return
		}
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			return
		}
		lines := bufio.NewReader(res.Body)
		for {
			line, err := lines.ReadBytes('\n')
			if res.StatusCode == http.StatusOK && bytes.HasPrefix(line, []byte("data:")) {
				v.mu.Lock()
				v.heard++
				v.mu.Unlock()
			}
			if err != nil {
				break
			}
		}
		_ = res.Body.Close()
	}
}

func (v *viewer) count() int {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.heard
}
