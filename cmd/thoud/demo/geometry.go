package demo

import "math"

// geometry is what several areas of the engine share. Sizes in mm, angles in degrees of the crankshaft.
type geometry struct {
	bore, taper map[string]float64 // bore at mid-height, and how much wider it is at the top than at the bottom
	piston      map[string]float64
	chamber     map[string]float64 // volume, as the plan has it where it is not measured
	wheel       float64            // what the degree wheel shows at the true top
	late        float64            // how late the camshaft stands, both lobes
	apart       float64            // how much later than it the exhaust camshaft stands, where there are two
	lobeOff     map[string]float64
	blockNow    map[string]float64 // guide block above the joint face
	contact     map[string]float64 // where the lobes push it to
	sparkAt     map[string]float64 // where the points open, before top dead centre
	warm        float64            // how far the shop, and all that lies in it, is above 20 degrees
}

// Expansion of the example engine's materials, and of the gauges and the standards that they are set with, per kelvin, as its
// plan has them.
const (
	ofIron   = 11e-6
	ofPiston = 20e-6
	ofBronze = 18e-6
	ofGauge  = 11.5e-6
)

// read is what a gauge of the shop reads of a part that has a size at 20 degrees: both grow.
func (g *geometry) read(size, alpha float64) float64 { return size * (1 + (alpha-ofGauge)*g.warm) }

// Warm lets the shop be so many kelvins above 20 degrees while the engine is measured.
func (e *Engine) Warm(kelvins float64) { e.shape.warm = kelvins }

// The example engine's crank and cam, as its plan has them.
const (
	crankThrow  = 39.8
	rodLength   = 158.0
	lobeHalf    = 150.0 // half of a lobe's duration at the back of the lobe, crank degrees
	lobeCentre  = 106.0
	inletLift   = 8.0 // at the follower
	exhaustLift = 7.8
	inletValve  = 8.5 // at the valve
	outletValve = 8.2
	valveLean   = 22.0
)

func newGeometry(e *Engine, cylinders, blocks []string) geometry {
	g := geometry{bore: map[string]float64{}, taper: map[string]float64{}, piston: map[string]float64{}, chamber: map[string]float64{},
		wheel: e.about(3.6, 0.4), late: e.about(4.4, 0.15), lobeOff: map[string]float64{},
		blockNow: map[string]float64{}, contact: map[string]float64{}, sparkAt: map[string]float64{}}
	for _, c := range cylinders {
		g.piston[c] = e.about(73.4-0.0046*inch, 0.001)
		g.bore[c] = e.about(73.380, 0.002) // wants honing
		g.taper[c] = e.about(0.006, 0.001)
		g.lobeOff[c] = e.about(0, 0.12)
		if contains(blocks, c) {
			g.block(e, c)
		}
		g.sparkAt[c] = e.about(35.5, 0.5)
		g.chamber[c] = 36.5
	}
	for _, b := range blocks {
		if !contains(cylinders, b) {
			g.block(e, b)
		}
	}
	return g
}

// block makes a guide block and the lobes that push it.
func (g *geometry) block(e *Engine, name string) {
	g.blockNow[name] = e.about(0.270*inch, 0.06)
	g.contact[name] = e.about(0.190*inch, 0.03)
}

// boreAt is the bore at a depth of 10 to 75 mm: a straight taper, a little out of round.
func (g *geometry) boreAt(cylinder string, depth float64, thrust bool) float64 {
	d := g.bore[cylinder] + g.taper[cylinder]*(42.5-depth)/65
	if thrust {
		d += 0.001
	}
	return d
}

// drop is how far the piston is below its top: slider and crank, no pin offset.
func drop(degrees float64) float64 {
	s, c := math.Sincos(rad(degrees))
	return crankThrow + rodLength - crankThrow*c - math.Sqrt(rodLength*rodLength-crankThrow*crankThrow*s*s)
}

// angleOfDrop is the angle after the top at which the piston is so far down, by bisection.
func angleOfDrop(down float64) float64 {
	low, high := 0.0, 180.0
	for range 60 {
		if mid := (low + high) / 2; drop(mid) < down {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// lobe is the lift of a smooth lobe at a crank angle from overlap top dead centre.
func lobe(degrees, centre, lift float64) float64 {
	u := math.Remainder(degrees-centre, 720) / lobeHalf
	if math.Abs(u) >= 1 {
		return 0
	}
	return lift * math.Pow(1-u*u, 3)
}

// edge is how far from its centre a lobe has a lift.
func edge(height, lift float64) float64 {
	return lobeHalf * math.Sqrt(1-math.Cbrt(height/lift))
}

// centre is where a lobe's centre stands, after overlap top dead centre.
func (g *geometry) centre(cylinder string, inlet bool) float64 {
	if inlet {
		return lobeCentre + g.late + g.lobeOff[cylinder]
	}
	return -lobeCentre + g.late + g.apart + g.lobeOff[cylinder]
}

func (g *geometry) spark(cylinder string) float64 { return g.sparkAt[cylinder] }
