package bus_test

import (
	"context"
	"encoding/json"
	"errors"
	"net"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/nats-io/nats.go"

	"thoud/capture/bench"
	"thoud/pipeline"
	"thoud/pipeline/bus"
)

// outsider is a plain NATS client on the socket, as anyone in the group can write one.
type outsider struct {
	*nats.Conn
	mu      sync.Mutex
	refused []string // what the server refused it
}

type unixDialer struct{ path string }

func (d unixDialer) Dial(string, string) (net.Conn, error) { return net.Dial("unix", d.path) }

// MustListen opens the socket of a server.
func MustListen(tb testing.TB, s *bus.Server) (path string) {
	tb.Helper()
	path = filepath.Join(tb.TempDir(), "bus.sock")
	sock, err := s.Listen(path, 0o600)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() {
		if err := sock.Close(); err != nil {
			tb.Error(err)
		}
	})
	return path
}

func mustConnect(tb testing.TB, path string, more ...nats.Option) *outsider {
	tb.Helper()
	o := &outsider{}
	opts := append([]nats.Option{nats.SetCustomDialer(unixDialer{path}), nats.SkipHostLookup(),
		nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) {
			o.mu.Lock()
			defer o.mu.Unlock()
			o.refused = append(o.refused, err.Error())
		})}, more...)
	nc, err := nats.Connect("nats://socket", opts...)
	if err != nil {
		tb.Fatal(err)
	}
	o.Conn = nc
	tb.Cleanup(nc.Close)
	return o
}

// wasRefused waits until the server has refused something that names a subject.
func (o *outsider) wasRefused(subject string) bool {
	for end := time.Now().Add(2 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		o.mu.Lock()
		for _, r := range o.refused {
			if strings.Contains(r, `"`+subject+`"`) {
				o.mu.Unlock()
				return true
			}
		}
		o.mu.Unlock()
	}
	return false
}

// What a client of the socket publishes besides verbs and asks reaches nobody: it can neither forge what the bench
// says nor touch the stream.
func TestAClientMayPublishOnlyVerbsAndAsks(t *testing.T) {
	s := MustStart(t, bus.Config{Dir: t.TempDir()})
	for n := 1; n <= 3; n++ {
		e, body := entry(n, 100)
		insist(t, s, e, body)
	}
	o := mustConnect(t, MustListen(t, s))
	for _, subject := range []string{
		bus.EntrySubject(benchName, "reading"), bus.ResultSubject(benchName, "deck"), bus.LiveSubject(benchName, "dial-1"), bus.NoticeSubject(benchName),
		"$JS.API.STREAM.PURGE.thoud-" + benchName, "$JS.API.STREAM.DELETE.thoud-" + benchName, "$JS.API.STREAM.UPDATE.thoud-" + benchName,
		"$JS.API.STREAM.CREATE.other", "$JS.API.STREAM.MSG.DELETE.thoud-" + benchName, "$JS.API.CONSUMER.CREATE.thoud-" + benchName,
		"$JS.API.INFO", "$SYS.REQ.SERVER.PING", "thoud.other.do.take", "anything",
	} {
		if err := o.Publish(subject, []byte(`{"seq":1}`)); err != nil {
			t.Fatal(err)
		}
		if !o.wasRefused(subject) {
			t.Errorf("publishing on %s was not refused", subject)
		}
	}
	inOrder(t, numbers(t, s, pipeline.Position{}), 1, 3)
}

// A client hears results, live values and notices; not entries, not verbs, not another's answers.
func TestAClientMayHearOnlyWhatIsTold(t *testing.T) {
	s := MustStart(t, bus.Config{Dir: t.TempDir()})
	o := mustConnect(t, MustListen(t, s))
	for _, subject := range []string{">", "thoud.>", bus.AllEntries(benchName), bus.AllVerbs(benchName), "_INBOX.>", "_INBOX.*.*", "$JS.>", "$SYS.>"} {
		if _, err := o.SubscribeSync(subject); err != nil {
			t.Fatal(err)
		}
		if !o.wasRefused(subject) {
			t.Errorf("hearing %s was not refused", subject)
		}
	}
	for _, subject := range []string{bus.AllResults(benchName), bus.AllLive(benchName), bus.NoticeSubject(benchName)} {
		sub, err := o.SubscribeSync(subject)
		if err != nil {
			t.Fatal(err)
		}
		if err := o.Flush(); err != nil {
			t.Fatal(err)
		}
		s.Outcome(bench.Outcome{N: 1})
		s.Live(bench.Live{Gauge: "dial-1"})
		s.Notice(bench.Notice{Words: "held"})
		if _, err := sub.NextMsg(2 * time.Second); err != nil {
			t.Errorf("%s: nothing heard: %v", subject, err)
		}
	}
}

