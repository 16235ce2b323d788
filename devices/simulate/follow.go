package simulate

import (
	"errors"
	"fmt"
	"math"
	"sort"
)

// Follow ties a gauge to another, as the indicator on a pushrod is tied to the crank: where the leader stands at x of
// its unit, the follower stands at Curve's y of its own, straight between the points.
type Follow struct {
	Leader string
	Curve  [][2]float64 // x rising
	Period float64      // x at which the curve begins again, as 720 degrees; 0: beyond its ends it stays
}

func (f Follow) validate() error {
	if len(f.Curve) < 2 {
		return errors.New("curve: want two points at least")
	}
	if !sort.SliceIsSorted(f.Curve, func(i, j int) bool { return f.Curve[i][0] < f.Curve[j][0] }) {
		return errors.New("curve: the first number of each point must rise")
	}
	if span := f.Curve[len(f.Curve)-1][0] - f.Curve[0][0]; f.Period != 0 && (f.Period < 0 || span > f.Period) {
		return fmt.Errorf("period: %g, and the curve is %g long", f.Period, span)
	}
	return nil
}

// at gives the follower's place for the leader's.
func (f Follow) at(x float64) float64 {
	first, last := f.Curve[0], f.Curve[len(f.Curve)-1]
	if f.Period > 0 {
		x = first[0] + math.Mod(math.Mod(x-first[0], f.Period)+f.Period, f.Period)
		if x > last[0] { // on the way to the curve's next beginning
			part := (x - last[0]) / (first[0] + f.Period - last[0])
			return last[1] + (first[1]-last[1])*part
		}
	}
	i := sort.Search(len(f.Curve), func(i int) bool { return f.Curve[i][0] >= x })
	switch i {
	case 0:
		return first[1]
	case len(f.Curve):
		return last[1]
	}
	a, b := f.Curve[i-1], f.Curve[i]
	return a[1] + (b[1]-a[1])*(x-a[0])/(b[0]-a[0])
}

// place is where the first channel stands, in the unit of its resolution.
func (g *Gauge) place() float64 {
	g.mu.Lock()
	defer g.mu.Unlock()
	m := g.models[g.channels[0]]
	return m.one.Unit.FromBase(m.follows * m.one.Float())
}

// stand puts the first channel to a place in the unit of its resolution.
func (g *Gauge) stand(y float64) {
	g.mu.Lock()
	defer g.mu.Unlock()
	m := g.models[g.channels[0]]
	m.stand(m.one.Unit.ToBase(y) / m.one.Float())
}

// follow moves what follows a gauge that has moved.
func (p *Play) follow(leader string) {
	for _, g := range p.s.Gauges {
		if g.Follows.Leader == leader {
			p.gauges[g.Name].stand(g.Follows.at(p.gauges[leader].place()))
		}
	}
}
