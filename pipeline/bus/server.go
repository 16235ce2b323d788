package bus

import (
	"context"
	"errors"
	"fmt"
	"net"
	"sync"
	"sync/atomic"
	"time"

	"github.com/google/uuid"
	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/rs/zerolog"

	"thoud/pipeline"
	"thoud/store/disk"
)

// Config says where and for which bench a server runs.
type Config struct {
	Bench string
	Dir   string // JetStream's folder
	Log   zerolog.Logger
	// MaxBytes bounds the stream; 0 takes half of the free space, at most 1 GiB.
	MaxBytes int64
	// Synced is how far into which stream the ledger outlives a power cut: only what lies before it is ever forgotten. Nil
	// where the ledger is told by what was asked for next.
	Synced func() pipeline.Position
	// Leaves are the links to hubs.
	Leaves []Leaf
}

// Server is the embedded NATS server, its stream, and the client of this process.
type Server struct {
	cfg      Config
	rights   rights
	stream   string
	gen      string
	full     atomic.Bool   // the disk was full; the server wants a restart once there is room
	failures atomic.Uint64 // to publish, in a row
	restarts atomic.Uint64 // of the embedded server since the start
	recorded atomic.Uint64 // sequence of the last message known to be in the ledger; asked where cfg.Synced is nil

	mu  sync.Mutex // guards srv
	srv *server.Server
	nc  *nats.Conn
	js  jetstream.JetStream
}

const startWait = 10 * time.Second

// Start brings the server up, connects to it within the process and makes or finds the stream.
func Start(ctx context.Context, cfg Config) (*Server, error) {
	if cfg.MaxBytes == 0 {
		free, err := freeSpace(cfg.Dir)
		if err != nil {
			return nil, fmt.Errorf("bus: free space in %s: %w", cfg.Dir, err)
		}
		cfg.MaxBytes = max(min(free/2, 1<<30), 4<<20)
	}
	s := &Server{cfg: cfg, rights: newRights(cfg.Bench), stream: "thoud-" + cfg.Bench}
	if err := s.up(); err != nil {
		return nil, err
	}
	nc, err := nats.Connect("nats://in-process", nats.InProcessServer(s), nats.Name("thoud"), nats.UserInfo(ownUser, s.rights.password),
		nats.MaxReconnects(-1), nats.ReconnectWait(100*time.Millisecond), nats.NoEcho(), nats.ReconnectBufSize(-1))
	if err != nil {
		s.srv.Shutdown()
		return nil, fmt.Errorf("bus: connect within the process: %w", err)
	}
	s.nc = nc
	if s.js, err = jetstream.New(nc); err == nil {
		err = s.findStream(ctx)
	}
	if err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

func (s *Server) up() error {
	opts := &server.Options{
		ServerName: "thoud-" + s.cfg.Bench, Host: "127.0.0.1", DontListen: true, NoSigs: true, NoLog: true,
		JetStream: true, StoreDir: s.cfg.Dir, SyncAlways: true,
		JetStreamMaxStore: s.cfg.MaxBytes + s.cfg.MaxBytes/4, JetStreamMaxMemory: 16 << 20,
		MaxPayload: 1 << 20, MaxConn: 256, MaxSubs: 256,
		CustomClientAuthentication: s.rights,
	}
	if err := s.cfg.link(opts); err != nil {
		return err
	}
	srv, err := server.NewServer(opts)
	if err != nil {
		return fmt.Errorf("bus: %w", err)
	}
	srv.Start()
	if !srv.ReadyForConnections(startWait) {
		srv.Shutdown()
		return fmt.Errorf("bus: the embedded server did not start within %s; is the folder %s writable?", startWait, s.cfg.Dir)
	}
	s.mu.Lock()
	s.srv = srv
	s.mu.Unlock()
	return nil
}

// InProcessConn connects to the server that runs now: after a restart clients find the new one through it.
func (s *Server) InProcessConn() (net.Conn, error) {
	s.mu.Lock()
	srv := s.srv
	s.mu.Unlock()
	if srv == nil {
		return nil, errors.New("bus: the server is not running")
	}
	return srv.InProcessConn()
}

// Restart stops the server and starts it on the same folder: a JetStream that met a full disk needs that once there is
// room. Clients reconnect by themselves.
func (s *Server) Restart() error {
	s.mu.Lock()
	srv := s.srv
	s.srv = nil
	s.mu.Unlock()
	if srv != nil {
		srv.Shutdown()
		srv.WaitForShutdown()
	}
	s.cfg.Log.Info().Msg("bus: restarting the embedded server")
	s.restarts.Add(1)
	return s.up()
}

// Restarts is how often the embedded server was started anew since the start.
func (s *Server) Restarts() uint64 { return s.restarts.Load() }

// Close ends the client first, then the server.
func (s *Server) Close() {
	if s.nc != nil {
		s.nc.Close()
	}
	s.mu.Lock()
	srv := s.srv
	s.srv = nil
	s.mu.Unlock()
	if srv != nil {
		srv.Shutdown()
		srv.WaitForShutdown()
	}
}

// generationKey is the stream's metadata that tells one stream from another of the same name.
const generationKey = "thoud-generation"

func (s *Server) findStream(ctx context.Context) error {
	st, err := s.js.Stream(ctx, s.stream)
	if errors.Is(err, jetstream.ErrStreamNotFound) {
		st, err = s.js.CreateStream(ctx, jetstream.StreamConfig{
			Name: s.stream, Subjects: []string{AllEntries(s.cfg.Bench)}, Storage: jetstream.FileStorage,
			Retention: jetstream.LimitsPolicy, Discard: jetstream.DiscardNew, MaxBytes: s.cfg.MaxBytes,
			Duplicates: 10 * time.Minute, MaxMsgSize: 1 << 20,
			Metadata: map[string]string{generationKey: uuid.NewString()},
		})
	}
	if err != nil {
		return fmt.Errorf("bus: stream %s: %w", s.stream, err)
	}
	s.gen = st.CachedInfo().Config.Metadata[generationKey]
	return nil
}

// Conn is the client of this process.
func (s *Server) Conn() *nats.Conn { return s.nc }

// freeSpace is what an unprivileged writer has left on the file system of a folder, or of its nearest parent that exists.
func freeSpace(dir string) (int64, error) {
	space, err := disk.NearestSpace(dir)
	return space.Free, err
}
