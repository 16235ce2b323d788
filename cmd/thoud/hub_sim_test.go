package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nkeys"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
	"thoud/pipeline/hub"
	"thoud/store"
)

// simBench is a bench as a hub sees it: a ledger in memory, and a link of its own to the hub. It stands for a bench in
// tests with many of them; the tests of the service have whole ones.
type simBench struct {
	tb   testing.TB
	name string
	inv  service.Invitation
	// bend, where not nil, changes an answer to a question before it is sent.
	bend func(what string, question hub.Ask, answer []byte) []byte
	srv  *server.Server
	nc   *nats.Conn

	mu     sync.Mutex
	end    bench.Chain
	base   uint64 // entries and
	run0   int    // results that it has no longer in memory: a hub has them
	sum0   [32]byte
	last   bench.Seal // of the last of those entries
	bodies [][]byte
	seals  []bench.Seal
	runs   []hub.Run
	sums   [][32]byte
}

var _ hub.Source = (*simBench)(nil)

// work makes entries of the size of a reading, each third with a result.
func (b *simBench) work(entries int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for range entries {
		at := time.Now().UnixMicro()
		e, body, err := b.end.Number(bench.Entry{Bench: b.name, ID: service.NewID(), Kind: bench.Answered, At: at, ClockOK: true, By: "sim",
			Place: bench.Place{Build: "17", Step: "deck", Pass: 1, Point: "left.front"}, Reason: strings.Repeat("as long as a reading ", 15)})
		if err == nil {
			b.end, err = b.end.Next(e, body)
		}
		if err != nil {
			b.tb.Error(err)
			return
		}
		b.bodies, b.seals = append(b.bodies, body), append(b.seals, b.end.Seal)
		if e.N%3 == 0 {
			b.result(e)
		}
	}
}

func (b *simBench) result(e bench.Entry) {
	request := fmt.Appendf(nil, `{"method":"deck-height","inputs":{"n":{"num":{"x":%d}}}}`, e.N)
	body, err := json.Marshal(bench.Result{Build: "17", Step: "deck", Pass: 1, Key: "left", N: e.N, At: e.At, Rules: bench.Rules,
		Result: calc.Result{Method: "deck-height", Version: 1, Verdict: calc.VerdictIn}})
	if err != nil {
		b.tb.Error(err)
		return
	}
	// As they are kept: packed in the way "p", which is not at all.
	r := hub.Run{Row: int64(b.run0 + len(b.runs) + 1), Asked: sha256.Sum256(request), Request: append([]byte{'p'}, request...), Body: append([]byte{'p'}, body...)}
	sum, _, err := store.CheckRun(b.sum(b.results()), store.RunRow(r))
	if err != nil {
		b.tb.Error(err)
	}
	b.runs, b.sums = append(b.runs, r), append(b.sums, sum)
}

// results is how many it has.
func (b *simBench) results() int { return b.run0 + len(b.runs) }

func (b *simBench) sum(k int) [32]byte {
	if k <= b.run0 {
		return b.sum0
	}
	return b.sums[k-1-b.run0]
}

// history makes entries straight into a hub's ledger and forgets them.
func (b *simBench) history(s *store.Store, entries int) error {
	begin := &store.Line{Name: b.name, Machine: b.key() + " sim"}
	for left := entries; left > 0; {
		n := min(left, 500)
		b.work(n)
		left -= n
		t := store.Taking{Line: b.name, Begin: begin, Set: func(l *store.Line) { l.At = time.Now().UnixMicro() }}
		begin = nil
		chain := bench.Chain{N: b.base, Seal: b.before()}
		for i, body := range b.bodies {
			e, err := bench.Decode(body)
			if err != nil {
				return err
			}
			chain = bench.Chain{N: e.N, Seal: b.seals[i]}
			t.Entries = append(t.Entries, store.TakenEntry{Entry: e, Body: body, Seal: chain.Seal})
		}
		for _, r := range b.runs {
			t.Runs = append(t.Runs, store.RunRow(r))
		}
		if err := s.Take(context.Background(), []store.Taking{t}); err != nil {
			return err
		}
		b.sum0, b.run0 = b.sum(b.results()), b.results()
		b.base, b.bodies, b.seals, b.runs, b.sums = chain.N, nil, b.seals[len(b.seals)-1:], nil, nil
		b.last, b.seals = b.seals[0], nil
	}
	return nil
}

