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
	true    float64        // where the spindle stands, counts
	follows float64        // where the display stands after backlash
	offset  float64        // of the zero
	drift   float64
	unit    quantity.Unit
	places  int
	noise   *rand.Rand
	held    []byte // a frame waiting to be merged with the next
}

func newModel(o Options) *model {
	return &model{knobs: o.Knobs, one: o.Resolution, unit: o.Resolution.Unit, places: o.Resolution.Places,
		noise: rand.New(rand.NewPCG(o.Seed, 2))}
}

// set moves the spindle. The display shows the unit of v from now on, as after the unit key.
func (m *model) set(v quantity.Value) {
	if v.Unit.Code != m.unit.Code && v.Kind() == quantity.Length && m.one.Kind() == quantity.Length {
		m.unit, m.places = v.Unit, v.Places
	}
	m.true = m.counts(v)
	switch half := m.knobs.Backlash / 2; {
	case m.true-m.follows > half:
		m.follows = m.true - half
	case m.follows-m.true > half:
		m.follows = m.true + half
	}
	if m.knobs.Backlash == 0 {
		m.follows = m.true
	}
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
	m.drift += m.knobs.Drift
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

// faulty sends a frame through the line's faults.
func (g *Gauge) faulty(b []byte) error {
	k := g.o.Knobs
	hit := func(p float64) bool { return p > 0 && g.chance.Float64() < p }
	if hit(k.Drop) {
		return nil
	}
	if hit(k.Corrupt) {
		b = append([]byte(nil), b...)
		b[g.chance.IntN(len(b))] ^= 1 << g.chance.IntN(8)
	}
	if hit(k.Garbage) {
		junk := make([]byte, 1+g.chance.IntN(12))
		for i := range junk {
			junk[i] = byte(g.chance.IntN(256))
		}
		b = append(junk, b...)
	}
	if hit(k.Merge) && len(g.model.held) == 0 {
		g.model.held = append([]byte(nil), b...)
		return nil
	}
	b = append(g.model.held, b...)
	g.model.held = nil
	if len(b) > 1 && hit(k.Split) {
		cut := 1 + g.chance.IntN(len(b)-1)
		if err := g.write(b[:cut]); err != nil {
			return err
		}
		b = b[cut:]
	}
	return g.write(b)
}
