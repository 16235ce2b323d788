package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"

	"thoud/capture/bench"
)

// snapshot is the bench part of a state at one entry, in a file of its own beside the ledger, so that a start need not
// fold all that ever happened. It is no truth: it is used only where the ledger's entry of that number has that seal,
// and its form is the one this program writes; otherwise the entries are folded.
type snapshot struct {
	Form   string             `json:"form"`
	Bench  string             `json:"bench"`
	N      uint64             `json:"n"`
	Seal   string             `json:"seal"`
	Place  bench.Place        `json:"place"`
	Gauges []bench.GaugeState `json:"gauges"`
	Index  []bench.BuildRow   `json:"index"`
	// Recorded are the engines that have a record.
	Recorded []bench.EngineRow   `json:"recorded,omitempty"`
	Rules    *bench.RulesInForce `json:"rules,omitempty"`
	Key      string              `json:"key,omitempty"`
	Lives    []bench.EngineLife  `json:"lives,omitempty"`
	Fitted   []bench.PartLife    `json:"fitted,omitempty"`
	Verbs    []bench.VerbDone    `json:"verbs"`
	Work     []string            `json:"work"` // builds in memory, the one touched last at the end
}

// snapshotForm names the form by the names and types of all that is in it, and the version of the rules that folded it:
// a field that is added to a gauge's state makes another form by itself, without anybody having to think of it.
var snapshotForm = sync.OnceValue(func() string { return formOf(reflect.TypeFor[snapshot]()) })

// formOf names what the types in it and the rules make of it.
func formOf(of reflect.Type) string {
	h := sha256.New()
	fmt.Fprintf(h, "rules %d\n", bench.Rules)
	seen := map[reflect.Type]bool{}
	var describe func(t reflect.Type)
	describe = func(t reflect.Type) {
		fmt.Fprintln(h, t.String(), t.Kind())
		if seen[t] {
			return
		}
		seen[t] = true
		switch t.Kind() {
		case reflect.Pointer, reflect.Slice, reflect.Array:
			describe(t.Elem())
		case reflect.Map:
			describe(t.Key())
			describe(t.Elem())
		case reflect.Struct:
			for i := range t.NumField() {
				f := t.Field(i)
				fmt.Fprintln(h, f.Name, f.Tag)
				describe(f.Type)
			}
		}
	}
	describe(of)
	return hex.EncodeToString(h.Sum(nil)[:8])
}

func (s *Store) snapshotPath() string { return strings.TrimSuffix(s.path, ".db") + ".snapshot" }

// WriteSnapshot keeps the bench part of a state, once the ledger up to it outlives a power cut.
func (s *Store) WriteSnapshot(ctx context.Context, st bench.State, chain bench.Chain) error {
	if st.N != chain.N {
		return fmt.Errorf("snapshot: the state is of entry %d, the seal of entry %d", st.N, chain.N)
	}
	if err := s.AwaitSync(ctx); err != nil {
		return err
	}
	snap := snapshot{Form: snapshotForm(), Bench: st.Bench, N: st.N, Seal: chain.Seal.String(), Place: st.Place, Gauges: st.Gauges, Index: st.Index, Recorded: st.Recorded, Rules: st.Rules, Key: st.Key,
		Lives: st.Lives, Fitted: st.Fitted, Verbs: st.Verbs.All(), Work: st.Touched()}
	body, err := json.Marshal(snap)
	if err != nil {
		return s.fault(fmt.Errorf("snapshot: %w", err))
	}
	sum := sha256.Sum256(body)
	text := append([]byte(hex.EncodeToString(sum[:])+"\n"), body...)
	part := s.snapshotPath() + ".part"
	if err := os.WriteFile(part, text, 0o640); err != nil {
		return fmt.Errorf("snapshot: %w", err)
	}
	if err := os.Rename(part, s.snapshotPath()); err != nil {
		return fmt.Errorf("snapshot: %w", errors.Join(err, os.Remove(part)))
	}
	return nil
}

// snapshotFor reads the snapshot; where none can be used it gives an empty one, and why.
func (s *Store) snapshotFor(ctx context.Context, q queryer, benchName string) (snapshot, string, error) {
	snap, err := readSnapshot(s.snapshotPath())
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return snapshot{}, "there is no snapshot", nil
	case err != nil:
		return snapshot{}, err.Error(), nil
	case snap.Form != snapshotForm():
		return snapshot{}, "the snapshot is of another program's form", nil
	case snap.Bench != benchName:
		return snapshot{}, fmt.Sprintf("the snapshot is bench %q's", snap.Bench), nil
	}
	var found bool
	err = q.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM entry WHERE bench = ? AND n = ? AND hex(seal) = upper(?))", benchName, int64(snap.N), snap.Seal).Scan(&found)
	if err != nil {
		return snapshot{}, "", err
	}
	if !found {
		return snapshot{}, fmt.Sprintf("the snapshot is of an entry %d that this ledger does not have", snap.N), nil
	}
	return snap, "", nil
}

func readSnapshot(path string) (snapshot, error) {
	var snap snapshot
	b, err := os.ReadFile(path)
	if err != nil {
		return snap, err
	}
	sum, body, _ := bytes.Cut(b, []byte("\n"))
	own := sha256.Sum256(body)
	if string(sum) != hex.EncodeToString(own[:]) {
		return snap, fmt.Errorf("the snapshot %s is damaged", filepath.Base(path))
	}
	if err := json.Unmarshal(body, &snap); err != nil {
		return snap, fmt.Errorf("the snapshot %s cannot be read: %w", filepath.Base(path), err)
	}
	return snap, nil
}

// state is the state a snapshot stands for, without its builds.
func (snap snapshot) state(benchName string) bench.State {
	return bench.State{Bench: benchName, N: snap.N, Place: snap.Place, Gauges: snap.Gauges, Index: snap.Index, Recorded: snap.Recorded, Rules: snap.Rules, Key: snap.Key, Lives: snap.Lives, Fitted: snap.Fitted, Verbs: bench.VerbsOf(snap.Verbs)}
}
