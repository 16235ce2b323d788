package store

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// Report is what a verification found.
type Report struct {
	Entries  int        `json:"entries"`
	Readings int        `json:"readings"`
	Results  int        `json:"results"`
	End      bench.Seal `json:"-"` // of the last entry
	Seal     string     `json:"seal"`
	// Bound is how many results were bound again from the entries: the others were made by older rules, and computed again
	// from what was asked then.
	Bound int `json:"bound"`
	// Derived is how many readings were decoded again from their bytes.
	Derived int       `json:"derived"`
	Wrong   []Finding `json:"wrong,omitempty"`
	// Unknown are results of a method's version that this build does not have: not recomputable by this build, and no fault.
	Unknown []Finding `json:"not_recomputable,omitempty"`
	// Held says against what from outside the ledger was held; "" against nothing.
	Held string `json:"held,omitempty"`
	// Aside is how many messages were set aside: they are no part of the ledger.
	Aside   int `json:"aside,omitempty"`
	running hash
}

// Finding is one row and what is the matter with it.
type Finding struct {
	Row  string `json:"row"`
	What string `json:"what"`

	at uint64 // entry, for the order
}

// Check says what a verification needs besides the ledger. The zero Check walks the seals, holds every row against its
// entry, and computes every result again from what was asked.
type Check struct {
	// Bind gives the results that come of an entry, each answered by answer instead of being computed: what was asked is
	// held against what is stored.
	Bind func(after bench.State, e bench.Entry, inForce bench.Results, answer func(bench.Result) calc.Result) []bench.Result
	// Values decodes bytes again by a gauge's sealed profile: every value of a channel, or of the first that speaks where
	// none is named.
	Values func(profile, channel string, frames [][]byte) ([]quantity.Value, error)
	// Own are the rules and versions of this program: a result that was made anew by them needs no entry that names them, as
	// it is computed again here.
	Own bench.RulesInForce
	// Seals are seals noted elsewhere, by entry: in hex, or the beginning of it.
	Seals map[uint64]string
	// Notes are what was noted and signed elsewhere, the signature checked.
	Notes []Noted
	// Progress hears how many rows of how many are done.
	Progress func(done, total int)
}

