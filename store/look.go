package store

import (
	"context"
	"fmt"
	"strings"
)

// way is an index by which entries can be looked for: where its entries stand, in the order of their numbers.
type way struct {
	from string // table and index
	n    string // the column with the entry's number, or the entry's row
	cond string
	args []any
}

// fewEntries is how many entries are looked through without asking whether another way has fewer.
const fewEntries = 2000

// ways lists the indexes that a filter could go by, the narrower first where it is plain which that is.
func (f Filter) ways(benchName string) []way {
	var out []way
	add := func(from, n, cond string, args ...any) { out = append(out, way{from, n, cond, args}) }
	if f.Build != "" {
		add("entry AS by INDEXED BY entry_build", "by.n", "by.bench = ? AND by.build = ?", benchName, f.Build)
	}
	kind := string(f.Kind)
	switch {
	case f.Gauge != "" && f.Kind != "":
		add("gauge_entry AS by", "by.n", "by.bench = ? AND by.gauge = ? AND by.kind = ?", benchName, f.Gauge, kind)
	case f.Gauge != "":
		add("gauge_entry AS by INDEXED BY gauge_entry_n", "by.n", "by.bench = ? AND by.gauge = ?", benchName, f.Gauge)
	}
	switch {
	case f.Step != "" && f.Kind != "":
		add("entry AS by INDEXED BY entry_step_kind", "by.n", "by.bench = ? AND by.step = ? AND by.kind = ?", benchName, f.Step, kind)
	case f.Step != "":
		add("entry AS by INDEXED BY entry_step", "by.n", "by.bench = ? AND by.step = ?", benchName, f.Step)
	case f.Kind != "" && f.Gauge == "":
		add("entry AS by INDEXED BY entry_kind", "by.n", "by.bench = ? AND by.kind = ?", benchName, kind)
	}
	if f.indexed() {
		add("said", saidRow, "said MATCH ?", likely(f.Text))
	}
	return out
}

// between narrows a way to a range of numbers.
func (f Filter) between(benchName string, w way) way {
	// A bench's entries are stored in the order of their numbers, so that its rows are in that order too.
	edge := func(op, n string, args ...any) {
		w.cond += " AND " + w.n + op + n
		w.args = append(w.args, args...)
	}
	switch {
	case f.From > 0 && w.n == saidRow:
		edge(" >= ", "(SELECT rowid FROM entry WHERE bench = ? AND n >= ? ORDER BY n LIMIT 1)", benchName, int64(f.From))
	case f.From > 0:
		edge(" >= ", "?", int64(f.From))
	}
	switch {
	case f.To > 0 && w.n == saidRow:
		edge(" <= ", "(SELECT rowid FROM entry WHERE bench = ? AND n <= ? ORDER BY n DESC LIMIT 1)", benchName, int64(f.To))
	case f.To > 0:
		edge(" <= ", "?", int64(f.To))
	}
	return w
}

// saidRow is the row of what an entry says: that of the entry itself.
const saidRow = "said.rowid"

// narrowest picks the way with the fewest entries; each is counted only as far as it matters.
func (f Filter) narrowest(ctx context.Context, q queryer, benchName string) (way, error) {
	ways := f.ways(benchName)
	if len(ways) == 0 {
		return f.between(benchName, way{"entry AS by", "by.n", "by.bench = ?", []any{benchName}}), nil
	}
	best, fewest := ways[len(ways)-1], fewEntries
	for _, w := range ways {
		if len(ways) == 1 {
			break
		}
		var count int
		w := f.between(benchName, w)
		text := fmt.Sprintf("SELECT count(*) FROM (SELECT 1 FROM %s WHERE %s LIMIT %d)", w.from, w.cond, fewEntries)
		if err := q.QueryRowContext(ctx, text, w.args...).Scan(&count); err != nil {
			return best, err
		}
		if count < fewest {
			best, fewest = w, count
		}
	}
	if fewest == fewEntries {
		return f.between(benchName, best), nil
	}
	return best, nil
}

// entries is the query for the entries that pass a filter, but for its text, which only the entry itself can answer.
func (f Filter) entries(ctx context.Context, q queryer, benchName string) (string, []any, error) {
	w, err := f.narrowest(ctx, q, benchName)
	if err != nil {
		return "", nil, err
	}
	cond, args := []string{w.cond}, w.args
	and := func(c string, a ...any) {
		cond = append(cond, c)
		args = append(args, a...)
	}
	for _, c := range []struct{ column, want string }{{"build", f.Build}, {"step", f.Step}, {"kind", string(f.Kind)}} {
		if c.want != "" {
			and("entry."+c.column+" = ?", c.want)
		}
	}
	if f.Point != "" {
		and("entry.point GLOB ?", f.Point)
	}
	if f.Text != "" && !f.indexed() {
		and(inBody, "%"+likeText(f.Text)+"%")
	}
	if f.Gauge != "" && !strings.HasPrefix(w.from, "gauge_entry") {
		and("EXISTS (SELECT 1 FROM gauge_entry AS g WHERE g.bench = entry.bench AND g.gauge = ? AND g.kind = entry.kind AND g.n = entry.n)", f.Gauge)
	}
	order := " DESC"
	if f.OldestFirst {
		order = ""
	}
	// CROSS JOIN holds SQLite to this order of tables.
	key := "entry.n"
	if w.n == saidRow {
		key = "entry.rowid"
	}
	text := "SELECT entry.n, entry.body, entry.seal FROM " + w.from + " CROSS JOIN entry ON entry.bench = ? AND " + key + " = " + w.n +
		" WHERE " + strings.Join(cond, " AND ") + " ORDER BY " + w.n + order
	return text, append([]any{benchName}, args...), nil
}
