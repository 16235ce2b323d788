package capture

import "thoud/capture/bench"

// rests finds where a gauge comes to rest, for steps in which readings settle by themselves.
type rests struct {
	still   map[string]*bench.Stillness // by gauge
	spot    bench.Spot                  // of the state and results below: it is asked for at every value
	state   *bench.State
	results *bench.Results
}

// rested feeds a value and reports whether its gauge now rests at a new place of the spot.
func (r *rests) rested(sc bench.Scene, state *bench.State, results *bench.Results, g bench.GaugeState, v bench.Sample) bool {
	if r.state != state || r.results != results {
		r.spot, r.state, r.results = bench.SpotOf(sc), state, results
	}
	if !r.spot.Settles(g) {
		return false
	}
	st, ok := r.still[g.Name]
	if !ok {
		st = &bench.Stillness{}
		r.still[g.Name] = st
		if g.Zero != nil {
			st.Zeroed(g.Zero.Raw)
		}
	}
	return st.Rested(r.spot, g, v)
}

// left starts the wait for the next place of a gauge after a reading.
func (r *rests) left(reading *bench.Reading) {
	if st, ok := r.still[reading.Gauge]; ok {
		st.Left(reading.Raw)
	}
}

// zeroed starts it after a zero was set.
func (r *rests) zeroed(z *bench.Zero) {
	if st, ok := r.still[z.Gauge]; ok {
		st.Zeroed(z.Raw)
	}
}

func (r *rests) forget(gauge string) { delete(r.still, gauge) }
