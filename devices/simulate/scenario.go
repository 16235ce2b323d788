package simulate

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"thoud/calc/quantity"
	"thoud/devices"
)

// Scenario is a script of gauges and of what happens to them, so that a demonstration and the tests share it. As a file:
//
//	title = "two presses and a plug that comes out"
//	seed = 7
//
//	[[gauge]]
//	name = "dial-1"
//	profile = "text-signed-decimal-cr"
//	start = "0.000 mm"
//	noise = 0.4            # the knobs of Knobs, in small letters
//
//	[[step]]               # one action a step; after waits before it
//	gauge = "dial-1"
//	set = "1.250 mm"
//
//	[[step]]
//	gauge = "dial-1"
//	send = 2               # presses of the data key
//	after = "500ms"
type Scenario struct {
	Title  string
	Seed   uint64
	Gauges []ScenarioGauge
	Steps  []Step
}

// ScenarioGauge is one gauge of a scenario.
type ScenarioGauge struct {
	Name, Profile string
	Channel       string
	Channels      []string
	Resolution    quantity.Value
	Start         quantity.Value // where it stands at first; not Valid for 0
	Stream        time.Duration  // 0: it does not push
	Knobs         Knobs
}

// Step is one thing that happens. Exactly one action is set; a step without one only waits.
type Step struct {
	Gauge   string
	Channel string        // for Set and Move, "" for the first
	After   time.Duration // wait before it
	Note    string        // for people

	Set        quantity.Value // move the gauge at once
	Move       quantity.Value // move it evenly over Over
	Over       time.Duration
	Send       int    // press the data key so often
	Key        string // a pedal or key
	Raw        []byte // bytes as they are: raw = "text" or bytes = [0x88, 0x00]
	Status     string // what it says about itself from now on, "none" for nothing
	Stream     time.Duration
	Stop       bool
	Unplug     bool
	Replug     bool
	As         string // with Replug: the name it comes back under
	PowerCycle bool
	LostZero   bool // with PowerCycle
}

type scenarioFile struct {
	Title string         `toml:"title"`
	Seed  uint64         `toml:"seed"`
	Gauge []gaugeFile    `toml:"gauge"`
	Step  []scenarioStep `toml:"step"`
}

type gaugeFile struct {
	Name       string   `toml:"name"`
	Profile    string   `toml:"profile"`
	Channel    string   `toml:"channel"`
	Channels   []string `toml:"channels"`
	Resolution string   `toml:"resolution"`
	Start      string   `toml:"start"`
	Stream     string   `toml:"stream"`
	Noise      float64  `toml:"noise"`
	Backlash   float64  `toml:"backlash"`
	Drift      float64  `toml:"drift"`
	Drop       float64  `toml:"drop"`
	Garbage    float64  `toml:"garbage"`
	Corrupt    float64  `toml:"corrupt"`
	Split      float64  `toml:"split"`
	Merge      float64  `toml:"merge"`
}

type scenarioStep struct {
	Gauge      string  `toml:"gauge"`
	Channel    string  `toml:"channel"`
	After      string  `toml:"after"`
	Note       string  `toml:"note"`
	Set        string  `toml:"set"`
	Move       string  `toml:"move"`
	Over       string  `toml:"over"`
	Send       int     `toml:"send"`
	Key        string  `toml:"key"`
	Raw        string  `toml:"raw"`
	Bytes      []uint8 `toml:"bytes"`
	Status     string  `toml:"status"`
	Stream     string  `toml:"stream"`
	Stop       bool    `toml:"stop"`
	Unplug     bool    `toml:"unplug"`
	Replug     bool    `toml:"replug"`
	As         string  `toml:"as"`
	PowerCycle bool    `toml:"power_cycle"`
	LostZero   bool    `toml:"lost_zero"`
}

