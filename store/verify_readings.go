package store

import (
	"context"
	"errors"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// lastZeros keeps the zeros that readings speak of: the last few in memory, whatever the length of the ledger, and any
// other is read again from its entry.
type lastZeros struct {
	kept  map[string]bench.Zero
	order []string // oldest first
}

// zerosKept is how many: more than there are gauges on a bench and builds in work.
const zerosKept = 256

func (z *lastZeros) keep(id string, zero bench.Zero) {
	if z.kept == nil {
		z.kept = map[string]bench.Zero{}
	}
	if _, known := z.kept[id]; known {
		return
	}
	z.kept[id] = zero
	if z.order = append(z.order, id); len(z.order) > zerosKept {
		delete(z.kept, z.order[0])
		z.order = z.order[1:]
	}
}

// of gives a zero that was set before an entry; false where there is none.
func (z *lastZeros) of(ctx context.Context, q queryer, benchName, id string, before uint64) (bench.Zero, bool, error) {
	if zero, ok := z.kept[id]; ok {
		return zero, true, nil
	}
	row, err := entryOf(ctx, q, benchName, id)
	switch {
	case errors.Is(err, ErrNotThere):
		return bench.Zero{}, false, nil
	case err != nil:
		return bench.Zero{}, false, err
	case row.Entry.Zero == nil || row.Entry.N >= before:
		return bench.Zero{}, false, nil
	}
	z.keep(id, *row.Entry.Zero)
	return *row.Entry.Zero, true, nil
}

// values derives a reading's raw value from its bytes, and its value from that and the zero in force.
func (v *verifier) values(ctx context.Context, q queryer, row string, e bench.Entry) error {
	switch {
	case e.Kind == bench.ZeroSet && e.Zero != nil:
		v.zeros.keep(e.ID, *e.Zero)
		return nil
	case e.Reading == nil:
		return nil
	}
	r := *e.Reading
	var zero *bench.Zero
	if r.Zero != "" {
		z, ok, err := v.zeros.of(ctx, q, v.bench, r.Zero, e.N)
		if err != nil {
			return err
		}
		if !ok {
			v.wrong(e.N, row, "its zero %s is no entry before it", r.Zero)
			return nil
		}
		zero = &z
	}
	if r.Samples != nil || r.Mode == "swing" {
		return v.sweep(ctx, q, row, e, zero)
	}
	want := r.Raw
	if zero != nil {
		var err error
		if want, err = zero.WithZero(r.Raw); err != nil {
			v.wrong(e.N, row, "%v", err)
			return nil
		}
	}
	if want.N != r.Value.N && want.Float() != r.Value.Float() {
		v.wrong(e.N, row, "it says %s, its raw value and its zero give %s", r.Value, want)
	}
	v.frames(row, e.N, r)
	return nil
}

// decoded gives the values of some bytes of a gauge, where its profile is sealed; none where they cannot be read again:
// the seals say whether the bytes are those that came.
func (v *verifier) decoded(gauge, channel string, frames [][]byte) []quantity.Value {
	g, ok := v.folder.state.Gauge(gauge)
	if v.check.Values == nil || !ok || g.ProfileText == "" || len(frames) == 0 {
		return nil
	}
	if channel == "" {
		channel = g.Channel
	}
	all, err := v.check.Values(g.ProfileText, channel, frames)
	if err != nil {
		return nil
	}
	return all
}

// frames decodes a reading's bytes again.
func (v *verifier) frames(row string, n uint64, r bench.Reading) {
	if r.Keyed {
		return
	}
	all := v.decoded(r.Gauge, r.Channel, r.Frames)
	if len(all) == 0 {
		return
	}
	if raw := all[len(all)-1]; raw.Float() != r.Raw.Float() {
		v.wrong(n, row, "its bytes read %s by the gauge's sealed profile, it says %s", raw, r.Raw)
		return
	}
	v.rep.Derived++
}

// sweep holds a sweep against its bytes and those of its angle gauge.
func (v *verifier) sweep(ctx context.Context, q queryer, row string, e bench.Entry, zero *bench.Zero) error {
	r := *e.Reading
	if r.Samples == nil {
		return nil
	}
	b := bench.SweepBytes{Values: v.decoded(r.Gauge, r.Channel, r.Frames), Zero: zero}
	if id := r.Samples.AngleZero; id != "" {
		z, ok, err := v.zeros.of(ctx, q, v.bench, id, e.N)
		if err != nil {
			return err
		}
		if !ok {
			v.wrong(e.N, row, "the zero %s of its angles is no entry before it", id)
			return nil
		}
		b.AngleZero = &z
	}
	if len(r.Samples.AngleFrames) > 0 {
		b.Angles = v.decoded(r.Samples.AngleGauge, "", [][]byte{r.Samples.AngleFrames})
	}
	what, derived := b.Against(r)
	switch {
	case what != "":
		v.wrong(e.N, row, "%s", what)
	case derived:
		v.rep.Derived++
	}
	return nil
}
