package service_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thoud/cmd/thoud/service"
	"thoud/pipeline/hub"
)

// A bench whose folder was put back from an older copy is whole again before its ports open, out of what it signed itself.
func TestABenchThatWasPutBackFetchesWhatItLacks(t *testing.T) {
	dir, state := t.TempDir(), t.TempDir()
	h := MustHub(t, dir)
	h.invite("one", state)
	c, stop := MustRunAs(t, state, "one")
	work(t, c, 2)
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	older := t.TempDir()
	copyTree(t, state, older)
	c, stop = MustRunAs(t, state, "one")
	work(t, c, 4)
	h.has("one", state)
	before, err := ledgerOf(t, state).End(t.Context(), "one")
	if err != nil {
		t.Fatal(err)
	}
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(state); err != nil {
		t.Fatal(err)
	}
	copyTree(t, older, state)
	c, _ = MustRunAs(t, state, "one")
	st, err := c.Status(t.Context())
	if err != nil || st.N < before.N {
		t.Fatalf("it begins with entry %d, it had %d (%v)", st.N, before.N, err)
	}
	seal, ok, err := ledgerOf(t, state).SealAt(t.Context(), "one", before.N)
	if err != nil || !ok || seal != before.Seal {
		t.Errorf("entry %d is not what it was", before.N)
	}
	told := false
	for _, n := range st.Troubles {
		told = told || strings.Contains(n.Words, "were fetched from hub hub")
	}
	if !told {
		t.Errorf("not told: %+v", st.Troubles)
	}
	work(t, c, 1)
	h.has("one", state)
	if r := h.report("one"); len(r.Alarms) > 0 || r.Line != "one" {
		t.Errorf("line %s, alarms %v", r.Line, r.Alarms)
	}
}

// A bench that was put back while no hub could be reached, and went on: both histories are kept, one alarm.
func TestABenchThatWentOnFromAnOlderCopy(t *testing.T) {
	dir, state := t.TempDir(), t.TempDir()
	h := MustHub(t, dir)
	h.invite("one", state)
	c, stop := MustRunAs(t, state, "one")
	work(t, c, 2)
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	older := t.TempDir()
	copyTree(t, state, older)
	c, stop = MustRunAs(t, state, "one")
	work(t, c, 4)
	h.has("one", state)
	first, err := ledgerOf(t, dir).End(t.Context(), "one")
	if err != nil {
		t.Fatal(err)
	}
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	if err := h.stop(); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(state); err != nil {
		t.Fatal(err)
	}
	copyTree(t, older, state)
	c, _ = MustRunAs(t, state, "one")
	work(t, c, 2)
	h = MustHub(t, dir)
	r := h.until("one", "a second history", func(r hub.Report) bool { return r.Line == "one~2" && r.N == r.Theirs })
	if !strings.Contains(r.Alarms[hub.AboutFork], "The first is kept whole as one (up to entry "+fmt.Sprint(first.N)) {
		t.Errorf("alarms %v", r.Alarms)
	}
	h.same("one", ledgerOf(t, state), "one~2")
	for _, line := range []string{"one", "one~2"} {
		end, err := ledgerOf(t, dir).End(t.Context(), line)
		if err != nil {
			t.Fatal(err)
		}
		if rep, err := service.VerifyHistory(t.Context(), ledgerOf(t, dir), line, service.Check()); err != nil || len(rep.Wrong) > 0 || rep.Entries != int(end.N) || rep.End != end.Seal {
			t.Errorf("%s at the hub, which ends %v: %+v, %v", line, end, rep, err)
		}
	}
	if end, err := ledgerOf(t, dir).End(t.Context(), "one"); err != nil || end != first {
		t.Errorf("the first history ends %v, it ended %v (%v)", end, first, err)
	}
	work(t, c, 1)
	h.has("one", state)
}

// A stream that is gone, and a ledger put back alone while the stream has the rest: the hub's copy goes on as one history.
func TestAStreamMadeAnewAndALedgerPutBack(t *testing.T) {
	dir, state := t.TempDir(), t.TempDir()
	h := MustHub(t, dir)
	h.invite("one", state)
	c, stop := MustRunAs(t, state, "one")
	work(t, c, 2)
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	older, err := os.ReadFile(filepath.Join(state, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	c, stop = MustRunAs(t, state, "one")
	work(t, c, 3)
	h.has("one", state)
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{service.LedgerName, service.LedgerName + "-wal", service.LedgerName + "-shm"} {
		if err := os.RemoveAll(filepath.Join(state, name)); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(state, service.LedgerName), older, 0o640); err != nil {
		t.Fatal(err)
	}
	c, stop = MustRunAs(t, state, "one")
	work(t, c, 2)
	h.has("one", state)
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(state, service.BusFolder)); err != nil {
		t.Fatal(err)
	}
	c, _ = MustRunAs(t, state, "one")
	work(t, c, 2)
	h.has("one", state)
	if r := h.report("one"); r.Line != "one" || len(r.Alarms) > 0 {
		t.Errorf("report %+v", r)
	}
}
