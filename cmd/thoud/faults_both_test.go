package main

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
	"thoud/store"
)

// fault is something that happens to one of the two copies of the entries while the service is down.
type fault struct {
	name string
	do   func(t *testing.T, s stage)
}

// stage is a state folder whose service has stopped, with copies of an earlier state of its parts.
type stage struct {
	dir          string
	n            uint64 // the last entry
	older, early string // folders that hold an older ledger, an older bus
}

func (s stage) bus() string    { return filepath.Join(s.dir, service.BusFolder) }
func (s stage) ledger() string { return filepath.Join(s.dir, service.LedgerName) }

func removed(t *testing.T, paths ...string) {
	t.Helper()
	for _, p := range paths {
		if err := os.RemoveAll(p); err != nil {
			t.Fatal(err)
		}
	}
}

// changedFile changes the byte behind the last place where some bytes stand in a file.
func changedFile(t *testing.T, path string, behind []byte) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.LastIndex(b, behind)
	if at < 0 {
		t.Fatalf("%q is not in %s", behind, path)
	}
	b[at+len(behind)] ^= 0x40
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

func ledgerFaults() []fault {
	return []fault{
		{"ledger whole", func(*testing.T, stage) {}},
		{"ledger gone", func(t *testing.T, s stage) { removed(t, s.ledger(), s.ledger()+"-wal", s.ledger()+"-shm") }},
		{"ledger an older copy", func(t *testing.T, s stage) { copyLedger(t, s.older, s.dir) }},
		{"ledger without its last entries", func(t *testing.T, s stage) { cutLedger(t, s.ledger(), s.n-5) }},
		{"ledger with a byte changed in an entry", func(t *testing.T, s stage) {
			changedFile(t, s.ledger(), fmt.Appendf(nil, `"n":%d,"id":"`, s.n-3))
		}},
		{"ledger with a changed head", func(t *testing.T, s stage) { changedFile(t, s.ledger(), []byte("SQLite for")) }},
		{"ledger cut to half", func(t *testing.T, s stage) {
			info, err := os.Stat(s.ledger())
			if err == nil {
				err = os.Truncate(s.ledger(), info.Size()/2)
			}
			if err != nil {
				t.Fatal(err)
			}
		}},
	}
}

func streamFaults() []fault {
	return []fault{
		{"stream whole", func(*testing.T, stage) {}},
		{"stream gone", func(t *testing.T, s stage) { removed(t, s.bus()) }},
		{"stream an older copy", func(t *testing.T, s stage) {
			removed(t, s.bus())
			if err := os.CopyFS(s.bus(), os.DirFS(s.early)); err != nil {
				t.Fatal(err)
			}
		}},
		{"stream with a late message damaged", func(t *testing.T, s stage) { damage(t, s.bus(), s.n-3) }},
		{"stream with an early message damaged", func(t *testing.T, s stage) { damage(t, s.bus(), 4) }},
		{"stream cut to half", func(t *testing.T, s stage) {
			blocks, err := filepath.Glob(filepath.Join(s.bus(), "jetstream/*/streams/*/msgs/*.blk"))
			if err != nil || len(blocks) == 0 {
				t.Fatalf("no block: %v", err)
			}
			info, err := os.Stat(blocks[0])
			if err == nil {
				err = os.Truncate(blocks[0], info.Size()/2)
			}
			if err != nil {
				t.Fatal(err)
			}
			removed(t, filepath.Join(filepath.Dir(blocks[0]), "index.db"))
		}},
	}
}

// cutLedger deletes the last entries with all that goes with them, and leaves the checkpoint.
func cutLedger(t *testing.T, path string, to uint64) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	for _, q := range []string{"DROP TRIGGER entry_kept", "PRAGMA foreign_keys = OFF"} {
		if _, err := db.Exec(q); err != nil {
			t.Fatal(err)
		}
	}
	for _, table := range []string{"reading", "run", "gauge_entry", "entry"} {
		if _, err := db.Exec("DELETE FROM "+table+" WHERE n > ?", to); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
}

