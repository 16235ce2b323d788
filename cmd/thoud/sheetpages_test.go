package main

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

// The sheet of the whole twin is what a customer keeps: six pages at most, on either paper and in either units, from
// whatever form of the plan it was built by.
func TestTheTwinsSheetIsSixPages(t *testing.T) {
	page := regexp.MustCompile(`/Type /Page\b[^s]`)
	for _, ledger := range []string{"second-round", "third-round", "fourth-round"} {
		state := unpackLedger(t, ledger)
		s, err := store.Open(t.Context(), filepath.Join(state, service.LedgerName))
		if err != nil {
			t.Fatal(err)
		}
		name, err := s.Bench(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		builds, err := s.Builds(t.Context(), name)
		if err != nil || len(builds) == 0 {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		for _, paper := range []string{"a4", "letter"} {
			for _, units := range []string{"inch", "mm"} {
				file := filepath.Join(t.TempDir(), "sheet.pdf")
				if _, errs, code := thoud(t, "--state", state, "sheet", builds[0].Job, "--format", "pdf", "--paper", paper, "--units", units, "-o", file); code != exitDone {
					t.Fatal(errs)
				}
				b, err := os.ReadFile(file)
				if err != nil {
					t.Fatal(err)
				}
				if n := len(page.FindAll(b, -1)); n < 2 || n > 6 {
					t.Errorf("%s, %s, %s: %d pages, want two to six", ledger, paper, units, n)
				}
			}
		}
	}
}
