package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"thoud/cmd/thoud/service"
)

// What the stream has lost and the ledger has is put back into it, so that the newest entries are there twice again: an
// older copy of the ledger, put in its place afterwards, is made whole from the stream.
func TestWhatTheStreamLostIsPutBack(t *testing.T) {
	for name, lose := range map[string]func(t *testing.T, busFolder, older string, n uint64){
		"the folder is gone": func(t *testing.T, busFolder, _ string, _ uint64) {
			if err := os.RemoveAll(busFolder); err != nil {
				t.Fatal(err)
			}
		},
		"a message is damaged": func(t *testing.T, busFolder, _ string, n uint64) { damage(t, busFolder, n-4) },
		"an older copy was put in its place": func(t *testing.T, busFolder, older string, _ uint64) {
			if err := os.RemoveAll(busFolder); err != nil {
				t.Fatal(err)
			}
			if err := os.CopyFS(busFolder, os.DirFS(older)); err != nil {
				t.Fatal(err)
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir, kept, older := t.TempDir(), t.TempDir(), filepath.Join(t.TempDir(), "bus")
			busFolder := filepath.Join(dir, service.BusFolder)
			v := serve(t, dir)
			v.begin()
			v.read(5)
			v.stop()
			copyLedger(t, dir, kept)
			if err := os.CopyFS(older, os.DirFS(busFolder)); err != nil {
				t.Fatal(err)
			}
			v = serve(t, dir)
			v.read(14)
			n := v.must(v.keyed()).N
			v.settled(n)
			v.stop()
			want := whole(t, dir, 20)

			lose(t, busFolder, older, n)
			v = serve(t, dir)
			v.troubled("were put back from the ledger into the stream")
			v.stop()
			if got := whole(t, dir, 20); got.Seal != want.Seal {
				t.Errorf("putting back has changed the ledger")
			}
			// Once is enough: nothing is lost any more at the next start.
			v = serve(t, dir)
			if st := v.status(); len(st.Troubles) > 0 {
				t.Errorf("at the next start: %v", st.Troubles)
			}
			v.stop()

			copyLedger(t, kept, dir)
			whole(t, dir, 5)
			v = serve(t, dir)
			v.settled(n)
			v.stop()
			if got := whole(t, dir, 20); got.Seal != want.Seal || got.Results != want.Results {
				t.Errorf("from the stream: %d entries, seal %.12s…; want %d, %.12s…", got.Entries, got.Seal, want.Entries, want.Seal)
			}
		})
	}
}

// damage changes a byte of the message that holds an entry, as a disk does that fails.
func damage(t *testing.T, busFolder string, n uint64) {
	t.Helper()
	blocks, err := filepath.Glob(filepath.Join(busFolder, "jetstream/*/streams/*/msgs/*.blk"))
	if err != nil || len(blocks) == 0 {
		t.Fatalf("no block of the stream: %v", err)
	}
	block, err := os.ReadFile(blocks[len(blocks)-1])
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(block, fmt.Appendf(nil, `"n":%d,`, n))
	if at < 0 {
		t.Fatalf("entry %d is not in the newest block", n)
	}
	block[at+5] ^= 0x40
	if err := os.WriteFile(blocks[len(blocks)-1], block, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(filepath.Dir(blocks[0]), "index.db")); err != nil {
		t.Fatal(err)
	}
}
