package store

import (
	"bytes"
	"context"

	"thoud/capture/bench"
)

// History gives every result of a build with its request, in the order they were computed: a slot's older results come
// before the one in force.
func (s *Store) History(ctx context.Context, benchName, job string) ([]bench.Result, error) {
	return s.results(ctx, "bench = ? AND build = ?", benchName, job)
}

// InForce gives the results of a build that are in force, without what was asked of the methods.
func (s *Store) InForce(ctx context.Context, benchName, job string) (bench.Results, error) {
	all, err := newest(ctx, s.reader, benchName, job, Newest)
	return bench.Results{}.With(all...), s.fault(err)
}

// StepResults gives every result of a step with its request, in the order they were computed.
func (s *Store) StepResults(ctx context.Context, benchName, job, step string) ([]bench.Result, error) {
	return s.results(ctx, "bench = ? AND build = ? AND step = ?", benchName, job, step)
}

// ResultOf gives the newest result of a slot with its request; false where there is none.
func (s *Store) ResultOf(ctx context.Context, benchName string, slot bench.Slot) (bench.Result, bool, error) {
	all, err := s.results(ctx, "bench = ? AND build = ? AND step = ? AND pass = ? AND key = ?", benchName, slot.Build, slot.Step, slot.Pass, slot.Key)
	if err != nil || len(all) == 0 {
		return bench.Result{}, false, err
	}
	return all[len(all)-1], true, nil
}

// Using gives every result that a reading went into, by the reading's id.
func (s *Store) Using(ctx context.Context, benchName, reading string) ([]bench.Result, error) {
	var out []bench.Result
	add := func(r storedRun) error {
		res, err := r.full()
		out = append(out, res)
		return err
	}
	err := readRuns(ctx, s.reader, "SELECT "+oldRunColumns+" FROM result WHERE bench = ? AND id IN (SELECT result FROM result_reading WHERE reading = ?) ORDER BY id",
		[]any{benchName, reading}, add)
	if err == nil {
		err = readRuns(ctx, s.reader, "SELECT "+fullRunColumns+fromRun+"WHERE run.bench = ? AND run.id IN (SELECT run FROM run_reading WHERE reading = ?) ORDER BY run.id",
			[]any{benchName, reading}, add)
	}
	return out, s.fault(err)
}

func (s *Store) results(ctx context.Context, where string, args ...any) ([]bench.Result, error) {
	rows, err := packedRuns(ctx, s.reader, where, args...)
	if err != nil {
		return nil, s.fault(err)
	}
	out, err := decodeRuns(ctx, rows)
	return out, s.fault(err)
}

// Standing gives what stands of a build's results, in the order they were computed: of each slot the newest, with its
// request, and those that were computed again because something earlier changed. The many that a later reading of the same
// pass took the place of are not decoded: they are half of a build's results.
func (s *Store) Standing(ctx context.Context, benchName, job string) ([]bench.Result, error) {
	rows, err := packedRuns(ctx, s.reader, "bench = ? AND build = ?", benchName, job)
	if err != nil {
		return nil, s.fault(err)
	}
	newest := map[bench.Slot]int{}
	for i := range rows {
		newest[rows[i].slot] = i
	}
	standing := rows[:0]
	for i, r := range rows {
		if newest[r.slot] != i {
			r.packedRequest = nil
			if err := r.unpack(); err != nil {
				return nil, s.fault(err)
			}
			if r.bad == nil && !bytes.Contains(r.body, becauseKey) {
				continue
			}
		}
		standing = append(standing, r)
	}
	out, err := decodeRuns(ctx, standing)
	return out, s.fault(err)
}

// becauseKey stands in the body of every result that was computed again because something earlier changed. In a text of
// the body its quotation marks would be escaped.
var becauseKey = []byte(`"because":`)

// decodeRuns decodes results in several goroutines: that is the longer half of a sheet.
func decodeRuns(ctx context.Context, rows []storedRun) ([]bench.Result, error) {
	out := make([]bench.Result, 0, len(rows))
	type decoding struct {
		run    *storedRun
		result bench.Result
		err    error
	}
	err := inOrder(ctx, decoders, resultsAtOnce, func(ctx context.Context, send func(decoding) bool) error {
		for i := range rows {
			if !send(decoding{run: &rows[i]}) {
				return ctx.Err()
			}
		}
		return nil
	}, func(d *decoding) {
		if d.err = d.run.unpack(); d.err == nil {
			d.result, d.err = d.run.full()
		}
		*d.run = storedRun{}
	}, func(d *decoding) error {
		out = append(out, d.result)
		return d.err
	})
	return out, err
}

// resultsAtOnce is how many results go to a decoder at once.
const resultsAtOnce = 16

// newest gives the results of a build that were in force after an entry, without what was asked of the methods. A result
// computed again later stands beside the older one, under the same entry: the one stored last counts.
func newest(ctx context.Context, q queryer, benchName, job string, upTo uint64) ([]bench.Result, error) {
	var out []bench.Result
	at := map[bench.Slot]int{}
	err := eachRun(ctx, q, "bench = ? AND build = ? AND n <= ?", " ORDER BY n, 1", []any{benchName, job, int64(upTo)}, func(r storedRun) error {
		res, err := r.light()
		if err != nil {
			return err
		}
		i, ok := at[r.slot]
		switch {
		case !ok:
			at[r.slot] = len(out)
			out = append(out, res)
		case res.N >= out[i].N:
			out[i] = res
		}
		return nil
	})
	return out, err
}
