package capture

import "thoud/capture/bench"

// comings watches how a gauge comes to the height at which a wheel is read by eye.
type comings struct {
	now     *bench.Coming
	gauge   string
	state   *bench.State // that now is of
	results *bench.Results
}

// feed gives a gauge's value to what is watched. It gives the words to say at the moment where it goes past the height.
func (c *comings) feed(sc bench.Scene, state *bench.State, results *bench.Results, g bench.GaugeState, v bench.Sample) (words string) {
	if c.state != state || c.results != results {
		c.state, c.results = state, results
		sp := bench.SpotOf(sc)
		next := bench.ComingTo(sp)
		if next == nil || c.now == nil || next.Place != c.now.Place || next.Zero != c.now.Zero {
			c.now, c.gauge = next, ""
		}
		if c.now != nil {
			c.gauge = sp.Gauge.Name
		}
	}
	if c.now == nil || c.gauge != g.Name || !v.Value.Valid() || v.Unconfirmed {
		return ""
	}
	after := *c.now // others may be looking at the one before
	words = after.Feed(v.Value)
	c.now = &after
	return words
}

// says is what the hand does now where this gauge is watched.
func (c *comings) says(gauge string) string {
	if c.now == nil || c.gauge != gauge {
		return ""
	}
	return c.now.Says()
}
