package main

import (
	"testing"

	"thoud/capture/bench"
	"thoud/cmd/thoud/service"
	"thoud/store"
)

// withIDs makes entries of the ids of another bench's.
func (b *simBench) withIDs(of [][]byte) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, body := range of {
		e, err := bench.Decode(body)
		if err == nil {
			e.Bench = b.name
			e, body, err = b.end.Number(e)
		}
		if err == nil {
			b.end, err = b.end.Next(e, body)
		}
		if err != nil {
			b.tb.Fatal(err)
		}
		b.bodies, b.seals = append(b.bodies, body), append(b.seals, b.end.Seal)
	}
}

// A bench that was invited, with a key of its own, has what another bench will have told: it sends entries of the ids of that
// one's next ones before they come. The hub takes both: the copy of the other goes on, without an alarm, and each is whole.
func TestABenchThatHoldsAnothersIDsBlocksNothing(t *testing.T) {
	h := newHubProcess(t, "poll = \"300ms\"\n")
	var benches [2]*simBench
	for i, name := range []string{"one", "bold"} {
		inv, err := service.Invite(h.dir, name, []string{"127.0.0.1:" + h.port}, "")
		if err != nil {
			t.Fatal(err)
		}
		benches[i] = &simBench{tb: t, name: name, inv: inv}
	}
	one, bold := benches[0], benches[1]
	one.work(5)
	h.start()
	db := openHub(t, h.dir)
	for _, b := range benches {
		if err := b.link(); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(b.unlink)
	}
	waitEntries(t, h, db, 5, patience)
	// What one will have: made beside it, and told by the other first.
	later := &simBench{tb: t, name: "one", end: one.end}
	later.work(20)
	bold.withIDs(later.bodies)
	bold.tell()
	waitEntries(t, h, db, 25, patience)
	one.withIDs(later.bodies)
	one.tell()
	waitEntries(t, h, db, 45, patience)
	one.work(3)
	one.tell()
	waitEntries(t, h, db, 48, patience)
	r, err := service.ReadHubReport(h.dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range r.Benches {
		if len(b.Alarms) > 0 {
			t.Errorf("bench %s: %v", b.Bench, b.Alarms)
		}
	}
	for _, b := range benches {
		s, err := store.OpenReadOnly(t.Context(), h.dir+"/"+service.LedgerName)
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		if end, err := s.End(t.Context(), b.name); err != nil || end != b.end {
			t.Errorf("the copy of %s ends %v (%v), it ends %v", b.name, end, err, b.end)
		}
		for _, body := range b.bodies {
			e, err := bench.Decode(body)
			if err != nil {
				t.Fatal(err)
			}
			if row, err := s.EntryOf(t.Context(), b.name, e.ID); err != nil || row.Entry.N != e.N {
				t.Errorf("%s: entry %d is not found by its id (%v)", b.name, e.N, err)
			}
		}
	}
}

// Two benches whose entries have the same ids are told each by itself, from readings and their zeros to what is computed again.
func TestBenchesOfTheSameIDsAreToldEachByItself(t *testing.T) {
	hubDir := t.TempDir()
	folders := map[string]string{}
	for _, name := range []string{"bold", "lathe"} {
		folders[name] = stateOfBench(t, name, "lathe")
		takeHistory(t, hubDir, name, folders[name], 0, 0)
	}
	saysTheSame(t, hubDir, folders)
}