// The bench answers where it is asked to, and it may publish anywhere: a question that asks for the answer to go into
// the stream, or to the server's own commands, is not answered.
func TestAnAnswerGoesToAnInboxOnly(t *testing.T) {
	s := MustStart(t, bus.Config{Dir: t.TempDir()})
	e, body := entry(1, 100)
	insist(t, s, e, body)
	stop, err := s.ServeVerbs(func(context.Context, bench.Verb) bench.Answer { return bench.Answer{OK: true} }, time.Second)
	if err != nil {
		t.Fatal(err)
	}
	defer stop()
	stopStatus, err := s.ServeStatus(func() bench.Status { return bench.Status{} })
	if err != nil {
		t.Fatal(err)
	}
	defer stopStatus()
	o := mustConnect(t, MustListen(t, s))
	told, err := o.SubscribeSync(bus.NoticeSubject(benchName))
	if err != nil {
		t.Fatal(err)
	}
	for _, reply := range []string{bus.EntrySubject(benchName, "reading"), "$JS.API.STREAM.PURGE.thoud-" + benchName, bus.NoticeSubject(benchName)} {
		for _, subject := range []string{bus.VerbSubject(benchName, "take"), bus.AskSubject(benchName, "status")} {
			if err := o.PublishRequest(subject, reply, []byte("{}")); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := o.Flush(); err != nil {
		t.Fatal(err)
	}
	if m, err := told.NextMsg(500 * time.Millisecond); !errors.Is(err, nats.ErrTimeout) {
		t.Errorf("a forged notice: %v, %v", m, err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	f, err := s.Feed(ctx, pipeline.Position{}, true)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	got := 0
	for {
		m, err := f.Next(ctx)
		if errors.Is(err, pipeline.ErrDry) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if got++; string(m.Body) != string(body) {
			t.Errorf("in the stream: %s", m.Body)
		}
	}
	if got != 1 {
		t.Errorf("the stream holds %d messages, want 1", got)
	}
}

// Two commands side by side: neither can read what the other was answered, even knowing its name for inboxes is random.
func TestAClientReadsItsOwnAnswersOnly(t *testing.T) {
	s := MustStart(t, bus.Config{Dir: t.TempDir()})
	stop, err := s.ServeVerbs(func(context.Context, bench.Verb) bench.Answer { return bench.Answer{OK: true, Words: "done"} }, time.Second)
	if err != nil {
		t.Fatal(err)
	}
	defer stop()
	path := MustListen(t, s)
	// A client names itself, and that name is in its inboxes: this is how any NATS tool may use the socket.
	mine := mustConnect(t, path, nats.UserInfo("mmmmmmmmmmmmmmmmmmmmmm", ""), nats.CustomInboxPrefix("_INBOX_mmmmmmmmmmmmmmmmmmmmmm"))
	other := mustConnect(t, path, nats.UserInfo("oooooooooooooooooooooo", ""), nats.CustomInboxPrefix("_INBOX_oooooooooooooooooooooo"))
	for _, subject := range []string{"_INBOX_mmmmmmmmmmmmmmmmmmmmmm.>", "*.>", "_INBOX.>"} {
		if _, err := other.SubscribeSync(subject); err != nil {
			t.Fatal(err)
		}
		if !other.wasRefused(subject) {
			t.Errorf("another client may hear %s", subject)
		}
	}
	m, err := mine.Request(bus.VerbSubject(benchName, "take"), []byte("{}"), 2*time.Second)
	if err != nil {
		t.Fatal(err)
	}
	var a bench.Answer
	if err := json.Unmarshal(m.Data, &a); err != nil || !a.OK {
		t.Errorf("answer %s: %v", m.Data, err)
	}
	for _, name := range []string{"thoud", "short", "*", ">", "a.b", strings.Repeat("x", 100)} {
		if nc, err := nats.Connect("nats://socket", nats.SetCustomDialer(unixDialer{path}), nats.SkipHostLookup(), nats.UserInfo(name, "guess")); err == nil {
			nc.Close()
			t.Errorf("a client named %q was let in", name)
		}
	}
}

// A flood of verbs does not become a flood of waiting work: those over a bound are told at once to ask again.
func TestAFloodOfVerbsIsBounded(t *testing.T) {
	s := MustStart(t, bus.Config{Dir: t.TempDir()})
	var waiting, most atomic.Int32
	free := make(chan struct{})
	stop, err := s.ServeVerbs(func(context.Context, bench.Verb) bench.Answer {
		n := waiting.Add(1)
		for m := most.Load(); n > m && !most.CompareAndSwap(m, n); m = most.Load() {
		}
		<-free
		waiting.Add(-1)
		return bench.Answer{OK: true}
	}, time.Minute)
	if err != nil {
		t.Fatal(err)
	}
	defer stop()
	o := mustConnect(t, MustListen(t, s), nats.UserInfo("mmmmmmmmmmmmmmmmmmmmmm", ""), nats.CustomInboxPrefix("_INBOX_mmmmmmmmmmmmmmmmmmmmmm"))
	const flood = 1000
	inbox := o.NewRespInbox()
	answers, err := o.SubscribeSync(inbox)
	if err != nil {
		t.Fatal(err)
	}
	for range flood {
		if err := o.PublishRequest(bus.VerbSubject(benchName, "take"), inbox, []byte("{}")); err != nil {
			t.Fatal(err)
		}
	}
	refused, done := 0, 0
	next := func() {
		m, err := answers.NextMsg(10 * time.Second)
		if err != nil {
			t.Fatalf("after %d refused, %d done: %v", refused, done, err)
		}
		var a bench.Answer
		if err := json.Unmarshal(m.Data, &a); err != nil {
			t.Fatal(err)
		}
		if a.OK {
			done++
		} else {
			refused++
		}
	}
	for range flood - bus.VerbsAtOnce {
		next()
	}
	close(free)
	for range bus.VerbsAtOnce {
		next()
	}
	if refused != flood-bus.VerbsAtOnce || done != bus.VerbsAtOnce || int(most.Load()) > bus.VerbsAtOnce {
		t.Errorf("%d refused, %d done, %d at once at most; want %d at once", refused, done, most.Load(), bus.VerbsAtOnce)
	}
}
