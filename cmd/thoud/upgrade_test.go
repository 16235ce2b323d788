package main

import (
	"bytes"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/cmd/thoud/service"
	"thoud/store"
	"thoud/store/ledgertest"
)

// olderLedgers is where the ledgers of older programs are kept; each has the sheet its own program made of it.
const olderLedgers = "../../testdata/ledger"

// unpackLedger puts an older ledger into a state folder of its own.
func unpackLedger(t *testing.T, name string) (state string) {
	t.Helper()
	state = t.TempDir()
	if err := os.WriteFile(filepath.Join(state, service.LedgerName), ledgertest.Unzip(t, filepath.Join(olderLedgers, name, "ledger.db.gz")), 0o600); err != nil {
		t.Fatal(err)
	}
	return state
}

// thoud runs a command in this process and gives what it wrote to its output and its errors.
func thoud(t *testing.T, args ...string) (out, errs string, code int) {
	t.Helper()
	return thoudIn(t, "", args...)
}

// thoudIn is thoud with something on its standard input.
func thoudIn(t *testing.T, stdin string, args ...string) (out, errs string, code int) {
	t.Helper()
	var o, e bytes.Buffer
	code = mainCode(t.Context(), args, strings.NewReader(stdin), &o, &e)
	return o.String(), e.String(), code
}

// What a sheet says that may never change, whatever happens to its layout, its words and its rounding. An order beside
// "in" is kept, though nothing shows it.
type (
	sheetFacts struct {
		Job   string      `json:"job"`
		Steps []stepFacts `json:"steps"`
	}
	stepFacts struct {
		ID      string      `json:"id"`
		Verdict string      `json:"verdict"`
		InForce int         `json:"in_force"`
		Passes  []passFacts `json:"passes"`
	}
	passFacts struct {
		Number   int            `json:"number"`
		Status   string         `json:"status"`
		Readings []readingFacts `json:"readings"`
		Runs     []runFacts     `json:"runs"`
		Orders   []orderFacts   `json:"adjustments"`
	}
	readingFacts struct {
		Entry     uint64  `json:"entry"`
		ID        string  `json:"id"`
		Point     string  `json:"point"`
		Seating   int     `json:"seating"`
		Gauge     string  `json:"gauge"`
		Keyed     bool    `json:"keyed"`
		Text      string  `json:"text"`
		Raw       string  `json:"raw"`
		Zero      string  `json:"zero"`
		Kind      string  `json:"kind"`
		Value     float64 `json:"value"`
		Withdrawn bool    `json:"withdrawn"`
	}
	runFacts struct {
		Key         string        `json:"key"`
		Entry       uint64        `json:"entry"`
		Provisional bool          `json:"provisional"`
		Version     int           `json:"method_version"`
		GaugeOnly   bool          `json:"gauge_only"`
		Refused     string        `json:"refused"`
		Figures     []figureFacts `json:"figures"`
	}
	figureFacts struct {
		Name    string      `json:"name"`
		Kind    string      `json:"kind"`
		Value   *float64    `json:"value"`
		List    []float64   `json:"list"`
		Grid    [][]float64 `json:"grid"`
		Text    []string    `json:"text"`
		U       float64     `json:"expanded_uncertainty"`
		K       float64     `json:"coverage_factor"`
		Verdict string      `json:"verdict"`
	}
	// An order stands here as it was made, whether it is printed or not: beside a verdict of in it is not.
	orderFacts struct {
		Key  string  `json:"key"`
		What string  `json:"what"`
		Kind string  `json:"kind"`
		Told float64 `json:"told"`
	}
)

func readFacts(t *testing.T, b []byte) sheetFacts {
	t.Helper()
	var f sheetFacts
	if err := json.Unmarshal(b, &f); err != nil {
		t.Fatal(err)
	}
	return f
}

// counted guards the comparison against comparing nothing with nothing.
func (f sheetFacts) counted() (readings, figures, orders int) {
	for _, s := range f.Steps {
		for _, p := range s.Passes {
			readings += len(p.Readings)
			orders += len(p.Orders)
			for _, r := range p.Runs {
				figures += len(r.Figures)
			}
		}
	}
	return readings, figures, orders
}

// A ledger that an older program wrote is brought up to date, is whole, and says what it said: the same readings, and
// the same figures, uncertainties, verdicts and orders to the last bit, because they are read and not computed again.
func TestOlderLedger(t *testing.T) {
	folders, err := filepath.Glob(filepath.Join(olderLedgers, "*", "ledger.db.gz"))
	if err != nil || len(folders) == 0 {
		t.Fatalf("no older ledger in %s: %v", olderLedgers, err)
	}
	for _, path := range folders {
		name := filepath.Base(filepath.Dir(path))
		t.Run(name, func(t *testing.T) {
			state := unpackLedger(t, name)
			s, err := store.Open(t.Context(), filepath.Join(state, service.LedgerName)) // as the service does at its start
			if err != nil {
				t.Fatal(err)
			}
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			if out, errs, code := thoud(t, "--state", state, "verify"); code != 0 {
				t.Errorf("verify: status %d\n%s%s", code, out, errs)
			}
			want := readFacts(t, ledgertest.Unzip(t, filepath.Join(olderLedgers, name, "sheet.json.gz")))
			out, errs, code := thoud(t, "--state", state, "sheet", want.Job, "--format", "json")
			if code != 0 {
				t.Fatalf("sheet: status %d: %s", code, errs)
			}
			if r, f, o := want.counted(); r < 100 || f < 100 || o < 20 {
				t.Fatalf("the kept sheet has only %d readings, %d figures, %d orders", r, f, o)
			}
			got := readFacts(t, []byte(out))
			for i := range min(len(want.Steps), len(got.Steps)) {
				if want.Steps[i].Verdict == "" { // sheets once said nothing of what is computed in steps that read nothing
					got.Steps[i].Verdict = ""
				}
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("the sheet of the older ledger has changed (-then +now):\n%s", diff)
			}
		})
	}
}

// A ledger of a form that this program does not know yet is refused by everything, in words, and not one byte of it is
// touched: the newer program that wrote it finds it as it left it.
func TestNewerLedgerIsRefusedUnharmed(t *testing.T) {
	state := unpackLedger(t, "first-round")
	path := filepath.Join(state, service.LedgerName)
	bumpForm(t, path)
	before := fileSum(t, state)
	backup := filepath.Join(t.TempDir(), "copy.db")
	for _, args := range [][]string{
		{"verify"}, {"sheet", "demo-1"}, {"export"}, {"readings"}, {"build", "list"}, {"backup", backup}, {"run", "--listen", ""},
	} {
		out, errs, code := thoud(t, append([]string{"--state", state}, args...)...)
		if code == 0 || !strings.Contains(errs, "form 1000") || !strings.Contains(errs, "newer") {
			t.Errorf("%v: status %d, %q %q; want a refusal that names the form and the newer program", args, code, out, errs)
		}
	}
	if _, err := os.Stat(backup); err == nil {
		t.Error("backup left a file of a ledger it cannot read")
	}
	if after := fileSum(t, state); after != before {
		t.Error("the ledger's file was changed")
	}
}

func bumpForm(t *testing.T, path string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec("PRAGMA user_version = 1000"); err != nil {
		t.Fatal(err)
	}
}

// fileSum is a check sum of the ledger's own file; what may stand beside it is of no account.
func fileSum(t *testing.T, state string) [32]byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(state, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	return sha256.Sum256(b)
}
