package simulate

import (
	"context"
	"errors"
	"fmt"
	"time"

	"thoud/devices"
)

// Play is a scenario with its gauges open.
type Play struct {
	s      Scenario
	gauges map[string]*Gauge
	next   int
}

// Start opens the scenario's gauges with their links in a folder. It fails where a profile is missing.
func (s Scenario) Start(dir string, profiles []devices.Profile) (*Play, error) {
	byName := map[string]devices.Profile{}
	for _, p := range profiles {
		byName[p.Name] = p
	}
	p := &Play{s: s, gauges: map[string]*Gauge{}}
	for i, g := range s.Gauges {
		profile, ok := byName[g.Profile]
		if !ok {
			return nil, errors.Join(fmt.Errorf("simulate %q: no profile %q", g.Name, g.Profile), p.Close())
		}
		o := Options{Profile: profile, Channel: g.Channel, Channels: g.Channels, Dir: dir, Name: g.Name,
			Resolution: g.Resolution, Knobs: g.Knobs, Seed: s.Seed + uint64(i)*1000}
		opened, err := Open(o)
		if err != nil {
			return nil, errors.Join(err, p.Close())
		}
		p.gauges[g.Name] = opened
		if g.Start.Valid() {
			opened.Set(g.Start)
		}
		if g.Stream > 0 {
			opened.Stream(g.Stream)
		}
	}
	for _, g := range s.Gauges {
		p.follow(g.Name)
	}
	return p, nil
}

// Gauge finds a gauge of the play, nil for none of this name.
func (p *Play) Gauge(name string) *Gauge { return p.gauges[name] }

// Next plays one step, with the wait before it; more is false when there was none left.
func (p *Play) Next(ctx context.Context) (step Step, more bool, err error) {
	if p.next >= len(p.s.Steps) {
		return Step{}, false, nil
	}
	step = p.s.Steps[p.next]
	p.next++
	if err = wait(ctx, step.After); err == nil && step.Gauge != "" {
		err = p.do(ctx, p.gauges[step.Gauge], step)
	}
	if err != nil {
		err = fmt.Errorf("step %d: %w", p.next, err)
	}
	return step, true, err
}

// moves is how many small movements a second a moving gauge makes.
const moves = 50

func (p *Play) do(ctx context.Context, g *Gauge, s Step) error {
	channel := s.Channel
	if channel == "" {
		channel = g.channels[0]
	}
	switch {
	case s.Set.Valid():
		err := g.SetChannel(channel, s.Set)
		p.follow(s.Gauge)
		return err
	case s.Move.Valid():
		n := max(int(s.Over.Seconds()*moves), 1)
		from := g.at(channel)
		for i := 1; i <= n; i++ {
			if err := wait(ctx, s.Over/time.Duration(n)); err != nil {
				return err
			}
			if err := g.moveTo(channel, from, s.Move, float64(i)/float64(n)); err != nil {
				return err
			}
			p.follow(s.Gauge)
		}
		return nil
	case s.Send > 0:
		for range s.Send {
			if err := g.Send(); err != nil {
				return err
			}
		}
		return nil
	case s.Key != "":
		return g.Key(s.Key)
	case len(s.Raw) > 0:
		return g.Raw(s.Raw)
	case s.Status != "":
		if s.Status == "none" {
			g.SetStatus(0)
			return nil
		}
		st, err := devices.ParseStatus(s.Status)
		g.SetStatus(st)
		return err
	case s.Stream > 0:
		g.Stream(s.Stream)
	case s.Stop:
		g.Stop()
	case s.Unplug:
		return g.Unplug()
	case s.Replug:
		return g.Replug(s.As)
	case s.PowerCycle:
		return g.PowerCycle(s.LostZero)
	}
	return nil
}

func wait(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return ctx.Err()
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-t.C:
		return nil
	}
}

// Close closes every gauge of the play.
func (p *Play) Close() error {
	var errs []error
	for _, g := range p.gauges {
		errs = append(errs, g.Close())
	}
	return errors.Join(errs...)
}