// idsOf are the ids of the readings of a ledger, and whether a verification finds it whole.
func idsOf(t *testing.T, dir string) (ids map[string]bool, sound bool) {
	t.Helper()
	ctx := context.Background()
	ids = map[string]bool{}
	s, err := store.OpenReadOnly(ctx, filepath.Join(dir, service.LedgerName))
	if err != nil {
		return ids, false
	}
	defer s.Close()
	rep, err := s.Verify(ctx, "bench", service.Check())
	sound = err == nil && len(rep.Wrong) == 0
	err = s.EachEntry(ctx, "bench", store.Filter{Kind: bench.ReadingTaken}, func(r store.EntryRow) bool {
		ids[r.Entry.ID] = true
		return true
	})
	return ids, sound && err == nil
}

// began starts a service once and stops it: what it tells, or why it does not start.
func began(t *testing.T, dir string) (told []string, refused error) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	s := &service.Service{Dir: dir, Settings: service.DefaultSettings(), Log: zerolog.Nop()}
	go func() { ended <- s.Run(ctx) }()
	defer cancel()
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		select {
		case err := <-ended:
			return nil, err
		default:
		}
		c, err := bus.Dial(filepath.Join(dir, service.SocketName), "bench")
		if err != nil {
			continue
		}
		st, err := c.Status(ctx)
		c.Close()
		if err != nil {
			continue
		}
		for _, n := range st.Troubles {
			told = append(told, n.Words)
		}
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("it ends with %v", err)
		}
		return told, nil
	}
	t.Fatal("it neither starts nor says why")
	return nil, nil
}

// Every fault of the ledger together with every fault of the stream, single and double: where a reading is lost it is told,
// or the service does not start and says why; where one copy has it nothing is lost, and what is not told is found by
// verify.
func TestEveryFaultOfBothCopies(t *testing.T) {
	s := stage{dir: t.TempDir(), older: t.TempDir(), early: filepath.Join(t.TempDir(), "bus")}
	v := serve(t, s.dir)
	v.begin()
	v.read(6)
	v.stop()
	copyLedger(t, s.dir, s.older)
	if err := os.CopyFS(s.early, os.DirFS(s.bus())); err != nil {
		t.Fatal(err)
	}
	v = serve(t, s.dir)
	v.read(14)
	s.n = v.status().N
	v.settled(s.n)
	v.stop()
	// A backup lies there, as it does in a shop: it is what can be named where both copies are gone.
	if err := errors.Join(os.MkdirAll(filepath.Join(s.dir, service.BackupsFolder), 0o750), os.WriteFile(filepath.Join(s.dir, service.BackupsFolder, "copy.db"), nil, 0o600)); err != nil {
		t.Fatal(err)
	}
	all, sound := idsOf(t, s.dir)
	if len(all) != 20 || !sound {
		t.Fatalf("%d readings, sound %t", len(all), sound)
	}
	counts := map[string]int{}
	for _, ledger := range ledgerFaults() {
		for _, stream := range streamFaults() {
			name := ledger.name + ", " + stream.name
			here := s
			here.dir = filepath.Join(t.TempDir(), "state")
			if err := os.CopyFS(here.dir, os.DirFS(s.dir)); err != nil {
				t.Fatal(err)
			}
			removed(t, filepath.Join(here.dir, service.SocketName))
			ledger.do(t, here)
			stream.do(t, here)
			told, refused := began(t, here.dir)
			left, sound := idsOf(t, here.dir)
			missing := 0
			for id := range all {
				if !left[id] {
					missing++
				}
			}
			switch {
			case refused != nil:
				counts["refused, with why"]++
				if !strings.Contains(refused.Error(), service.LedgerName) {
					t.Errorf("%s: it does not start and says %v", name, refused)
				}
			case missing > 0:
				counts["lost, and told"]++
				if len(told) == 0 {
					t.Errorf("%s: %d readings are gone, and nothing is told", name, missing)
				}
			case !sound:
				counts["nothing gone, verify finds the damage"]++
			default:
				counts["nothing gone, ledger sound"]++
			}
			single := ledger.name == "ledger whole" || stream.name == "stream whole"
			if single && refused == nil && missing > 0 {
				t.Errorf("%s: one copy was whole, and %d readings are gone: %v", name, missing, told)
			}
			t.Logf("%s: %d gone, sound %t, told %d, refused %v", name, missing, sound, len(told), refused)
		}
	}
	t.Logf("%d pairs of faults: %v", len(ledgerFaults())*len(streamFaults()), counts)
}
