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
		Raw: rawOf,
	}
}

// rawOf decodes a reading's last frame by a profile's text.
func rawOf(text string, r bench.Reading) (quantity.Value, error) {
	p, err := devices.ParseProfile("sealed", []byte(text))
	if err != nil {
		return quantity.Value{}, err
	}
	d, err := p.NewDecoder()
	if err != nil {
		return quantity.Value{}, err
	}
	var last quantity.Value
	take := func(s devices.Sample, err error) {
		if err == nil && s.Value.Valid() && s.Channel == r.Channel {
			last = s.Value
		}
	}
	d.Idle(take)
	for _, frame := range r.Frames {
		d.Feed(frame, take)
	}
	d.Idle(take)
	return last, nil
}
