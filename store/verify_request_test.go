package store_test

import (
	"context"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/store"
)

// What was asked is held against the hash it is kept by, whether it was bound again to that hash or is read.
func TestVerifyFindsARequestThatWasChanged(t *testing.T) {
	for _, tt := range []struct {
		name, sql, what string
	}{
		{"untouched", "", ""},
		{"changed", `UPDATE request SET body = CAST('p' || '{"method":"contact-clearance","inputs":null}' AS BLOB)`, "do not have the hash"},
		{"cannot be unpacked", `UPDATE request SET body = CAST('z' || 'not packed at all' AS BLOB)`, "cannot be unpacked"},
	} {
		for _, bound := range []bool{false, true} {
			t.Run(tt.name, func(t *testing.T) {
				path := filepath.Join(t.TempDir(), store.File)
				s := MustOpenAt(t, path)
				h := &hand{tb: t}
				for _, m := range h.opening() {
					m.record(t, s)
				}
				h.reading("left.start", "0.4120").record(t, s)
				of := h.chain.N + 1
				stored := clearance(t, of)
				stored.Rules = bench.Rules
				h.reading("left.contact", "0.4020").record(t, s, stored)
				if tt.sql != "" {
					tamper(t, path, tt.sql)
				}
				var check store.Check
				if bound {
					asked := askedOf(t, s, stored.Slot())
					check.Bind = func(_ bench.State, e bench.Entry, _ bench.Results, answer func(bench.Result) calc.Result) []bench.Result {
						if e.N != of {
							return nil
						}
						again := stored
						again.Asked = asked
						again.Result = answer(again)
						return []bench.Result{again}
					}
				}
				rep, err := s.Verify(context.Background(), benchName, check)
				if err != nil {
					t.Fatal(err)
				}
				found := slices.DeleteFunc(rep.Wrong, unnamed)
				if bound != (rep.Bound == 1) {
					t.Errorf("%d results bound again", rep.Bound)
				}
				if tt.what == "" {
					if len(found) > 0 {
						t.Errorf("found %v in a ledger that is whole", found)
					}
					return
				}
				if len(found) != 1 || !strings.Contains(found[0].What, tt.what) {
					t.Errorf("found %+v, want one: %s", found, tt.what)
				}
			})
		}
	}
}

// askedOf is the hash of what a stored result was asked.
func askedOf(t *testing.T, s *store.Store, slot bench.Slot) [32]byte {
	t.Helper()
	b, results, err := s.Build(context.Background(), benchName, slot.Build, store.Newest)
	if err != nil {
		t.Fatal(err)
	}
	r, ok := results.Get(slot)
	if !ok {
		t.Fatalf("no result of %s in build %s", slot, b.Job)
	}
	return r.Asked
}
