package service

import (
	"bytes"
	"compress/flate"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/pipeline"
	"thoud/store"
	"thoud/store/ledgertest"
)

// play records the kept build's entries anew, numbered after one that names the rules, with a change to each on the way.
func play(tb testing.TB, path string, change func(*bench.Entry)) bench.Chain {
	tb.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, path)
	if err != nil {
		tb.Fatal(err)
	}
	var chain bench.Chain
	state, results := bench.State{Bench: ledgertest.Bench}, bench.Results{}
	add := func(put store.Put, e bench.Entry) error {
		e, body, err := chain.Number(e)
		if err != nil {
			return err
		}
		if chain, err = chain.Next(e, body); err != nil {
			return err
		}
		if state, err = s.Fold().Apply(state, e); err != nil {
			return err
		}
		news := pipeline.Compute(state, e, results)
		results = results.With(news...)
		return put(e, body, chain.Seal, news, store.Checkpoint{Generation: "g", Seq: chain.N})
	}
	err = s.Batch(ctx, ledgertest.Bench, func(put store.Put) error {
		rules := bench.RulesNow("")
		if err := add(put, bench.Entry{Bench: ledgertest.Bench, ID: "rules-1", Kind: bench.RulesNamed, Rules: &rules, ClockOK: true}); err != nil {
			return err
		}
		_, err := ledgertest.Read(tb).Play(1, func(made ledgertest.Entry) error {
			e, err := bench.Decode(made.Body)
			if err != nil {
				return err
			}
			if change != nil {
				change(&e)
			}
			return add(put, e)
		})
		return err
	})
	if err := errors.Join(err, s.Close()); err != nil {
		tb.Fatal(err)
	}
	return chain
}

// forger changes a ledger's file behind the store's back, as somebody who knows how it is made can.
type forger struct {
	tb testing.TB
	db *sql.DB
}

func (f *forger) do(query string, args ...any) {
	f.tb.Helper()
	done, err := f.db.Exec(query, args...)
	if err != nil {
		f.tb.Fatalf("%s: %v", query, err)
	}
	if n, _ := done.RowsAffected(); n == 0 && (strings.HasPrefix(query, "UPDATE") || strings.HasPrefix(query, "DELETE")) {
		f.tb.Fatalf("%s: no row", query)
	}
}

func (f *forger) unlock() {
	f.do("DROP TRIGGER entry_stays")
	f.do("DROP TRIGGER entry_kept")
}