// ParseScenario reads a scenario from strict TOML. An error names the file and the line, or the gauge or step.
func ParseScenario(name string, data []byte) (Scenario, error) {
	var f scenarioFile
	dec := toml.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&f); err != nil {
		var strict *toml.StrictMissingError
		var at *toml.DecodeError
		switch {
		case errors.As(err, &strict):
			line, col := strict.Errors[0].Position()
			return Scenario{}, fmt.Errorf("%s:%d:%d: %q is not a key of a scenario", name, line, col, strings.Join(strict.Errors[0].Key(), "."))
		case errors.As(err, &at):
			line, col := at.Position()
			return Scenario{}, fmt.Errorf("%s:%d:%d: %w", name, line, col, err)
		}
		return Scenario{}, fmt.Errorf("%s: %w", name, err)
	}
	s := Scenario{Title: f.Title, Seed: f.Seed}
	known := map[string]bool{}
	for i, g := range f.Gauge {
		out, err := g.gauge()
		if err == nil && (out.Name == "" || known[out.Name]) {
			err = fmt.Errorf("name %q: missing or there twice", out.Name)
		}
		if err != nil {
			return Scenario{}, fmt.Errorf("%s: gauge %d: %w", name, i+1, err)
		}
		known[out.Name] = true
		s.Gauges = append(s.Gauges, out)
	}
	if len(s.Gauges) == 0 {
		return Scenario{}, fmt.Errorf("%s: a scenario needs a [[gauge]]", name)
	}
	for i, st := range f.Step {
		out, err := st.step()
		if err == nil && !known[out.Gauge] && (out.Gauge != "" || out.actions() > 0) {
			err = fmt.Errorf("gauge %q is none of the scenario's", out.Gauge)
		}
		if err != nil {
			return Scenario{}, fmt.Errorf("%s: step %d: %w", name, i+1, err)
		}
		s.Steps = append(s.Steps, out)
	}
	return s, nil
}

func (f gaugeFile) gauge() (ScenarioGauge, error) {
	g := ScenarioGauge{Name: f.Name, Profile: f.Profile, Channel: f.Channel, Channels: f.Channels,
		Knobs: Knobs{f.Noise, f.Backlash, f.Drift, f.Drop, f.Garbage, f.Corrupt, f.Split, f.Merge}}
	err := errors.Join(value(&g.Resolution, "resolution", f.Resolution), value(&g.Start, "start", f.Start), span(&g.Stream, "stream", f.Stream))
	return g, err
}

func (f scenarioStep) step() (Step, error) {
	s := Step{Gauge: f.Gauge, Channel: f.Channel, Note: f.Note, Send: f.Send, Key: f.Key, Raw: append([]byte(f.Raw), f.Bytes...), Status: f.Status,
		Stop: f.Stop, Unplug: f.Unplug, Replug: f.Replug, As: f.As, PowerCycle: f.PowerCycle, LostZero: f.LostZero}
	err := errors.Join(span(&s.After, "after", f.After), span(&s.Over, "over", f.Over), span(&s.Stream, "stream", f.Stream),
		value(&s.Set, "set", f.Set), value(&s.Move, "move", f.Move))
	switch {
	case err != nil:
	case s.actions() > 1:
		err = errors.New("more than one action; a step has one")
	case s.Move.Valid() != (s.Over > 0):
		err = errors.New("move and over go together")
	case s.As != "" && !s.Replug:
		err = errors.New("as goes with replug")
	case s.LostZero && !s.PowerCycle:
		err = errors.New("lost_zero goes with power_cycle")
	case s.Status != "" && s.Status != "none":
		_, err = devices.ParseStatus(s.Status)
	}
	return s, err
}

func (s Step) actions() int {
	n := 0
	for _, set := range []bool{s.Set.Valid(), s.Move.Valid(), s.Send > 0, s.Key != "", len(s.Raw) > 0, s.Status != "",
		s.Stream > 0, s.Stop, s.Unplug, s.Replug, s.PowerCycle} {
		if set {
			n++
		}
	}
	return n
}

func value(to *quantity.Value, key, text string) error {
	if text == "" {
		return nil
	}
	v, err := quantity.Parse(text)
	if err != nil {
		return fmt.Errorf("%s: %w", key, err)
	}
	*to = v
	return nil
}

func span(to *time.Duration, key, text string) error {
	if text == "" {
		return nil
	}
	d, err := time.ParseDuration(text)
	if err != nil || d <= 0 {
		return fmt.Errorf("%s: %q is not a time: want as \"200ms\" or \"1s\"", key, text)
	}
	*to = d
	return nil
}

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

// Run plays what is left.
func (p *Play) Run(ctx context.Context) error {
	for {
		if _, more, err := p.Next(ctx); err != nil || !more {
			return err
		}
	}
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
		return g.SetChannel(channel, s.Set)
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
