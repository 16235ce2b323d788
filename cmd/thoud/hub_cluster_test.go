package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nkeys"

	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
)

// clusterServer is one server of somebody's cluster, as a process of its own: this test binary is it, with its settings in
// the environment.
type clusterServer struct {
	Name                string
	Port, Cluster, Leaf int
	Routes              []string
	Benches             map[string]string // name → public key
	Hubs                []string          // public keys
}

const clusterEnv = "THOUD_TEST_CLUSTER_SERVER"

// runClusterServer runs until it is killed.
func runClusterServer(text string) error {
	var c clusterServer
	if err := json.Unmarshal([]byte(text), &c); err != nil {
		return err
	}
	account := server.NewAccount("SHOP")
	o := &server.Options{ServerName: c.Name, Host: "127.0.0.1", Port: c.Port, NoSigs: true, NoLog: true, MaxPayload: 2 << 20, Accounts: []*server.Account{account},
		Cluster:  server.ClusterOpts{Name: "shop", Host: "127.0.0.1", Port: c.Cluster},
		LeafNode: server.LeafNodeOpts{Host: "127.0.0.1", Port: c.Leaf, Compression: server.CompressionOpts{Mode: server.CompressionOff}}}
	for _, r := range c.Routes {
		o.Routes = append(o.Routes, &url.URL{Scheme: "nats-route", Host: r})
	}
	for name, key := range c.Benches {
		o.Nkeys = append(o.Nkeys, &server.NkeyUser{Nkey: key, Account: account, Permissions: bus.LeafRights(name)})
	}
	for _, key := range c.Hubs {
		o.Nkeys = append(o.Nkeys, &server.NkeyUser{Nkey: key, Account: account, Permissions: bus.HubRights()})
	}
	srv, err := server.NewServer(o)
	if err != nil {
		return err
	}
	srv.Start()
	if !srv.ReadyForConnections(20 * time.Second) {
		return errors.New("not ready")
	}
	srv.WaitForShutdown()
	return nil
}

// clusterServerMain is the process; TestMain runs it.
func clusterServerMain() {
	if err := runClusterServer(os.Getenv(clusterEnv)); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func freePort(tb testing.TB) int {
	tb.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		tb.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

func startClusterServer(tb testing.TB, c clusterServer) *exec.Cmd {
	tb.Helper()
	text, err := json.Marshal(c)
	if err != nil {
		tb.Fatal(err)
	}
	cmd := exec.Command("cluster-server")
	cmd.Env = append(os.Environ(), clusterEnv+"="+string(text))
	if err := cmd.Start(); err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() }) // gone already, unless the test failed
	for end := time.Now().Add(patience); ; time.Sleep(20 * time.Millisecond) {
		conn, err := net.Dial("tcp", fmt.Sprintf("127.0.0.1:%d", c.Leaf))
		if err == nil {
			_ = conn.Close()
			return cmd
		}
		if time.Now().After(end) {
			tb.Fatalf("server %s did not start: %v", c.Name, err)
		}
	}
}

// Three servers of somebody's cluster, as processes, killed in turn while benches work; two hubs as plain clients of it. Both
// ledgers are whole at the end, nothing is lost or there twice.
func TestAnExistingClusterCarriesTheLinks(t *testing.T) {
	servers := make([]clusterServer, 3)
	var routes, urls, leaves []string
	for i := range servers {
		servers[i] = clusterServer{Name: fmt.Sprint("s", i), Port: freePort(t), Cluster: freePort(t), Leaf: freePort(t)}
		routes = append(routes, fmt.Sprintf("127.0.0.1:%d", servers[i].Cluster))
		urls = append(urls, fmt.Sprintf("nats://127.0.0.1:%d", servers[i].Port))
		leaves = append(leaves, fmt.Sprintf("127.0.0.1:%d", servers[i].Leaf))
	}
	const count = 4
	var hubs []*hubProcess
	var hubKeys []string
	seeds := t.TempDir()
	for i := range 2 {
		pair, err := nkeys.CreateUser()
		if err != nil {
			t.Fatal(err)
		}
		public, err := pair.PublicKey()
		if err != nil {
			t.Fatal(err)
		}
		seed, err := pair.Seed()
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(seeds, fmt.Sprint("hub-", i))
		if err := os.WriteFile(file, seed, 0o600); err != nil {
			t.Fatal(err)
		}
		list, err := json.Marshal(urls)
		if err != nil {
			t.Fatal(err)
		}
		hubs = append(hubs, newHubProcess(t, fmt.Sprintf("name = \"hub-%d\"\npoll = \"500ms\"\n[nats]\nurl = %s\nseed = %q\n", i, list, file)))
		hubKeys = append(hubKeys, public)
	}
	benches := make([]*simBench, count)
	keys := map[string]string{}
	for i := range benches {
		name := fmt.Sprint("bench-", i)
		inv, err := service.Invite(hubs[0].dir, name, leaves, "")
		if err != nil {
			t.Fatal(err)
		}
		pair, err := nkeys.FromSeed([]byte(inv.Seed))
		if err != nil {
			t.Fatal(err)
		}
		if keys[name], err = pair.PublicKey(); err != nil {
			t.Fatal(err)
		}
		// The other hub pulls by the link that there is.
		if _, err := service.Invite(hubs[1].dir, name, nil, keys[name]); err != nil {
			t.Fatal(err)
		}
		benches[i] = &simBench{tb: t, name: name, inv: inv}
	}
	running := make([]*exec.Cmd, len(servers))
	for i := range servers {
		servers[i].Benches, servers[i].Hubs, servers[i].Routes = keys, hubKeys, routes
		running[i] = startClusterServer(t, servers[i])
	}
	for _, h := range hubs {
		h.start()
	}
	for _, b := range benches {
		if err := b.link(); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(b.unlink)
	}
	total := 0
	work := func(rounds int) {
		for range rounds {
			for _, b := range benches {
				b.work(1)
				b.tell()
				total++
			}
			time.Sleep(20 * time.Millisecond)
		}
	}
	work(20)
	for i := range servers {
		if err := running[i].Process.Kill(); err != nil {
			t.Fatal(err)
		}
		_ = running[i].Wait() // it was killed
		work(30)
		running[i] = startClusterServer(t, servers[i])
		work(10)
	}
	for _, h := range hubs {
		waitEntries(t, h, openHub(t, h.dir), total, time.Minute)
		wholeAtHub(t, h, benches)
	}
	t.Logf("%d entries of %d benches, at both hubs", total, count)
}
