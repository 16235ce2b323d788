package main

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/jwt/v2"
	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nkeys"

	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
)

// natsServerMain is a NATS server as its keeper runs it, with a file of settings; TestMain runs it.
func natsServerMain() {
	o, err := server.ProcessConfigFile(os.Args[1])
	if err == nil {
		o.NoSigs = true
		var s *server.Server
		if s, err = server.NewServer(o); err == nil {
			s.ConfigureLogger()
			s.Start()
			s.WaitForShutdown()
			return
		}
	}
	fmt.Fprintln(os.Stderr, err)
	os.Exit(1)
}

// natsServer is one, with its settings.
type natsServer struct {
	tb     testing.TB
	config string // file
	leaf   int
	cmd    *exec.Cmd
}

func (s *natsServer) start(settings string) {
	s.tb.Helper()
	if err := os.WriteFile(s.config, []byte(settings), 0o600); err != nil {
		s.tb.Fatal(err)
	}
	var log bytes.Buffer
	s.cmd = exec.Command("nats-server", s.config)
	s.cmd.Stderr = &log
	if err := s.cmd.Start(); err != nil {
		s.tb.Fatal(err)
	}
	cmd := s.cmd
	s.tb.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() }) // gone already, where it was started anew
	for end := time.Now().Add(patience); ; time.Sleep(20 * time.Millisecond) {
		if conn, err := net.Dial("tcp", fmt.Sprintf("127.0.0.1:%d", s.leaf)); err == nil {
			_ = conn.Close()
			return
		} else if time.Now().After(end) {
			s.tb.Fatalf("the server did not start: %v\n%s\n%s", err, &log, settings)
		}
	}
}

func (s *natsServer) kill() { _ = s.cmd.Process.Kill(); _ = s.cmd.Wait() }

// authority signs certificates.
type authority struct {
	tb   testing.TB
	dir  string
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
	file string
}

func newAuthority(tb testing.TB, name string) *authority {
	tb.Helper()
	a := &authority{tb: tb, dir: tb.TempDir()}
	var err error
	if a.key, err = ecdsa.GenerateKey(elliptic.P256(), rand.Reader); err != nil {
		tb.Fatal(err)
	}
	t := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: name}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour),
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}
	der, err := x509.CreateCertificate(rand.Reader, t, t, &a.key.PublicKey, a.key)
	if err == nil {
		a.cert, err = x509.ParseCertificate(der)
	}
	if err != nil {
		tb.Fatal(err)
	}
	a.file = a.write("authority.pem", "CERTIFICATE", der)
	return a
}

func (a *authority) write(name, kind string, der []byte) string {
	path := filepath.Join(a.dir, name)
	if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600); err != nil {
		a.tb.Fatal(err)
	}
	return path
}

