package bench

import (
	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// Limit gives what a figure of a step is held against in this build: the plan's limits, engine data with the build's own
// values put in, and a limit that was overridden by name ("STEP.FIGURE") in their place, newest last.
// The key names the run: one step may compute several things.
func (b *Build) Limit(step plan.Step, key, figure string) calc.Limit {
	c := step.ComputeOf(key)
	lim := c.Limits[figure]
	data := c.LimitData[figure]
	for _, side := range []struct {
		name string
		at   **float64
	}{{data.Lower, &lim.Lower}, {data.Upper, &lim.Upper}} {
		if side.name == "" {
			continue
		}
		if d, ok := b.Datum(side.name); ok {
			x := d.Value.Float()
			*side.at = &x
			lim.Source = d.Source
		}
	}
	for _, o := range b.Overrides {
		if o.What == "limit" && (o.Name == step.ID+"."+figure || c.Name != "" && o.Name == step.ID+"."+c.Name+"."+figure) {
			lim.Lower, lim.Upper = floatOf(o.Lower), floatOf(o.Upper)
			lim.Source = "builder's choice: " + o.Reason
		}
	}
	return lim
}

func floatOf(v *quantity.Value) *float64 {
	if v == nil {
		return nil
	}
	x := v.Float()
	return &x
}
