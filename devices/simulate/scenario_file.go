package simulate

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/pelletier/go-toml/v2"

	"thoud/calc/quantity"
	"thoud/devices"
)

type scenarioFile struct {
	Title string         `toml:"title"`
	Seed  uint64         `toml:"seed"`
	Gauge []gaugeFile    `toml:"gauge"`
	Step  []scenarioStep `toml:"step"`
}

type gaugeFile struct {
	Name       string       `toml:"name"`
	Profile    string       `toml:"profile"`
	Channel    string       `toml:"channel"`
	Channels   []string     `toml:"channels"`
	Resolution string       `toml:"resolution"`
	Start      string       `toml:"start"`
	Stream     string       `toml:"stream"`
	Follows    string       `toml:"follows"`
	Curve      [][2]float64 `toml:"curve"`
	Period     float64      `toml:"period"`
	Noise      float64      `toml:"noise"`
	Backlash   float64      `toml:"backlash"`
	Drift      float64      `toml:"drift"`
	Drop       float64      `toml:"drop"`
	Garbage    float64      `toml:"garbage"`
	Corrupt    float64      `toml:"corrupt"`
	Split      float64      `toml:"split"`
	Merge      float64      `toml:"merge"`
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
	for i, g := range s.Gauges {
		if l := g.Follows.Leader; l != "" && (!known[l] || l == g.Name) {
			return Scenario{}, fmt.Errorf("%s: gauge %d: follows %q, none of the scenario's other gauges", name, i+1, l)
		}
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
	g.Follows = Follow{f.Follows, f.Curve, f.Period}
	err := errors.Join(value(&g.Resolution, "resolution", f.Resolution), value(&g.Start, "start", f.Start), span(&g.Stream, "stream", f.Stream))
	switch {
	case f.Follows != "":
		err = errors.Join(err, g.Follows.validate())
	case len(f.Curve) > 0 || f.Period != 0:
		err = errors.Join(err, errors.New("curve and period go with follows"))
	}
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
