package bus_test

import (
	"context"
	"net"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nkeys"

	"thoud/capture/bench"
	"thoud/pipeline"
	"thoud/pipeline/bus"
)

// MustUser makes an nkey.
func MustUser(tb testing.TB) (public, seed string) {
	tb.Helper()
	pair, err := nkeys.CreateUser()
	if err != nil {
		tb.Fatal(err)
	}
	public, err = pair.PublicKey()
	if err != nil {
		tb.Fatal(err)
	}
	s, err := pair.Seed()
	if err != nil {
		tb.Fatal(err)
	}
	return public, string(s)
}

// openHub is a hub's server whose own user may do everything, and which allows its leaves everything too where rights are
// nil: what a bench keeps out by itself is seen against it.
func openHub(tb testing.TB, rights func(string) *server.Permissions, benches map[string]string) (address string, nc *nats.Conn) {
	tb.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		tb.Fatal(err)
	}
	address = l.Addr().String()
	port := l.Addr().(*net.TCPAddr).Port
	if err := l.Close(); err != nil {
		tb.Fatal(err)
	}
	account := server.NewAccount("SHOP")
	o := &server.Options{ServerName: "hub", Host: "127.0.0.1", DontListen: true, NoSigs: true, NoLog: true, Accounts: []*server.Account{account},
		Users:    []*server.User{{Username: "own", Password: "own", Account: account}},
		LeafNode: server.LeafNodeOpts{Host: "127.0.0.1", Port: port, NoAdvertise: true, Compression: server.CompressionOpts{Mode: server.CompressionOff}}}
	for name, key := range benches {
		u := &server.NkeyUser{Nkey: key, Account: account}
		if rights != nil {
			u.Permissions = rights(name)
		}
		o.Nkeys = append(o.Nkeys, u)
	}
	srv, err := server.NewServer(o)
	if err != nil {
		tb.Fatal(err)
	}
	srv.Start()
	tb.Cleanup(func() { srv.Shutdown(); srv.WaitForShutdown() })
	if !srv.ReadyForConnections(10 * time.Second) {
		tb.Fatal("the hub's server did not start")
	}
	nc, err = nats.Connect("nats://in-process", nats.InProcessServer(srv), nats.UserInfo("own", "own"))
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(nc.Close)
	return address, nc
}

// Either end alone keeps a hub's verbs, entries and commands of the server out of a bench; with neither the same are
// delivered, so that the test could fail.
func TestNobodyAtAHubCanDoAnythingAtABench(t *testing.T) {
	public, seed := MustUser(t)
	for name, rights := range map[string]func(string) *server.Permissions{"the bench alone": nil, "both ends": bus.LeafRights} {
		t.Run(name, func(t *testing.T) {
			address, nc := openHub(t, rights, map[string]string{benchName: public})
			s := MustStart(t, bus.Config{Dir: t.TempDir(), Leaves: []bus.Leaf{{Hub: "hub", Addresses: []string{address}, Seed: seed}}})
			for n := 1; n <= 3; n++ {
				e, body := entry(n, 100)
				insist(t, s, e, body)
			}
			done := make(chan string, 10)
			stop, err := s.ServeVerbs(func(_ context.Context, v bench.Verb) bench.Answer { done <- v.Name; return bench.Answer{} }, time.Second)
			if err != nil {
				t.Fatal(err)
			}
			defer stop()
			asked := make(chan []byte, 10)
			stopAsks, err := s.ServeAsk("entries", func(_ context.Context, q []byte) []byte { asked <- q; return []byte("page") })
			if err != nil {
				t.Fatal(err)
			}
			defer stopAsks()
			answers, err := nc.SubscribeSync(bus.HubAnswers(benchName))
			if err != nil {
				t.Fatal(err)
			}
			e, forged := entry(4, 100)
			for _, subject := range []string{bus.VerbSubject(benchName, "take"), bus.EntrySubject(benchName, string(e.Kind)),
				"$JS.API.STREAM.PURGE.thoud-" + benchName, "$JS." + benchName + ".API.STREAM.PURGE.thoud-" + benchName, "$JS.API.STREAM.DELETE.thoud-" + benchName} {
				if err := nc.PublishRequest(subject, bus.HubAnswer(benchName, "x"), forged); err != nil {
					t.Fatal(err)
				}
			}
			// A question that comes behind them is answered: they were on their way.
			var m *nats.Msg
			for end := time.Now().Add(10 * time.Second); time.Now().Before(end); {
				if err := nc.PublishRequest(bus.AskSubject(benchName, "entries"), bus.HubAnswer(benchName, "y"), nil); err != nil {
					t.Fatal(err)
				}
				if m, err = answers.NextMsg(200 * time.Millisecond); err == nil && m.Subject == bus.HubAnswer(benchName, "y") && string(m.Data) == "page" {
					break
				}
				m = nil
			}
			if m == nil {
				t.Fatal("the bench did not answer over its link")
			}
			select {
			case v := <-done:
				t.Errorf("the hub's verb %q reached the bench", v)
			default:
			}
			inOrder(t, numbers(t, s, pipeline.Position{}), 1, 3)
		})
	}
}