// before is the seal before the first entry that it has in memory.
func (b *simBench) before() bench.Seal { return b.last }

// key is what its hub knows it by.
func (b *simBench) key() string {
	pair, err := nkeys.FromSeed([]byte(b.inv.Seed))
	if err != nil {
		b.tb.Fatal(err)
	}
	public, err := pair.PublicKey()
	if err != nil {
		b.tb.Fatal(err)
	}
	return public
}

func (b *simBench) Span(_ context.Context, from uint64, most, size int) (hub.Given, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	g := hub.Given{End: b.end, Results: b.results(), Running: b.sum(b.results()), LastRow: int64(b.results()), Known: from <= b.end.N+1 && from > b.base}
	if !g.Known {
		return g, nil
	}
	g.Before = b.last
	if from > b.base+1 {
		g.Before = b.seals[from-b.base-2]
	}
	g.After = g.Before
	for i := from - b.base - 1; i < uint64(len(b.bodies)) && len(g.Bodies) < most && size > 0; i++ {
		g.Bodies, g.After = append(g.Bodies, b.bodies[i]), b.seals[i]
		size -= len(b.bodies[i])
	}
	return g, nil
}

func (b *simBench) RunSpan(_ context.Context, after int64, most, _ int) (hub.GivenRuns, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	k := min(max(int(after), b.run0), b.results())
	g := hub.GivenRuns{Before: b.sum(k), Rows: b.runs[k-b.run0 : min(k-b.run0+most, len(b.runs))]}
	g.After = b.sum(k + len(g.Rows))
	return g, nil
}

func (b *simBench) SealAt(_ context.Context, n uint64) (bench.Seal, bool, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if n <= b.base || n > b.end.N {
		return bench.Seal{}, n == 0, nil
	}
	return b.seals[n-b.base-1], true, nil
}

func (b *simBench) RunAt(_ context.Context, k int) (int64, [32]byte, bool, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if k > b.results() {
		return 0, [32]byte{}, false, nil
	}
	return int64(k), b.sum(k), true, nil
}

// tell says that something was committed, as a bench does.
func (b *simBench) tell() {
	if err := b.nc.Publish(bus.ResultSubject(b.name, ""), []byte("{}")); err != nil {
		b.tb.Error(err)
	}
}

// link connects it to its hub.
func (b *simBench) link() error {
	opts := &server.Options{ServerName: "sim-" + b.name, Host: "127.0.0.1", DontListen: true, NoSigs: true, NoLog: true, MaxPayload: 1 << 20}
	r := &server.RemoteLeafOpts{Nkey: b.inv.Seed, TLSTimeout: 20, RequestIsolation: true, IgnoreDiscoveredServers: true,
		Compression: server.CompressionOpts{Mode: server.CompressionOff}}
	if b.inv.Authority != "" {
		pool := x509.NewCertPool()
		pool.AppendCertsFromPEM([]byte(b.inv.Authority))
		r.TLS, r.TLSConfig = true, &tls.Config{RootCAs: pool, ServerName: b.inv.Server}
	}
	for _, a := range b.inv.Address {
		r.URLs = append(r.URLs, &url.URL{Scheme: "nats-leaf", Host: a})
	}
	opts.LeafNode = server.LeafNodeOpts{ReconnectInterval: time.Second, Remotes: []*server.RemoteLeafOpts{r}}
	var err error
	if b.srv, err = server.NewServer(opts); err != nil {
		return err
	}
	b.srv.Start()
	if !b.srv.ReadyForConnections(20 * time.Second) {
		return errors.New("the simulated bench's server did not start")
	}
	for range 5 { // a thousand at once on one machine: the server's first sign of life may come into the middle of it
		if b.nc, err = nats.Connect("nats://in-process", nats.InProcessServer(b.srv), nats.Timeout(time.Minute)); err == nil {
			break
		}
	}
	if err != nil {
		return err
	}
	a := hub.Answers{Bench: b.name, Machine: "sim", Host: "sim", Source: b}
	for _, what := range []string{hub.AskEntries, hub.AskResults, hub.AskWhere} {
		answer := a.Answer(what)
		if _, err := b.nc.Subscribe(bus.AskSubject(b.name, what), func(m *nats.Msg) {
			page := answer(context.Background(), m.Data)
			if b.bend != nil {
				var q hub.Ask
				if err := json.Unmarshal(m.Data, &q); err != nil {
					b.tb.Error(err)
				}
				page = b.bend(what, q, page)
			}
			if err := m.Respond(page); err != nil && !b.nc.IsClosed() {
				b.tb.Error(err)
			}
		}); err != nil {
			return err
		}
	}
	return b.nc.Flush()
}

