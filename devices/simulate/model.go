package simulate

import (
	"math/rand/v2"

	"thoud/calc/quantity"
)

// Knobs are a gauge's faults. Chances are from 0 to 1 a frame; amounts are in counts of the gauge's resolution.
type Knobs struct {
	Noise    float64 // standard deviation of one reading
	Backlash float64 // what the spindle must go back before the display follows
	Drift    float64 // per frame
	Drop     float64 // chance that a frame is not sent
	Garbage  float64 // chance of stray bytes before a frame
	Corrupt  float64 // chance that one bit of a frame is turned over
	Split    float64 // chance that a frame goes out in two writes
	Merge    float64 // chance that a frame waits for the next one and goes out in one write with it
}

// model is the measuring part of a gauge: what it shows for where it stands, in its own counts.
type model struct {
	knobs   Knobs
	one     quantity.Value // one count
	follows float64        // where the display stands after backlash
	offset  float64        // of the zero
	drift   float64
	unit    quantity.Unit
	places  int
	noise   *rand.Rand
}

func newModel(o Options, n uint64) *model {
	return &model{knobs: o.Knobs, one: o.Resolution, unit: o.Resolution.Unit, places: o.Resolution.Places,
		noise: rand.New(rand.NewPCG(o.Seed, 2+n))}
}

// set moves the spindle. The display shows the unit of v from now on, as after the unit key.
func (m *model) set(v quantity.Value) {
	m.showAs(v)
	m.stand(m.counts(v))
}

// showAs switches the display to the unit of v.
func (m *model) showAs(v quantity.Value) {
	if v.Unit.Code != m.unit.Code && v.Kind() == quantity.Length && m.one.Kind() == quantity.Length {
		m.unit, m.places = v.Unit, v.Places
	}
}

// stand moves the spindle to so many counts; the display follows by what the backlash leaves.
func (m *model) stand(counts float64) {
	half := m.knobs.Backlash / 2
	m.follows = min(max(m.follows, counts-half), counts+half)
}

func (m *model) counts(v quantity.Value) float64 {
	if v.Kind() == quantity.Length {
		return float64(v.N) / float64(m.one.N)
	}
	return v.Float() / m.one.Float()
}

func (m *model) zero() { m.offset = m.follows + m.drift }

// show gives the display: counts with noise and drift, rounded to whole ones. In another unit of length than the
// gauge's own the last place is rounded once more, as displays do.
func (m *model) show() quantity.Value {
	c := m.follows - m.offset + m.drift
	if m.knobs.Noise > 0 {
		c += m.noise.NormFloat64() * m.knobs.Noise
	}
	n := roundHalfAway(c)
	if m.one.Kind() != quantity.Length {
		return quantity.Value{N: n * m.one.N, Places: m.one.Places, Unit: m.one.Unit}
	}
	exact := quantity.OfLength(n*m.one.N, m.unit, m.places)
	v, err := quantity.ParseAs(quantity.Length, exact.Round(m.unit, m.places)+" "+m.unit.Code)
	if err != nil {
		return exact
	}
	return v
}

func roundHalfAway(x float64) int64 {
	if x < 0 {
		return -int64(-x + 0.5)
	}
	return int64(x + 0.5)
}
