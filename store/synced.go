package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// What is committed outlives the process at once; it outlives a power cut once the write-ahead log is forced to the
// disk. That is done right after each commit, beside it: the reading does not wait for it, since the bus has forced the
// same entry to the disk before. One sync is under way at a time and covers all that was committed before it began.
// A checkpoint is no substitute: it syncs nothing while a reader is open.
type syncing struct {
	force     func(path string) error // fdatasync of a file
	wake      chan struct{}
	done      chan struct{} // closed when the syncer has ended
	stop      chan struct{}
	committed Position
	synced    Position
	// commits counts what was committed, forced what of it was forced, back what of it was there when the log was written
	// back last: numbers of entries are each bench's own.
	commits, forced, back uint64
	fault                 error
	changed               chan struct{} // closed at each change of synced or fault
}

// syncAgainAfter is how long the syncer waits after a sync that failed.
const syncAgainAfter = time.Second

// startSyncing forces what is there to the disk and begins to watch for commits.
func (s *Store) startSyncing(ctx context.Context) error {
	at, err := s.position(ctx)
	if err != nil {
		return err
	}
	if err := s.forceLog(); err != nil {
		return fmt.Errorf("sync of the log: %w", err)
	}
	// The names of the files are forced too: SQLite does it for the log only when it syncs it itself.
	if err := syncPath(filepath.Dir(s.path)); err != nil {
		return err
	}
	s.sync.committed, s.sync.synced = at, at
	s.sync.wake, s.sync.stop, s.sync.done = make(chan struct{}, 1), make(chan struct{}), make(chan struct{})
	s.sync.changed = make(chan struct{})
	go s.keepSyncing()
	return nil
}

const walSuffix = "-wal"

// position is where the ledger ends, and its checkpoint.
func (s *Store) position(ctx context.Context) (Position, error) {
	var p Position
	var n, seq int64
	err := s.writer.QueryRowContext(ctx, `SELECT coalesce((SELECT max(n) FROM entry WHERE bench = m.value), 0), coalesce(c.generation, ''), coalesce(c.seq, 0)
		FROM (SELECT coalesce((SELECT value FROM meta WHERE name = 'bench'), '') AS value) AS m LEFT JOIN checkpoint AS c ON c.bench = m.value`).
		Scan(&n, &p.Generation, &seq)
	p.N, p.Seq = uint64(n), uint64(seq)
	return p, err
}

// committed notes what was committed and has it synced.
func (s *Store) committed(p Position) {
	s.mu.Lock()
	s.sync.committed = Position{max(p.N, s.sync.committed.N), p.Checkpoint}
	s.sync.commits++
	s.mu.Unlock()
	select {
	case s.sync.wake <- struct{}{}:
	default: // it will look anyway
	}
}

func (s *Store) keepSyncing() {
	defer close(s.sync.done)
	var quiet <-chan time.Time
	for {
		select {
		case <-s.sync.stop:
			return
		case <-quiet:
			if quiet = nil; s.mergeSome() {
				quiet = time.After(mergeApart)
			}
			continue
		case <-s.sync.wake:
		}
		for {
			s.mu.Lock()
			want, commits := s.sync.committed, s.sync.commits
			s.mu.Unlock()
			err := s.forceLog()
			s.forcedTo(want, commits, err)
			if err == nil {
				s.writeBack(commits)
				quiet = time.After(quietAfter)
				break
			}
			select {
			case <-s.sync.stop:
				return
			case <-time.After(syncAgainAfter):
			}
		}
	}
}

// forcedTo notes what a sync has brought.
func (s *Store) forcedTo(want Position, commits uint64, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.sync.fault = err; err == nil {
		s.sync.synced, s.sync.forced = want, commits
	}
	close(s.sync.changed)
	s.sync.changed = make(chan struct{})
}

// Left to itself SQLite writes the log back into the file in the commit that has made it long, which then waits for two
// syncs or three. So it is done beside the commits, every so many of them; only where the log becomes very long, because
// much is written at once or somebody reads all the time, does a commit do it.
const (
	writeBackEvery = 100  // commits; one of a reading takes about 20 pages
	longestLog     = 8000 // pages, of 4096 bytes
)

// writeBack copies what the log holds, as far as nobody reads before it, into the main file and forces that to the disk,
// where it is time. It holds up neither who reads nor who writes. Where it fails, nothing is lost and nothing need be told:
// the log is forced already and keeps all it has until this succeeds, which is tried after the next commit; a disk that is
// full or broken is told by that commit.
func (s *Store) writeBack(commits uint64) {
	if commits-s.sync.back < writeBackEvery {
		return
	}
	var busy, frames, moved int
	if err := s.back.QueryRow("PRAGMA wal_checkpoint(PASSIVE)").Scan(&busy, &frames, &moved); err == nil {
		s.sync.back = commits
	}
}

// forceLog forces the log to the disk. After a failure the system may take lost pages for written ones, so that another
// try would say yes and mean nothing: then what the log holds is written again, into the main file.
func (s *Store) forceLog() error {
	s.mu.Lock()
	failed := s.sync.fault != nil
	s.mu.Unlock()
	if failed {
		return s.rewriteLog()
	}
	err := s.sync.force(s.path + walSuffix)
	if errors.Is(err, os.ErrNotExist) {
		return nil // nothing was written since the log was written back, which SQLite forces to the disk itself
	}
	return err
}

// rewriteLog writes the log back; SQLite forces the main file to the disk when it does.
func (s *Store) rewriteLog() error {
	var busy, frames, moved int
	if err := s.writer.QueryRow("PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &frames, &moved); err != nil {
		return err
	}
	if busy != 0 || frames > moved {
		return errors.New("the log cannot be written back while somebody reads; it is tried again")
	}
	return nil
}

// Synced is what outlives a power cut.
func (s *Store) Synced() Position {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.sync.synced
}

// SyncFault says why the ledger cannot be forced to the disk; nil where it can.
func (s *Store) SyncFault() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.sync.fault
}

// AwaitSync returns once all that is committed now outlives a power cut.
func (s *Store) AwaitSync(ctx context.Context) error {
	if s.writer == nil {
		return nil
	}
	s.mu.Lock()
	want := s.sync.commits
	for s.sync.forced < want && s.sync.fault == nil {
		changed := s.sync.changed
		s.mu.Unlock()
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-changed:
		}
		s.mu.Lock()
	}
	fault := s.sync.fault
	s.mu.Unlock()
	return s.fault(fault)
}

// stopSyncing ends the syncer after a last sync.
func (s *Store) stopSyncing() error {
	if s.sync.stop == nil {
		return nil
	}
	close(s.sync.stop)
	<-s.sync.done
	if s.sync.forced == s.sync.commits {
		return nil
	}
	return s.forceLog()
}
