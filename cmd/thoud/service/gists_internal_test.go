package service

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"thoud/capture/bench"
	"thoud/store"
	"thoud/store/ledgertest"
)

// Of builds of which nothing was kept a look reckons up a few and tells how many are left; the next goes on from there. In the
// end it is what one look without haste gives, and nothing is folded any more. What is filled in the background is the same.
func TestALookReckonsAFewAndTheNextGoesOn(t *testing.T) {
	ctx := t.Context()
	ledger := func() *store.Store {
		s, err := store.Open(ctx, filepath.Join(t.TempDir(), LedgerName))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { s.Close() })
		_, err = ledgertest.Read(t).Recorded(3_000, func(e bench.Entry, body []byte, seal bench.Seal, results []bench.Result, seq uint64) error {
			return s.Record(ctx, ledgertest.Bench, e, body, seal, results, store.Checkpoint{Generation: "made", Seq: seq})
		})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	s := ledger()
	want := store.GistWant{Large: true, Seatings: true, Figures: true}
	hasty := gists{s: s, in: ledgertest.Bench, most: time.Nanosecond}
	all, left, err := hasty.get(ctx, want)
	if err != nil || len(all) < 3 || left != len(all)-1 || !all[len(all)-1].Fresh {
		t.Fatalf("the first look: %d builds, %d left, %v; want all but the newest left", len(all), left, err)
	}
	for looks := 1; left > 0; looks++ {
		was := left
		if _, left, err = hasty.get(ctx, want); err != nil || left != was-1 {
			t.Fatalf("look %d: %d left after %d, %v", looks, left, was, err)
		}
	}
	end, ok := s.TryReckon() // nobody else may reckon: what is kept is enough
	if !ok {
		t.Fatal("nobody looks, and still nobody may reckon")
	}
	kept, left, err := hasty.get(ctx, want)
	end()
	if err != nil || left != 0 {
		t.Fatalf("with all of it kept %d are left, %v", left, err)
	}
	other := ledger()
	folded, _, err := gists{s: other, in: ledgertest.Bench}.get(ctx, want)
	if err != nil {
		t.Fatal(err)
	}
	same := cmp.Options{cmpopts.EquateEmpty(), cmpopts.IgnoreUnexported(store.KeptBuild{})}
	if diff := cmp.Diff(folded, kept, same); diff != "" {
		t.Errorf("(-folded +kept by looks):\n%s", diff)
	}
	third := ledger()
	if err := fillKept(ctx, third, ledgertest.Bench); err != nil {
		t.Fatal(err)
	}
	filled, err := third.Gists(ctx, ledgertest.Bench, want)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(folded, filled, same); diff != "" {
		t.Errorf("(-folded +kept in the background):\n%s", diff)
	}
}
