package hub

import (
	"crypto/rand"
	"crypto/tls"
	"fmt"
	"net"
	"strconv"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"

	"thoud/pipeline/bus"
)

// ServerConfig says where a hub's own server listens for the links of benches.
type ServerConfig struct {
	Name   string
	Listen string // host:port
	TLS    *tls.Config
}

// Server is a hub's embedded NATS server. It keeps nothing: no stream is a place of a reading here. Only benches that were
// invited get in, each with its key, and each only to its own subjects.
type Server struct {
	cfg      ServerConfig
	srv      *server.Server
	account  *server.Account
	password string
	host     string
	port     int
}

const serverWait = 10 * time.Second

// ownUser is the hub's own connection, within the process.
const ownUser = "hub"

// mostPage is the largest message the hub takes: one entry that fills a message, and what frames it.
const mostPage = 2 << 20

// A link that has died without a word is let go: the bench makes it anew, and finds it dead a little earlier.
const (
	linkSigns   = 30 * time.Second
	linkMissing = 2
)

// greetWait is how long, in seconds, a bench may take to make itself known. Where a thousand link at once to a busy machine, those that
// are cut off while they wait come again at once, and with less patience none of them gets in.
const greetWait = 15

// StartServer begins to listen. benches are those that were invited, by name, with their public keys.
func StartServer(cfg ServerConfig, benches map[string]string) (*Server, error) {
	host, port, err := net.SplitHostPort(cfg.Listen)
	if err != nil {
		return nil, fmt.Errorf("hub: listen on %q: want HOST:PORT: %w", cfg.Listen, err)
	}
	s := &Server{cfg: cfg, account: server.NewAccount("THOUD"), password: rand.Text(), host: host}
	if s.port, err = strconv.Atoi(port); err != nil {
		return nil, fmt.Errorf("hub: listen on %q: the port is not a number", cfg.Listen)
	}
	if s.port == 0 {
		s.port = server.RANDOM_PORT
	}
	// A taken address is found out here: the server itself would end the process.
	l, err := net.Listen("tcp", cfg.Listen)
	if err != nil {
		return nil, fmt.Errorf("hub: listen on %s: %w; is another hub on it? choose another address", cfg.Listen, err)
	}
	if s.port == server.RANDOM_PORT {
		s.port = l.Addr().(*net.TCPAddr).Port
	}
	if err := l.Close(); err != nil {
		return nil, err
	}
	if s.srv, err = server.NewServer(s.options(benches)); err != nil {
		return nil, fmt.Errorf("hub: %w", err)
	}
	s.srv.Start()
	if !s.srv.ReadyForConnections(serverWait) {
		s.Close()
		return nil, fmt.Errorf("hub: the server did not start within %s", serverWait)
	}
	return s, nil
}

func (s *Server) options(benches map[string]string) *server.Options {
	o := &server.Options{
		ServerName: "thoud-hub-" + s.cfg.Name, Host: "127.0.0.1", DontListen: true, NoSigs: true, NoLog: true, MaxPayload: mostPage,
		PingInterval: linkSigns, MaxPingsOut: linkMissing,
		Accounts: []*server.Account{s.account},
		// Rights stand with users at the top: those in the block of the leaf nodes are left aside without a word.
		Users: []*server.User{{Username: ownUser, Password: s.password, Account: s.account, Permissions: bus.HubRights()}},
		LeafNode: server.LeafNodeOpts{Host: s.host, Port: s.port, TLSConfig: s.cfg.TLS, TLSTimeout: greetWait, AuthTimeout: greetWait + 5, NoAdvertise: true,
			IsolateLeafnodeInterest: true, Compression: server.CompressionOpts{Mode: server.CompressionOff}},
	}
	for name, key := range benches {
		o.Nkeys = append(o.Nkeys, &server.NkeyUser{Nkey: key, Account: s.account, Permissions: bus.LeafRights(name),
			AllowedConnectionTypes: map[string]struct{}{"LEAFNODE": {}}})
	}
	return o
}

// Invite changes who may link: a key that is no longer there is let go at once.
func (s *Server) Invite(benches map[string]string) error {
	if err := s.srv.ReloadOptions(s.options(benches)); err != nil {
		return fmt.Errorf("hub: invitations: %w", err)
	}
	return nil
}

// Addr is where it listens.
func (s *Server) Addr() string { return net.JoinHostPort(s.host, strconv.Itoa(s.port)) }

// Connect is the hub's own connection.
func (s *Server) Connect() (*nats.Conn, error) {
	nc, err := nats.Connect("nats://in-process", nats.InProcessServer(s.srv), nats.UserInfo(ownUser, s.password), nats.Name("thoud hub"),
		nats.MaxReconnects(-1), nats.ReconnectWait(100*time.Millisecond), nats.NoEcho())
	if err != nil {
		return nil, fmt.Errorf("hub: connect within the process: %w", err)
	}
	return nc, nil
}

// Close ends it.
func (s *Server) Close() {
	s.srv.Shutdown()
	s.srv.WaitForShutdown()
}
