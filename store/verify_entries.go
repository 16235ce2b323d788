package store

import (
	"context"
	"database/sql"
	"fmt"
	"strconv"

	"thoud/calc"
	"thoud/capture/bench"
)

// entries walks the entries in order, each with the results that came of it.
func (v *verifier) entries(ctx context.Context, tx *sql.Tx, runs *runReader) error {
	return eachWalked(ctx, tx, v.bench, func(w walked) error {
		row := "entry " + strconv.FormatUint(w.n, 10)
		if w.bad != nil {
			v.wrong(w.n, row, "cannot be read: %v", w.bad)
		}
		v.before = v.link(row, v.before, w)
		v.noted(row, w)
		v.columns(row, w)
		if !v.parted {
			if err := v.values(ctx, tx, row, w.entry); err != nil {
				return err
			}
		}
		if w.entry.Kind == bench.Withdrawn && !v.parted {
			v.withdraws(w.entry.Refers, w.n)
		}
		if w.reading.id.Valid {
			v.rep.Readings++
			if w.reading.withdrawn.Int64 > 0 {
				v.shown[w.reading.id.String] = uint64(w.reading.withdrawn.Int64)
			}
		}
		v.rep.Entries++
		v.step()
		stored, err := runs.of(w.n)
		if err != nil || w.bad != nil {
			return err
		}
		if v.parted {
			v.holdAll(stored)
			return nil
		}
		return v.bind(ctx, w.entry, stored)
	})
}

// bind folds an entry and holds what would be asked after it against what is stored as asked.
func (v *verifier) bind(ctx context.Context, e bench.Entry, stored []readRun) error {
	v.odd = nil
	if err := v.folder.apply(ctx, e); err != nil {
		return err
	}
	v.rules = v.folder.state.Rules
	own := map[bench.Slot]held{}
	var all []toCompute
	var news []bench.Result
	sameRules := v.rules.Number() == bench.Rules
	for _, r := range stored {
		h, ok := v.hold(r)
		if !ok {
			continue
		}
		own[r.slot] = h
		all, news = append(all, toCompute{run: r.storedRun, result: h.result}), append(news, h.result)
		sameRules = max(r.rules, 1) == bench.Rules
	}
	var bound map[hash]*calc.Request
	if v.check.Bind != nil && v.odd == nil && sameRules {
		bound = v.compare(e, own)
	}
	v.results = v.results.With(news...)
	for _, t := range all {
		t.bound = bound[t.result.Asked]
		v.again.later(t)
	}
	return nil
}

// held is a stored result as it is held against the one that should be there.
type held struct {
	run    storedRun
	result bench.Result
	seen   bool
}

// compare binds an entry's results again, and gives what was asked where it is what is stored, by its hash.
func (v *verifier) compare(e bench.Entry, own map[bench.Slot]held) map[hash]*calc.Request {
	bound := map[hash]*calc.Request{}
	again := v.check.Bind(v.folder.state, e, v.results, func(r bench.Result) calc.Result {
		if h, ok := own[r.Slot()]; ok {
			return h.result.Result
		}
		res, err := calc.Run(r.Request)
		if err != nil {
			res = calc.Result{Method: r.Request.Method, Refused: err.Error()}
		}
		return res
	})
	for _, r := range again {
		h, ok := own[r.Slot()]
		if !ok {
			v.wrong(e.N, fmt.Sprintf("entry %d", e.N), "a result of %s is missing: the entries give one here; what was stored of it is gone", r.Slot())
			continue
		}
		h.seen = true
		own[r.Slot()] = h
		v.rep.Bound++
		if r.Asked == h.result.Asked {
			bound[r.Asked] = &r.Request
		}
		switch {
		case r.Asked != h.result.Asked && (r.Refused == "" || h.result.Refused == ""):
			v.wrong(e.N, h.run.row(), "it was asked of other readings or values than the entries give here; the figures beside it are not this pass's")
		case (r.Refused == "") != (h.result.Refused == ""):
			v.wrong(e.N, h.run.row(), "stored as refused %q, bound again refused %q", h.result.Refused, r.Refused)
		case r.Provisional != h.result.Provisional:
			v.wrong(e.N, h.run.row(), "it is stored as provisional %t, the entries make it provisional %t", h.result.Provisional, r.Provisional)
		}
	}
	for _, h := range own {
		if !h.seen {
			v.wrong(e.N, h.run.row(), "the entries give no result here: it was put in")
		}
	}
	return bound
}

// late goes through what was computed again after it had been told: each stands beside the older one of its entry.
func (v *verifier) late(runs *runReader) error {
	left, err := runs.rest()
	v.holdAll(left)
	return err
}

// holdAll checks results by themselves, which are not bound again.
func (v *verifier) holdAll(all []readRun) {
	for _, r := range all {
		if h, ok := v.hold(r); ok {
			v.again.later(toCompute{run: r.storedRun, result: h.result})
		}
	}
}

// hold checks one result's row by itself; false where it cannot be read.
func (v *verifier) hold(r readRun) (held, bool) {
	v.rep.Results++
	res, err := r.result, r.unreadable
	switch {
	case err != nil:
		v.wrong(r.n, r.row(), "cannot be read: %v", err)
	case res.Slot() != r.slot || res.N != r.n:
		v.wrong(r.n, r.row(), "its bytes say %s, of entry %d", res.Slot(), res.N)
		err = errOther
	case res.Method != r.columns.method || res.Version != r.columns.version || string(res.Verdict) != r.columns.verdict || res.Provisional != r.columns.provisional || res.Rules != r.rules:
		v.wrong(r.n, r.row(), "its columns say %s version %d, verdict %q, its bytes say %s version %d, verdict %q", r.columns.method, r.columns.version, r.columns.verdict, res.Method, res.Version, res.Verdict)
	}
	if err == nil && r.wantRunning != r.running && !r.whole() {
		v.wrong(r.n, r.row(), "the sum over all results up to here is not the one kept with it: a result before it, or this one, was changed, put in or taken out")
	}
	if err != nil {
		v.step()
		return held{}, false
	}
	if !v.parted {
		v.inForce(r.storedRun, res)
	}
	return held{run: r.storedRun, result: res}, true
}

// inForce holds a result's rules and version against those in force at its entry.
func (v *verifier) inForce(r storedRun, res bench.Result) {
	rules := max(r.rules, 1)
	if rules < v.rules.Number() {
		v.wrong(r.n, r.row(), "it was made by rules %d, rules %d were in force: an older program's result was put in its place", rules, v.rules.Number())
	}
	if rules > 1 && !v.named[madeBy{version: rules}] {
		v.wrong(r.n, r.row(), "it was made by rules %d, which no entry names", rules)
	}
	if res.Version < v.rules.Version(res.Method) {
		v.wrong(r.n, r.row(), "it was made by version %d of %s, version %d was in force: an older program's result was put in its place", res.Version, res.Method, v.rules.Version(res.Method))
	}
	if res.Version > 1 && !v.named[madeBy{res.Method, res.Version}] {
		v.wrong(r.n, r.row(), "it was made by version %d of %s, which no entry names", res.Version, res.Method)
	}
}
