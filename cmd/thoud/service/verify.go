package service

import (
	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/devices"
	"thoud/pipeline"
	"thoud/store"
)

// Check is how a ledger is verified: bound again by the recorder's own rules, frames decoded again by the sealed
// profiles.
func Check() store.Check {
	return store.Check{
		Bind: func(after bench.State, e bench.Entry, inForce bench.Results, answer func(bench.Result) calc.Result) []bench.Result {
			return pipeline.ComputeWith(after, e, inForce, answer)
		},
		Values: valuesOf,
		Own:    bench.RulesNow(Version()),
	}
}

// valuesOf decodes bytes by a profile's text.
func valuesOf(text, channel string, frames [][]byte) ([]quantity.Value, error) {
	p, err := devices.ParseProfile("sealed", []byte(text))
	if err != nil {
		return nil, err
	}
	d, err := p.NewDecoder()
	if err != nil {
		return nil, err
	}
	var out []quantity.Value
	first := true
	take := func(s devices.Sample, err error) {
		if err != nil || !s.Value.Valid() {
			return
		}
		if first && channel == "" {
			channel = s.Channel
		}
		first = false
		if s.Channel == channel {
			out = append(out, s.Value)
		}
	}
	d.Idle(take)
	for _, frame := range frames {
		d.Feed(frame, take)
	}
	d.Idle(take)
	return out, nil
}
