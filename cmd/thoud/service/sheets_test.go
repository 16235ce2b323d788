package service

import (
	"bytes"
	"context"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"thoud/pipeline/monitor"
	"thoud/store"
	"thoud/store/ledgertest"
)

// Many viewers who ask for one sheet get the same bytes, made once; what is recorded later makes it anew.
func TestASheetIsMadeOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ledger.db")
	ledgertest.Unpack(t, path)
	s, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	const note = "thoud note\nbench kept\n\n— kept abc=\n"
	x := newSheets(s, ledgertest.KeptBench, func(context.Context) string { return note })
	get := func() []byte {
		var b bytes.Buffer
		if err := x.Sheet(t.Context(), monitor.SheetAsked{Job: "demo-1", Format: "html", System: "inch"}, &b); err != nil {
			t.Error(err)
		}
		return b.Bytes()
	}
	first := get()
	if !bytes.Contains(first, []byte("thoud note\nbench kept\n")) || !bytes.Contains(first, []byte(`<svg class="code"`)) {
		t.Error("the note that was made does not stand on the sheet")
	}
	time.Sleep(1100 * time.Millisecond) // a sheet made anew would say another second
	var wg sync.WaitGroup
	for range 30 {
		wg.Go(func() {
			if !bytes.Equal(get(), first) {
				t.Error("a sheet of the same entries is another one")
			}
		})
	}
	wg.Wait()
	if len(first) < 1000 || len(x.kept) != 1 {
		t.Errorf("%d bytes, %d sheets kept", len(first), len(x.kept))
	}
	var whole bytes.Buffer
	if err := x.Sheet(t.Context(), monitor.SheetAsked{Job: "demo-1", Format: "html", System: "inch", Readings: true}, &whole); err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(first, []byte("As sent")) || !bytes.Contains(whole.Bytes(), []byte("As sent")) {
		t.Error("the readings stand one by one where they were not asked for, or not where they were")
	}
}