func plain(tb testing.TB, packed []byte) []byte {
	tb.Helper()
	if packed[0] != 'z' {
		return packed[1:]
	}
	b, err := io.ReadAll(flate.NewReader(bytes.NewReader(packed[1:])))
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

// sumAnew makes the sums over the results right again.
func (f *forger) sumAnew() {
	f.tb.Helper()
	rows, err := f.db.Query("SELECT run.id, run.body, request.hash FROM run JOIN request ON request.id = run.request ORDER BY run.id")
	if err != nil {
		f.tb.Fatal(err)
	}
	sums := map[int64][]byte{}
	var running [32]byte
	for rows.Next() {
		var id int64
		var body, asked []byte
		if err := rows.Scan(&id, &body, &asked); err != nil {
			f.tb.Fatal(err)
		}
		running = sha256.Sum256(bytes.Join([][]byte{running[:], asked, plain(f.tb, body)}, nil))
		sums[id] = bytes.Clone(running[:])
	}
	rows.Close()
	for id, sum := range sums {
		f.do("UPDATE run SET running = ? WHERE id = ?", sum, id)
	}
}

// sealAnew makes every seal right again from an entry on.
func (f *forger) sealAnew(from uint64) {
	f.tb.Helper()
	var before []byte
	if err := f.db.QueryRow("SELECT seal FROM entry WHERE n = ?", from-1).Scan(&before); err != nil {
		f.tb.Fatal(err)
	}
	seal := bench.Seal(before)
	for n := from; ; n++ {
		var body []byte
		err := f.db.QueryRow("SELECT body FROM entry WHERE n = ?", n).Scan(&body)
		if err == sql.ErrNoRows {
			return
		}
		if err != nil {
			f.tb.Fatal(err)
		}
		at := bytes.Index(body, []byte(`"prev":"`)) + len(`"prev":"`)
		copy(body[at:], seal.String())
		seal = seal.After(body)
		f.do("UPDATE entry SET body = ?, seal = ? WHERE n = ?", body, seal[:], n)
	}
}

// editEntry changes what an entry says, and nothing else.
func (f *forger) editEntry(n uint64, change func(*bench.Entry)) {
	f.tb.Helper()
	var body []byte
	if err := f.db.QueryRow("SELECT body FROM entry WHERE n = ?", n).Scan(&body); err != nil {
		f.tb.Fatal(err)
	}
	e, err := bench.Decode(body)
	if err != nil {
		f.tb.Fatal(err)
	}
	change(&e)
	if body, err = json.Marshal(e); err != nil {
		f.tb.Fatal(err)
	}
	f.do("UPDATE entry SET body = ? WHERE n = ?", body, n)
}

// number asks for one number.
func (f *forger) number(query string, args ...any) int64 {
	f.tb.Helper()
	var n int64
	if err := f.db.QueryRow(query, args...).Scan(&n); err != nil {
		f.tb.Fatalf("%s: %v", query, err)
	}
	return n
}

// betterPass finds a result that counts and is out, and a later one of the same run that is in.
func (f *forger) betterPass() (out, in int64) {
	f.tb.Helper()
	err := f.db.QueryRow(`SELECT a.id, b.id FROM run a JOIN run b ON a.build = b.build AND a.step = b.step AND a.key = b.key AND b.pass > a.pass
		WHERE a.verdict = 'out' AND b.verdict = 'in' AND NOT a.provisional AND NOT b.provisional LIMIT 1`).Scan(&out, &in)
	if err != nil {
		f.tb.Fatalf("no run that was out and then in: %v", err)
	}
	return out, in
}

// paste puts the figures of one result over another's, with all that goes with them, and keeps the place.
func (f *forger) paste(from, over int64, withRequest bool) {
	f.tb.Helper()
	body := map[int64]map[string]any{}
	for _, id := range []int64{from, over} {
		var packed []byte
		if err := f.db.QueryRow("SELECT body FROM run WHERE id = ?", id).Scan(&packed); err != nil {
			f.tb.Fatal(err)
		}
		var b map[string]any
		if err := json.Unmarshal(plain(f.tb, packed), &b); err != nil {
			f.tb.Fatal(err)
		}
		body[id] = b
	}
	for _, what := range []string{"figures", "adjustment", "verdict", "warnings", "gauge_only"} {
		body[over][what] = body[from][what]
	}
	text, err := json.Marshal(body[over])
	if err != nil {
		f.tb.Fatal(err)
	}
	f.do("UPDATE run SET body = ?, verdict = (SELECT verdict FROM run AS r WHERE r.id = ?) WHERE id = ?", append([]byte("p"), text...), from, over)
	if withRequest {
		f.do("UPDATE run SET request = (SELECT request FROM run AS r WHERE r.id = ?) WHERE id = ?", from, over)
	}
}

// What a forger can do to a ledger made by this program's rules, each with every sum and seal made right again as far as
// he can, and what verify says of it.
func TestVerifyTellsWhatWasForged(t *testing.T) {
	dir := t.TempDir()
	whole := filepath.Join(dir, "whole.db")
	chain := play(t, whole, nil)
	original, err := os.ReadFile(whole)
	if err != nil {
		t.Fatal(err)
	}
	aReading := func(f *forger) uint64 {
		return uint64(f.number("SELECT n FROM reading WHERE step = 'deck' AND point != 'datum' AND withdrawn = 0 ORDER BY n LIMIT 1"))
	}
	moved := func(e *bench.Entry) {
		r := e.Reading
		r.Raw.N += 254_000 // a thou
		r.Value.N += 254_000
		r.Frames, r.Text = nil, ""
	}
	for _, tt := range []struct {
		name  string
		forge func(f *forger)
		want  string
	}{
		{"nothing", func(*forger) {}, ""},
		{"figures of a later pass pasted over an earlier", func(f *forger) {
			out, in := f.betterPass()
			f.paste(in, out, false)
			f.sumAnew()
		}, "computed again"},
		{"figures of a later pass pasted with what was asked", func(f *forger) {
			out, in := f.betterPass()
			f.paste(in, out, true)
			f.sumAnew()
		}, "asked of other readings or values"},
		{"a result taken out", func(f *forger) {
			out, _ := f.betterPass()
			f.do("DELETE FROM run_reading WHERE run = ?", out)
			f.do("DELETE FROM run WHERE id = ?", out)
			f.sumAnew()
		}, "is missing"},
		{"a result taken out, the sums left", func(f *forger) {
			out, _ := f.betterPass()
			f.do("DELETE FROM run_reading WHERE run = ?", out)
			f.do("DELETE FROM run WHERE id = ?", out)
		}, "the sum over all results"},
		{"a result put in twice", func(f *forger) {
			f.do(`INSERT INTO run (bench, build, step, pass, key, n, method, version, rules, verdict, provisional, request, body, running)
				SELECT bench, build, step, pass, key, n + 1, method, version, rules, verdict, provisional, request, body, running FROM run WHERE id = 1`)
			f.sumAnew()
		}, "its bytes say"},
		{"a verdict's column", func(f *forger) {
			out, _ := f.betterPass()
			f.do("UPDATE run SET verdict = 'in' WHERE id = ?", out)
		}, "its columns say"},
		{"an older program's rules claimed", func(f *forger) {
			out, in := f.betterPass()
			f.paste(in, out, true)
			f.do("UPDATE run SET rules = 1, body = CAST(replace(CAST(body AS TEXT), '\"rules\":"+fmt.Sprint(bench.Rules)+"', '\"rules\":1') AS BLOB) WHERE id = ?", out)
			f.sumAnew()
		}, "rules 1"},
		{"the last entries cut off", func(f *forger) {
			f.unlock()
			f.do("PRAGMA foreign_keys = OFF")
			n := chain.N - 9
			for _, q := range []string{"DELETE FROM reading WHERE n > ?", "DELETE FROM gauge_entry WHERE n > ?", "DELETE FROM entry WHERE n > ?"} {
				if _, err := f.db.Exec(q, n); err != nil {
					f.tb.Fatal(err)
				}
			}
			if _, err := f.db.Exec("DELETE FROM run WHERE n > ?", n); err != nil {
				f.tb.Fatal(err)
			}
		}, "the last entries are gone"},
		{"a reading moved, seals made anew", func(f *forger) {
			f.unlock()
			n := aReading(f)
			f.editEntry(n, moved)
			f.do("UPDATE reading SET base = base + 0.0254 WHERE n = ?", n)
			f.sealAnew(n)
		}, "asked of other readings or values"},
		{"a value moved away from its raw value, seals made anew", func(f *forger) {
			f.unlock()
			n := aReading(f)
			f.editEntry(n, func(e *bench.Entry) { e.Reading.Value.N += 254_000 })
			f.do("UPDATE reading SET base = base + 0.0254 WHERE n = ?", n)
			f.sealAnew(n)
		}, "its raw value and its zero give"},
		{"what was asked changed", func(f *forger) {
			f.do("UPDATE request SET body = CAST('p{}' AS BLOB) WHERE id = 3")
		}, "it was changed after it was stored"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "forged.db")
			if err := os.WriteFile(path, original, 0o600); err != nil {
				t.Fatal(err)
			}
			db, err := sql.Open("sqlite", path)
			if err != nil {
				t.Fatal(err)
			}
			db.SetMaxOpenConns(1)
			tt.forge(&forger{t, db})
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
			rep := verified(t, path, Check())
			if tt.want == "" {
				if len(rep.Wrong) > 0 || rep.Bound < 200 || len(rep.Unknown) > 0 {
					t.Errorf("untouched: %d bound again, %d not recomputable, wrong %v", rep.Bound, len(rep.Unknown), rep.Wrong)
				}
				return
			}
			if !told(rep, tt.want) {
				t.Errorf("verify does not say %q; it says %v", tt.want, rep.Wrong)
			}
		})
	}
}

