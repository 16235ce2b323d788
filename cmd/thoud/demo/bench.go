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

// Drawer is the builder's drawer of gauges, each on a pseudo-terminal of its own.
type Drawer struct {
	Hands map[string]*Hand // by role
}

// spec is one gauge of the drawer.
type spec struct{ name, role, profile, resolution, calibration, rest string }

// drawer lists the gauges. A new one is a row.
func drawer() []spec {
	return []spec{
		{"dial-1", "indicator", "text-signed-decimal-unit-crlf", "0.0001 in", "0.0002 in", "0.1250 in"},
	}
}

// OpenDrawer makes the gauges, with their links in a folder; they send every so often.
func OpenDrawer(dir string, profiles map[string]devices.Profile, every time.Duration, seed uint64) (*Drawer, error) {
	d := &Drawer{Hands: map[string]*Hand{}}
	for i, s := range drawer() {
		p, ok := profiles[s.profile]
		if !ok {
			return nil, fmt.Errorf("demo: no profile %q", s.profile)
		}
		res, err := quantity.Parse(s.resolution)
		if err != nil {
			return nil, err
		}
		rest, err := quantity.Parse(s.rest)
		if err != nil {
			return nil, err
		}
		g, err := simulate.Open(simulate.Options{Profile: p, Dir: dir, Name: s.name, Resolution: res, Seed: seed + uint64(i), Knobs: simulate.Knobs{Noise: 0.3}})
		if err != nil {
			return nil, errors.Join(err, d.Close())
		}
		g.Set(rest)
		g.Stream(every)
		d.Hands[s.role] = &Hand{Name: s.name, Gauge: g, Rest: rest}
	}
	return d, nil
}

// Register gives the verbs' contents that register the drawer with thoud.
func (d *Drawer) Register() ([]bench.Gauge, error) {
	var out []bench.Gauge
	for _, s := range drawer() {
		res, err := quantity.Parse(s.resolution)
		if err != nil {
			return nil, err
		}
		cal, err := quantity.Parse(s.calibration)
		if err != nil {
			return nil, err
		}
		h := d.Hands[s.role]
		out = append(out, bench.Gauge{Name: s.name, Profile: s.profile, Port: h.Path(), Known: bench.KnownPath, Identity: h.Path(),
			Role: s.role, Sends: bench.SendsStream, Sense: 1, Resolution: res, Calibration: cal, K: 2})
	}
	return out, nil
}

// Close unplugs every gauge.
func (d *Drawer) Close() error {
	var errs []error
	for _, h := range d.Hands {
		errs = append(errs, h.Gauge.Close())
	}
	return errors.Join(errs...)
}