func (b *simBench) unlink() {
	b.nc.Close()
	b.srv.Shutdown()
	b.srv.WaitForShutdown()
}

// inLong leaves a test to .ci/long: it waits too long for every day.
func inLong(tb testing.TB, why string) {
	tb.Helper()
	if os.Getenv("THOUD_LONG") == "" {
		tb.Skipf("in .ci/long: %s", why)
	}
}

// hubProcess is a hub as a process of its own.
type hubProcess struct {
	tb   testing.TB
	dir  string
	port string
	args []string // besides
	cmd  *exec.Cmd
	log  *bytes.Buffer
}

func newHubProcess(tb testing.TB, settings string) *hubProcess {
	tb.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		tb.Fatal(err)
	}
	_, port, _ := net.SplitHostPort(l.Addr().String())
	if err := l.Close(); err != nil {
		tb.Fatal(err)
	}
	h := &hubProcess{tb: tb, dir: tb.TempDir(), port: port}
	text := fmt.Sprintf("listen = \"127.0.0.1:%s\"\n%s", port, settings)
	if !strings.Contains(settings, "[monitor]") {
		text += "[monitor]\nlisten = \"\"\n"
	}
	if err := os.WriteFile(filepath.Join(h.dir, service.HubSettingsName), []byte(text), 0o600); err != nil {
		tb.Fatal(err)
	}
	return h
}

func (h *hubProcess) start() {
	h.tb.Helper()
	out := h.startAnyhow()
	select {
	case <-out:
	case <-time.After(patience):
		h.tb.Fatalf("the hub did not start\n%s", h.log)
	}
}

// startAnyhow starts it, and gives where it tells that it is ready.
func (h *hubProcess) startAnyhow() chan string {
	h.tb.Helper()
	h.log = &bytes.Buffer{}
	out := make(chan string, 1)
	h.cmd = exec.Command("thoud", append([]string{"hub", "--state", h.dir}, h.args...)...)
	h.cmd.Stderr = h.log
	h.cmd.Stdout = lineTo(out)
	if err := h.cmd.Start(); err != nil {
		h.tb.Fatal(err)
	}
	h.tb.Cleanup(func() { _ = h.cmd.Process.Kill() }) // gone already, unless the test failed
	return out
}

// lineTo tells when something was written.
type lineTo chan string

func (l lineTo) Write(b []byte) (int, error) {
	select {
	case l <- string(b):
	default:
	}
	return len(b), nil
}

// stop ends it as a service manager does.
func (h *hubProcess) stop() {
	h.tb.Helper()
	if err := h.cmd.Process.Signal(os.Interrupt); err != nil {
		h.tb.Fatal(err)
	}
	if err := h.cmd.Wait(); err != nil {
		h.tb.Fatalf("the hub: %v\n%s", err, h.log)
	}
}

func (h *hubProcess) kill() {
	h.tb.Helper()
	if err := h.cmd.Process.Kill(); err != nil {
		h.tb.Fatal(err)
	}
	_ = h.cmd.Wait() // it was killed
}

// cost is what the process uses: memory in MB, processor time.
func (h *hubProcess) cost() (mb float64, cpu time.Duration) {
	h.tb.Helper()
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", h.cmd.Process.Pid))
	if err != nil {
		h.tb.Skipf("memory of a process cannot be read here: %v", err)
	}
	for line := range strings.Lines(string(b)) {
		var kb float64
		if _, err := fmt.Sscanf(line, "VmRSS: %f kB", &kb); err == nil {
			mb = kb / 1024
		}
	}
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", h.cmd.Process.Pid))
	if err != nil {
		h.tb.Fatal(err)
	}
	fields := strings.Fields(string(stat[bytes.LastIndexByte(stat, ')')+1:]))
	var user, system int64
	if _, err := fmt.Sscan(fields[11]+" "+fields[12], &user, &system); err != nil {
		h.tb.Fatal(err)
	}
	return mb, time.Duration(user+system) * 10 * time.Millisecond // a tick is 10 ms on Linux
}