func verified(tb testing.TB, path string, c store.Check) store.Report {
	tb.Helper()
	s, err := store.OpenReadOnly(context.Background(), path)
	if err != nil {
		tb.Fatal(err)
	}
	defer s.Close()
	rep, err := s.Verify(context.Background(), ledgertest.Bench, c)
	if err != nil {
		tb.Fatal(err)
	}
	return rep
}

func told(rep store.Report, want string) bool {
	for _, f := range rep.Wrong {
		if strings.Contains(f.What, want) {
			return true
		}
	}
	return false
}

// A ledger that is forged from the beginning, every entry and result made anew, is whole in itself: only what was noted
// elsewhere shows it.
func TestAWholeForgeryShowsAgainstANotedSeal(t *testing.T) {
	dir := t.TempDir()
	honest, forged := filepath.Join(dir, "honest.db"), filepath.Join(dir, "forged.db")
	end := play(t, honest, nil)
	play(t, forged, func(e *bench.Entry) {
		if e.Kind == bench.ReadingTaken && e.Place.Step == "deck" && e.Reading.Samples == nil {
			e.Reading.Raw.N += 254_000
			e.Reading.Value.N += 254_000
			e.Reading.Frames, e.Reading.Text = nil, ""
		}
	})
	if rep := verified(t, forged, Check()); len(rep.Wrong) > 0 || rep.Held != "" {
		t.Errorf("by itself: held against %q, wrong %v", rep.Held, rep.Wrong)
	}
	c := Check()
	c.Seals = map[uint64]string{end.N: end.Seal.String()[:16]}
	if rep := verified(t, forged, c); !told(rep, "the one noted elsewhere") || rep.Held == "" {
		t.Errorf("against a noted seal: held %q, wrong %v", rep.Held, rep.Wrong)
	}
	if rep := verified(t, honest, c); len(rep.Wrong) > 0 {
		t.Errorf("the honest ledger against its own seal: %v", rep.Wrong)
	}
	c.Seals = map[uint64]string{end.N + 5: "00"}
	if rep := verified(t, honest, c); !told(rep, "the last entries are gone") {
		t.Errorf("a seal of a later entry: %v", rep.Wrong)
	}
}