// sign makes a server's certificate for a name or an address, good until a moment.
func (a *authority) sign(name string, until time.Time) (cert, key string) {
	a.tb.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		a.tb.Fatal(err)
	}
	serial := big.NewInt(time.Now().UnixNano())
	t := &x509.Certificate{SerialNumber: serial, Subject: pkix.Name{CommonName: "server"}, NotBefore: time.Now().Add(-30 * time.Minute), NotAfter: until,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
	if ip := net.ParseIP(name); ip != nil {
		t.IPAddresses = []net.IP{ip}
	} else {
		t.DNSNames = []string{name}
	}
	der, err := x509.CreateCertificate(rand.Reader, t, a.cert, &k.PublicKey, a.key)
	if err != nil {
		a.tb.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(k)
	if err != nil {
		a.tb.Fatal(err)
	}
	return a.write(serial.String()+".pem", "CERTIFICATE", der), a.write(serial.String()+".key", "PRIVATE KEY", secret)
}

// wrongs are certificates that must not be believed, with the one sentence that is said of each.
func wrongs(shop, other *authority) []struct{ name, cert, key, says string } {
	day := time.Now().Add(time.Hour)
	row := func(name string, a *authority, host string, until time.Time, says string) struct{ name, cert, key, says string } {
		cert, key := a.sign(host, until)
		return struct{ name, cert, key, says string }{name, cert, key, says}
	}
	return []struct{ name, cert, key, says string }{
		row("a wrong authority", other, "127.0.0.1", day, `its certificate is signed by "somebody", which is no authority that counts here`),
		row("an expired one", shop, "127.0.0.1", time.Now().Add(-time.Minute), `its certificate ran out on \d{4}-\d\d-\d\d: it must be renewed there`),
		row("a wrong name", shop, "hub.shop.example", day, `its certificate is made out to hub.shop.example, and it was looked for as 127.0.0.1`),
	}
}

// A hub that was given a certificate of the shop's own authority: a bench that was told of the authority when it joined is
// linked; with what it must not believe it is not, and says why in one sentence; with the right certificate again it is.
func TestAHubWithAGivenCertificate(t *testing.T) {
	shop, other := newAuthority(t, "the shop"), newAuthority(t, "somebody")
	cert, key := shop.sign("127.0.0.1", time.Now().Add(time.Hour))
	h := newHubProcess(t, "poll = \"500ms\"\n")
	settings := func(cert, key string) {
		t.Helper()
		text := fmt.Sprintf("listen = \"127.0.0.1:%s\"\npoll = \"500ms\"\ntls_cert = %q\ntls_key = %q\n[monitor]\nlisten = \"\"\n", h.port, cert, key)
		if err := os.WriteFile(filepath.Join(h.dir, service.HubSettingsName), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	settings(cert, key)
	b := newPlainBench(t, "one")
	file := filepath.Join(t.TempDir(), "invitation")
	must(t, "hub", "invite", "one", "--state", h.dir, "--address", "127.0.0.1:"+h.port, "-o", file)
	must(t, "join", file, "--ca", shop.file, "--state", b.dir)
	h.start()
	b.start()
	defer b.stop()
	b.work(1)
	b.whole(h, time.Minute)
	all := wrongs(shop, other)
	if os.Getenv("THOUD_LONG") == "" {
		all = all[:1] // the others are told in the same words to a hub, below
	}
	for _, w := range all {
		h.kill()
		settings(w.cert, w.key)
		h.start()
		b.work(1)
		saysOf(t, b, w.name, w.says)
	}
	h.kill()
	settings(cert, key)
	h.start()
	b.whole(h, time.Minute)
}

// saysOf waits until the bench's status says something of its hub, and holds it to one line.
func saysOf(t *testing.T, b *plainBench, what, says string) {
	t.Helper()
	line := ""
	for end := time.Now().Add(2 * time.Minute); time.Now().Before(end); time.Sleep(500 * time.Millisecond) {
		line = ""
		for text := range strings.Lines(must(t, "status", "--state", b.dir)) {
			if strings.HasPrefix(text, "hub ") {
				line = text
			}
		}
		if regexp.MustCompile(says).MatchString(line) {
			t.Logf("%s: %s", what, line)
			return
		}
	}
	t.Errorf("%s: the bench says %q, want %q", what, line, says)
}

// A bench with another bench's key is let in as that one, hears nothing of what is asked for itself, and says so.
func TestABenchWithAnothersKey(t *testing.T) {
	inLong(t, "a minute and a half until it is said")
	h := newHubProcess(t, "poll = \"500ms\"\n")
	b := newPlainBench(t, "one")
	b.joins(h)
	other, err := service.Invite(h.dir, "two", []string{"127.0.0.1:" + h.port}, "")
	if err != nil {
		t.Fatal(err)
	}
	own, err := service.Joined(b.dir)
	if err != nil || len(own) != 1 {
		t.Fatal(own, err)
	}
	own[0].Seed = other.Seed
	if err := service.Join(b.dir, "one", own[0]); err != nil {
		t.Fatal(err)
	}
	h.start()
	b.start()
	defer b.stop()
	b.work(1)
	saysOf(t, b, "another bench's key", "hub hub does not ask for it: is the hub running, and was bench one invited by the key that is in this invitation")
	for _, name := range []string{"one", "two"} {
		if n := len(entriesOf(t, h.dir, name)); n > 0 {
			t.Errorf("%d entries of %s are at the hub", n, name)
		}
	}
}

// nkey makes a user's key.
func nkey(tb testing.TB) (public, seed string) {
	tb.Helper()
	pair, err := nkeys.CreateUser()
	if err != nil {
		tb.Fatal(err)
	}
	public, _ = pair.PublicKey()
	s, _ := pair.Seed()
	return public, string(s)
}

// Servers of others, with a file of settings that names users by nkey as the invitation prints them: the hub logs in by its
// seed, the bench links by its invitation, over TLS of the servers' own authority. Of each certificate that must not be
// believed the hub says one sentence; refused for a while, it comes back by itself.
func TestServersOfOthersWithNkeys(t *testing.T) {
	shop, other := newAuthority(t, "the shop"), newAuthority(t, "somebody")
	cert, key := shop.sign("127.0.0.1", time.Now().Add(time.Hour))
	port, leaf := freePort(t), freePort(t)
	s := &natsServer{tb: t, config: filepath.Join(t.TempDir(), "server.conf"), leaf: leaf}
	hubKey, hubSeed := nkey(t)
	seed := filepath.Join(t.TempDir(), "hub.seed")
	if err := os.WriteFile(seed, []byte(hubSeed), 0o600); err != nil {
		t.Fatal(err)
	}
	h := newHubProcess(t, fmt.Sprintf("poll = \"500ms\"\n[nats]\nurl = [\"nats://127.0.0.1:%d\"]\nseed = %q\nca = %q\n", port, seed, shop.file))
	b := newPlainBench(t, "one")
	file := filepath.Join(t.TempDir(), "invitation")
	said := must(t, "hub", "invite", "one", "--state", h.dir, "--address", fmt.Sprintf("127.0.0.1:%d", leaf), "-o", file)
	must(t, "join", file, "--state", b.dir)
	user := regexp.MustCompile(`(?m)^\{.*\}$`).FindString(said)
	if user == "" {
		t.Fatalf("the invitation names no user for the servers:\n%s", said)
	}
	settings := func(cert, key string, users ...string) string {
		tls := fmt.Sprintf("tls { cert_file: %q, key_file: %q }", cert, key)
		return fmt.Sprintf("listen: \"127.0.0.1:%d\"\nmax_payload: 2MB\n%s\nleafnodes { listen: \"127.0.0.1:%d\"\n%s }\naccounts { SHOP { users: [ %s ] } }\n", port, tls, leaf, tls, strings.Join(users, ", "))
	}
	hubUser := fmt.Sprintf("{ nkey: %s }", hubKey)
	for _, w := range wrongs(shop, other) {
		s.start(settings(w.cert, w.key, hubUser, user))
		h.refuses(t, w.name, w.says)
		s.kill()
	}
	s.start(settings(cert, key, user))
	h.refuses(t, "a hub that is not among the users", "it does not let in whoever has these credentials")
	s.kill()
	s.start(settings(cert, key, hubUser, user))
	h.start()
	b.start()
	defer b.stop()
	b.work(2)
	b.whole(h, time.Minute)
	s.kill()
	s.start(settings(cert, key, user))
	time.Sleep(3 * time.Second) // it is refused some times
	b.work(1)
	s.kill()
	s.start(settings(cert, key, hubUser, user))
	t.Logf("refused for a while, the hub has all %s after it is let in again", b.whole(h, time.Minute).Round(100*time.Millisecond))
}

// refuses starts the hub, which must end at once with one sentence.
func (h *hubProcess) refuses(t *testing.T, what, says string) {
	t.Helper()
	cmd := exec.Command("thoud", "hub", "--state", h.dir, "--log-level", "error")
	out := &bytes.Buffer{}
	cmd.Stdout, cmd.Stderr = out, out
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	select {
	case err := <-ended:
		words := strings.TrimSpace(out.String())
		if err == nil || !regexp.MustCompile(says).MatchString(words) || strings.Count(words, "\n") > 0 {
			t.Errorf("%s: the hub ended with %v and said %q, want %q", what, err, words, says)
		}
		t.Logf("%s: %s", what, words)
	case <-time.After(patience):
		_ = cmd.Process.Kill()
		<-ended
		t.Errorf("%s: the hub goes on: %s", what, out)
	}
}

// Servers that an operator keeps, who hands out credentials (JWT with seed): the hub logs in with --creds, the bench's
// invitation carries its own.
func TestServersOfAnOperatorWithCredentials(t *testing.T) {
	shop := newAuthority(t, "the shop")
	cert, key := shop.sign("127.0.0.1", time.Now().Add(time.Hour))
	port, leaf := freePort(t), freePort(t)
	o := newOperator(t)
	s := &natsServer{tb: t, config: filepath.Join(t.TempDir(), "server.conf"), leaf: leaf}
	tls := fmt.Sprintf("tls { cert_file: %q, key_file: %q }", cert, key)
	s.start(fmt.Sprintf("listen: \"127.0.0.1:%d\"\nmax_payload: 2MB\n%s\nleafnodes { listen: \"127.0.0.1:%d\"\n%s }\noperator: %s\nresolver: MEMORY\nresolver_preload: { %s: %s }\n",
		port, tls, leaf, tls, o.jwt, o.accountKey, o.accountJWT))
	h := newHubProcess(t, fmt.Sprintf("poll = \"500ms\"\n[nats]\nurl = [\"nats://127.0.0.1:%d\"]\nca = %q\n", port, shop.file))
	h.refuses(t, "no credentials", "it does not let in whoever has these credentials")
	h.args = []string{"--creds", o.creds("hub", bus.HubRights())}
	b := newPlainBench(t, "one")
	file := filepath.Join(t.TempDir(), "invitation")
	must(t, "hub", "invite", "one", "--state", h.dir, "--address", fmt.Sprintf("127.0.0.1:%d", leaf), "--creds", o.creds("one", bus.LeafRights("one")), "-o", file)
	must(t, "join", file, "--state", b.dir)
	h.start()
	b.start()
	defer b.stop()
	b.work(3)
	b.whole(h, time.Minute)
}

// operator keeps servers.
type operator struct {
	tb                          testing.TB
	account                     nkeys.KeyPair
	jwt, accountKey, accountJWT string
}

func newOperator(tb testing.TB) *operator {
	tb.Helper()
	o := &operator{tb: tb}
	own, err := nkeys.CreateOperator()
	if err == nil {
		o.account, err = nkeys.CreateAccount()
	}
	if err != nil {
		tb.Fatal(err)
	}
	ownKey, _ := own.PublicKey()
	o.accountKey, _ = o.account.PublicKey()
	if o.jwt, err = jwt.NewOperatorClaims(ownKey).Encode(own); err != nil {
		tb.Fatal(err)
	}
	claims := jwt.NewAccountClaims(o.accountKey)
	claims.Name = "SHOP"
	if o.accountJWT, err = claims.Encode(own); err != nil {
		tb.Fatal(err)
	}
	return o
}

// creds makes the credentials of a user with rights.
func (o *operator) creds(name string, rights *server.Permissions) string {
	o.tb.Helper()
	public, seed := nkey(o.tb)
	claims := jwt.NewUserClaims(public)
	claims.Name = name
	claims.Permissions.Pub.Allow = jwt.StringList(rights.Publish.Allow)
	claims.Permissions.Sub.Allow = jwt.StringList(rights.Subscribe.Allow)
	token, err := claims.Encode(o.account)
	if err != nil {
		o.tb.Fatal(err)
	}
	text, err := jwt.FormatUserConfig(token, []byte(seed))
	if err != nil {
		o.tb.Fatal(err)
	}
	file := filepath.Join(o.tb.TempDir(), name+".creds")
	if err := os.WriteFile(file, text, 0o600); err != nil {
		o.tb.Fatal(err)
	}
	return file
}