// Verify checks a ledger from its entries: it walks the seals, holds every row against its entry, derives the values of
// readings again, folds, binds and computes again, and compares which results there are, what they were asked, their
// figures, uncertainties, verdicts and orders with what is stored. Figures must agree within 1e-9 of the value or 1e-6
// of its uncertainty, uncertainties within 1e-6.
func (s *Store) Verify(ctx context.Context, benchName string, c Check) (Report, error) {
	v := &verifier{check: c, bench: benchName}
	err := s.reading(ctx, func(tx *sql.Tx) error {
		if err := tx.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM entry WHERE bench = ?1) + (SELECT count(*) FROM result WHERE bench = ?1) + (SELECT count(*) FROM run WHERE bench = ?1)`,
			benchName).Scan(&v.total); err != nil {
			return err
		}
		if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM quarantine WHERE bench = ?", benchName).Scan(&v.rep.Aside); err != nil {
			return err
		}
		return v.all(ctx, s, tx)
	})
	v.rep.Seal = v.rep.End.String()
	slices.SortStableFunc(v.rep.Wrong, func(a, b Finding) int { return int(a.at) - int(b.at) })
	return v.rep, s.fault(err)
}

// Also adds what another look at the same ledger found, each thing once.
func (r *Report) Also(found []Finding) {
	for _, f := range found {
		if !slices.ContainsFunc(r.Wrong, func(w Finding) bool { return w.at == f.at && w.What == f.What }) {
			r.Wrong = append(r.Wrong, f)
		}
	}
	slices.SortStableFunc(r.Wrong, func(a, b Finding) int { return int(a.at) - int(b.at) })
}

// verifier goes through a ledger once, entries and results side by side: one goroutine folds and binds, others compute.
type verifier struct {
	check Check
	bench string
	total int

	mu   sync.Mutex // guards rep and done: several compute
	rep  Report
	done int

	folder  *folder
	results bench.Results
	before  link
	rules   *bench.RulesInForce // in force at the entry
	named   map[madeBy]bool     // rules and versions that are named somewhere
	zeros   lastZeros
	odd     error
	again   *recompute

	withdrawn, shown map[string]uint64

	// shared is how many results lie before the line's own; parted says that the line parts from another: its seals, rows and
	// results are checked, but what lies before the parting is that line's, and without it nothing is folded or bound.
	shared int
	parted bool
}

func (v *verifier) wrong(at uint64, row, format string, args ...any) {
	v.mu.Lock()
	defer v.mu.Unlock()
	v.rep.Wrong = append(v.rep.Wrong, Finding{row, fmt.Sprintf(format, args...), at})
}

func (v *verifier) step() {
	v.mu.Lock()
	v.done++
	done := v.done
	v.mu.Unlock()
	if v.check.Progress != nil && (done%64 == 0 || done == v.total) {
		v.check.Progress(done, v.total)
	}
}

func (v *verifier) all(ctx context.Context, s *Store, tx *sql.Tx) error {
	v.withdrawn, v.shown = map[string]uint64{}, map[string]uint64{}
	v.folder = &folder{q: tx, bench: v.bench, fold: s.fold.Reading(), state: bench.State{Bench: v.bench}, keep: manyBuilds,
		odd:    func(err error) { v.odd = err },
		loaded: func(job string, upTo uint64) error { return v.load(ctx, tx, job, upTo) },
		gone:   func(job string) { v.results = v.results.Without(job) }}
	if err := v.namedSomewhere(ctx, tx); err != nil {
		return err
	}
	var err error
	if v.again, err = startRecompute(ctx, s, v); err != nil {
		return err
	}
	defer v.again.stop()
	runs := newRunReader(ctx, tx, v.bench)
	runs.sums = v.sums
	if err := v.begin(ctx, tx, runs); err != nil {
		runs.stop()
		return err
	}
	defer runs.stop()
	err = v.entries(ctx, tx, runs)
	if err == nil {
		err = v.late(runs)
	}
	if err != nil {
		return err
	}
	v.again.stop()
	v.rep.End = v.before.stored
	v.rep.running = runs.running
	v.withdrawals()
	return v.ends(ctx, tx)
}

// begin sets where a line that parts from another begins.
func (v *verifier) begin(ctx context.Context, q queryer, runs *runReader) error {
	from, err := beginOf(ctx, q, v.bench)
	if err != nil {
		return err
	}
	var parent string
	var running []byte
	err = q.QueryRowContext(ctx, "SELECT parent, shared, running FROM line WHERE bench = ?", v.bench).Scan(&parent, &v.shared, &running)
	if errors.Is(err, sql.ErrNoRows) || err == nil && parent == "" {
		return nil
	}
	v.parted = true
	v.before = link{from.N, from.Seal, from.Seal}
	runs.count = v.shared
	copy(runs.running[:], running)
	return err
}

func (v *verifier) load(ctx context.Context, q queryer, job string, upTo uint64) error {
	all, err := newest(ctx, q, v.bench, job, upTo)
	v.results = v.results.With(all...)
	return err
}

// ends holds the ledger's end against its checkpoint, and against what was noted elsewhere.
func (v *verifier) ends(ctx context.Context, q queryer) error {
	var n int64
	if err := q.QueryRowContext(ctx, "SELECT coalesce(max(n), 0) FROM checkpoint WHERE bench = ?", v.bench).Scan(&n); err != nil {
		return err
	}
	if uint64(n) > v.before.n {
		v.wrong(v.before.n, "the end", "the ledger ends with entry %d, its checkpoint says that entry %d was recorded: the last entries are gone; start the service, which fetches from the stream what it still holds, or go back to a backup", v.before.n, n)
	}
	for n := range v.check.Seals {
		if n > v.before.n {
			v.wrong(v.before.n, "the end", "the ledger ends with entry %d, a seal was noted of entry %d: the last entries are gone", v.before.n, n)
		}
	}
	for _, n := range v.check.Notes {
		v.rep.Held = "a note of entry " + fmt.Sprint(n.N)
		if n.N > v.before.n {
			v.wrong(v.before.n, "the end", "the ledger ends with entry %d, the note saw entry %d: the last entries are gone", v.before.n, n.N)
		}
		if have := v.shared + v.rep.Results; n.Results > have {
			v.wrong(v.before.n, "the results", "the ledger has %d results, the note saw %d", have, n.Results)
		}
	}
	if len(v.check.Seals) > 0 && v.rep.Held == "" {
		v.rep.Held = "a seal noted elsewhere"
	}
	return nil
}

// noted holds an entry's seal against the one that was noted elsewhere.
func (v *verifier) noted(row string, w walked) {
	want, ok := v.check.Seals[w.n]
	for _, n := range v.check.Notes {
		if n.N == w.n {
			want, ok = n.Seal, true
		}
	}
	if ok && !strings.HasPrefix(hex.EncodeToString(w.seal[:]), strings.ToLower(want)) {
		v.wrong(w.n, row, "its seal is %s, the one noted elsewhere is %s: this is not the entry that was noted, or something before it is not", w.seal, want)
	}
}

// sums holds the sum over so many results against the notes.
func (v *verifier) sums(count int, running hash) {
	for _, n := range v.check.Notes {
		if n.Results == count && n.Running != hex.EncodeToString(running[:]) {
			v.wrong(n.N, fmt.Sprintf("the first %d results", count), "they sum up to %x…, the note saw %.12s…: a result that was told is not the one that is stored", running[:6], n.Running)
		}
	}
}

// namedSomewhere gathers what rules and versions the ledger names anywhere: a result may be made again later by newer
// ones.
func (v *verifier) namedSomewhere(ctx context.Context, q queryer) error {
	v.named = map[madeBy]bool{}
	name := func(r bench.RulesInForce) {
		v.named[madeBy{version: r.Rules}] = true
		for m, version := range r.Methods {
			v.named[madeBy{m, version}] = true
		}
	}
	name(v.check.Own)
	return eachBody(ctx, q, func(_ uint64, e bench.Entry, bad error) error {
		if bad == nil && e.Rules != nil {
			name(*e.Rules)
		}
		return nil
	}, "SELECT n, body FROM entry WHERE bench = ? AND kind = ? ORDER BY n", v.bench, string(bench.RulesNamed))
}

// madeBy is a version of a method, or of the rules, which have no name.
type madeBy struct {
	method  string
	version int
}

// withdraws notes that an entry withdrew a reading. One whose row says so is settled and need not be kept.
func (v *verifier) withdraws(id string, n uint64) {
	if v.shown[id] == n {
		delete(v.shown, id)
		return
	}
	v.withdrawn[id] = n
}

// withdrawals compares which readings' rows say they were withdrawn with the entries that did it.
func (v *verifier) withdrawals() {
	for id, n := range v.withdrawn {
		if v.shown[id] != n {
			v.wrong(n, "reading "+id, "entry %d withdrew it, its row does not say so; thoud rebuild makes the rows anew", n)
		}
	}
	for id, n := range v.shown {
		if v.withdrawn[id] == 0 {
			v.wrong(n, "reading "+id, "its row says entry %d withdrew it, which it did not; thoud rebuild makes the rows anew", n)
		}
	}
}