// A bench hears no other and can speak for no other, whatever it tries at its own server.
func TestABenchSpeaksForItselfAlone(t *testing.T) {
	one, seed1 := MustUser(t)
	two, seed2 := MustUser(t)
	address, nc := openHub(t, bus.LeafRights, map[string]string{"one": one, "two": two})
	s1 := MustStart(t, bus.Config{Bench: "one", Dir: t.TempDir(), Leaves: []bus.Leaf{{Hub: "hub", Addresses: []string{address}, Seed: seed1}}})
	s2 := MustStart(t, bus.Config{Bench: "two", Dir: t.TempDir(), Leaves: []bus.Leaf{{Hub: "hub", Addresses: []string{address}, Seed: seed2}}})
	heard, err := s2.Conn().SubscribeSync("thoud.one.>")
	if err != nil {
		t.Fatal(err)
	}
	heardAnswers, err := s2.Conn().SubscribeSync("thoudhub.one.>")
	if err != nil {
		t.Fatal(err)
	}
	at, err := nc.SubscribeSync(">")
	if err != nil {
		t.Fatal(err)
	}
	for _, subject := range []string{bus.ResultSubject("one", ""), bus.HubAnswer("one", "token"), bus.HubAsk("one", "hub"), bus.AskSubject("one", "status"), bus.EntrySubject("two", "x"), "anything"} {
		if err := s2.Conn().Publish(subject, []byte("forged")); err != nil {
			t.Fatal(err)
		}
	}
	// What each may say arrives, behind what it may not.
	got := map[string]string{}
	for end := time.Now().Add(10 * time.Second); time.Now().Before(end) && (got[bus.ResultSubject("one", "")] == "" || got[bus.ResultSubject("two", "")] == ""); {
		for name, s := range map[string]*bus.Server{"one": s1, "two": s2} {
			if err := s.Conn().Publish(bus.ResultSubject(name, ""), []byte("own")); err != nil {
				t.Fatal(err)
			}
		}
		for m, err := at.NextMsg(100 * time.Millisecond); err == nil; m, err = at.NextMsg(100 * time.Millisecond) {
			if string(m.Data) == "forged" {
				t.Fatalf("%s: forged by bench two", m.Subject)
			}
			got[m.Subject] = string(m.Data)
		}
	}
	if got[bus.ResultSubject("one", "")] == "" || got[bus.ResultSubject("two", "")] == "" {
		t.Fatalf("the hub heard %v", got)
	}
	for _, sub := range []*nats.Subscription{heard, heardAnswers} {
		for m, err := sub.NextMsg(100 * time.Millisecond); err == nil; m, err = sub.NextMsg(100 * time.Millisecond) {
			if string(m.Data) == "own" {
				t.Errorf("bench two heard %s of bench one", m.Subject)
			}
		}
	}
}
