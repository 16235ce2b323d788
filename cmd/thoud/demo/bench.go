package demo

import (
	"errors"
	"fmt"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/devices"
	"thoud/devices/simulate"
)

// Drawer is the builder's drawer of gauges: those with a line each on a pseudo-terminal of its own, the others typed.
type Drawer struct {
	Hands map[string]*Hand // by role
	Pedal *simulate.Gauge
}

// Spec is one gauge of the drawer: how it speaks, and how it errs, as its register entry says.
type Spec struct {
	Name, Role, Profile string // no profile: a gauge without a line, whose values are typed
	Sends               bench.Sends
	Channel             string
	Resolution          string // one count
	Calibration         string // expanded uncertainty of its certificate, k = 2
	Rest                string // what it shows on its datum before any zero
	Unit                string // what its display shows, where its frames do not name it
}

// Specs lists the gauges. A new one is a row. Every family of wire is there; the numbers are common practice.
func Specs() []Spec {
	return []Spec{
		{"dial-1", "indicator", "text-signed-decimal-unit-crlf", bench.SendsStream, "", "0.0001 in", "0.0002 in", "0.1250 in", ""},
		{"encoder-1", "angle", "bits-angle-pushed", bench.SendsStream, "", "0.01 deg", "0.05 deg", "0 deg", "deg"},
		{"scale-1", "scale", "text-weight-lf", bench.SendsStream, "", "0.01 g", "0.1 g", "0.3 g", ""},
		{"bore-1", "bore", "text-signed-counts-length", bench.SendsStream, "", "0.0005 mm", "0.001 mm", "0.2 mm", "mm"},
		{"micrometer-1", "micrometer", "text-signed-decimal-cr", bench.SendsKey, "", "0.001 mm", "0.001 mm", "0.004 mm", "mm"},
		{"comparator-1", "comparator", "modbus-displacement-float", bench.SendsPolled, "a", "0.0001 mm", "0.0006 mm", "0.03 mm", "mm"},
		{"caliper-1", "caliper", "text-7e1-fixed-comma-cr", bench.SendsStream, "", "0.01 mm", "0.02 mm", "0.02 mm", ""},
		{"depth-1", "depth", "text-polled-decimal-crlf", bench.SendsPolled, "", "0.01 mm", "0.02 mm", "0.5 mm", ""},
		{"feelers-1", "feeler", "", "", "", "0.0005 in", "0.0001 in", "", ""},
		{"burette-1", "burette", "", "", "", "0.05 cm3", "0.1 cm3", "", ""},
		{"wrench-1", "torque", "", "", "", "0.1 N.m", "0.6 N.m", "", ""},
		{"wheel-1", "wheel", "", "", "", "0.5 deg", "0.2 deg", "", ""},
		{"thermometer-1", "temperature", "", "", "", "0.1 degC", "0.5 degC", "", ""},
		{"leakage-1", "leakage", "", "", "", "0.5", "0.5", "", ""},
		{"watch-1", "watch", "", "", "", "1", "1", "", ""},
	}
}

// Register is the gauge as it is registered with thoud; port is empty for one without a line.
func (s Spec) Register(port string) (bench.Gauge, error) {
	g := bench.Gauge{Name: s.Name, Profile: s.Profile, Port: port, Known: bench.KnownPath, Identity: port, Role: s.Role,
		Channel: s.Channel, Unit: s.Unit, Sends: s.Sends, Sense: 1, K: 2}
	if s.Profile == "" {
		g.Known, g.Identity = bench.KnownKeyed, ""
	}
	var err1, err2 error
	g.Resolution, err1 = quantity.Parse(s.Resolution)
	g.Calibration, err2 = quantity.Parse(s.Calibration)
	return g, errors.Join(err1, err2)
}

// noise of a display that stands still, in counts; far below what its resolution hides.
const noise = 0.15

const pedalName = "pedal-1"

// OpenDrawer makes the gauges, with their links in a folder; those that push send every so often.
func OpenDrawer(dir string, profiles map[string]devices.Profile, every time.Duration, seed uint64) (*Drawer, error) {
	d := &Drawer{Hands: map[string]*Hand{}}
	for i, s := range Specs() {
		h, err := newHand(s, seed+uint64(i))
		if err != nil {
			return nil, errors.Join(err, d.Close())
		}
		d.Hands[s.Role] = h
		if s.Profile == "" {
			continue
		}
		p, ok := profiles[s.Profile]
		if !ok {
			return nil, errors.Join(fmt.Errorf("demo: no profile %q", s.Profile), d.Close())
		}
		h.Gauge, err = simulate.Open(simulate.Options{Profile: p, Dir: dir, Name: s.Name, Resolution: h.res, Seed: seed + uint64(i), Knobs: simulate.Knobs{Noise: noise}})
		if err != nil {
			return nil, errors.Join(err, d.Close())
		}
		h.Gauge.Set(h.shown(0))
		if p.Text != nil {
			for _, word := range p.Text.Status {
				if word == "stable" { // it says so with every value
					h.Gauge.SetStatus(devices.Stable)
				}
			}
		}
		if s.Sends == bench.SendsStream {
			h.every = every
			h.Gauge.Stream(every)
		}
	}
	p, ok := profiles["bench-line"]
	if !ok {
		return nil, errors.Join(errors.New(`demo: no profile "bench-line"`), d.Close())
	}
	var err error
	if d.Pedal, err = simulate.Open(simulate.Options{Profile: p, Dir: dir, Name: pedalName, Seed: seed}); err != nil {
		return nil, errors.Join(err, d.Close())
	}
	return d, nil
}

// Register gives the verbs' contents that register the drawer with thoud.
func (d *Drawer) Register() ([]bench.Gauge, error) {
	var out []bench.Gauge
	for _, s := range Specs() {
		port := ""
		if h := d.Hands[s.Role]; h.Gauge != nil {
			port = h.Gauge.Path()
		}
		g, err := s.Register(port)
		if err != nil {
			return nil, fmt.Errorf("demo: gauge %s: %w", s.Name, err)
		}
		out = append(out, g)
	}
	return append(out, bench.Gauge{Name: pedalName, Profile: "bench-line", Port: d.Pedal.Path(), Known: bench.KnownPath,
		Identity: d.Pedal.Path(), Role: "key", Sends: bench.SendsStream, Sense: 1}), nil
}

// Close unplugs every gauge.
func (d *Drawer) Close() error {
	var errs []error
	for _, h := range d.Hands {
		if h.Gauge != nil {
			errs = append(errs, h.Gauge.Close())
		}
	}
	if d.Pedal != nil {
		errs = append(errs, d.Pedal.Close())
	}
	return errors.Join(errs...)
}
