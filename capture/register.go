package capture

import (
	"errors"
	"fmt"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// gaugeVerb registers, removes, checks or chooses a gauge.
func (l *Loop) gaugeVerb(v bench.Verb) ([]draft, string, error) {
	switch v.Name {
	case bench.DoGaugeAdd:
		return l.addGauge(v)
	case bench.DoUse:
		g, ok := l.State().Gauge(v.Gauge)
		if !ok {
			return nil, "", fmt.Errorf("no gauge %q is registered", v.Gauge)
		}
		return []draft{func(bench.State) *bench.Entry {
			return &bench.Entry{Kind: bench.GaugeChosen, By: v.By, Item: g.Name}
		}}, fmt.Sprintf("%s reads where a %s is wanted", g.Name, g.Role), nil
	}
	name := v.Gauge
	if v.Check != nil {
		name = v.Check.Gauge
	}
	if _, ok := l.State().Gauge(name); !ok {
		return nil, "", fmt.Errorf("no gauge %q is registered: thoud gauge list shows what is", name)
	}
	if v.Name == bench.DoGaugeCheck {
		if v.Check == nil || v.Check.U < 0 {
			return nil, "", errors.New("a check wants the gauge's error and its standard uncertainty")
		}
		return []draft{func(bench.State) *bench.Entry {
			return &bench.Entry{Kind: bench.GaugeChecked, By: v.By, Check: v.Check}
		}}, "check of " + name + " kept", nil
	}
	return []draft{func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.GaugeRemoved, By: v.By, Item: name, Reason: v.Reason}
	}}, name + " is no longer listened to; its readings stay", nil
}

func (l *Loop) addGauge(v bench.Verb) ([]draft, string, error) {
	g := v.Register
	switch {
	case g == nil || g.Name == "":
		return nil, "", errors.New("a gauge wants a name")
	case !bench.ValidName(g.Name):
		return nil, "", fmt.Errorf("%q cannot name a gauge: want a-z, 0-9 and -, at most 32", g.Name)
	case g.Role != "" && plan.CheckRole(g.Role) != nil:
		return nil, "", fmt.Errorf("gauge %q: %w", g.Name, plan.CheckRole(g.Role))
	case g.Role == "":
		return nil, "", errors.New("a gauge wants a role: indicator, caliper, bore …")
	}
	if old, ok := l.State().Gauge(g.Name); ok {
		return nil, "", fmt.Errorf("a gauge %q is registered already, at %s: remove it first, or take another name", old.Name, old.Gauge.Port)
	}
	for _, o := range l.State().Gauges {
		if !o.Removed && g.Known != bench.KnownKeyed && o.Gauge.Identity == g.Identity && (o.Channel == g.Channel || o.Profile != g.Profile) {
			return nil, "", fmt.Errorf("port %s belongs to gauge %q already; another channel of the same line is registered with its --channel", g.Port, o.Name)
		}
	}
	if g.Known != bench.KnownKeyed {
		if _, ok := l.Profiles[g.Profile]; !ok {
			return nil, "", fmt.Errorf("there is no profile %q: thoud profile list shows what there is", g.Profile)
		}
	}
	if g.Sense == 0 {
		g.Sense = 1
	}
	if g.Sends == "" {
		g.Sends = bench.SendsStream
	}
	return []draft{func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.GaugeAdded, By: v.By, Gauge: g}
	}}, fmt.Sprintf("gauge %s, %s, at %s", g.Name, g.Role, g.Port), nil
}

func (l *Loop) buildVerb(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	if v.Name == bench.DoBuildClose {
		b, ok := s.Build(s.Place.Build)
		if v.Place != nil && v.Place.Build != "" {
			b, ok = s.Build(v.Place.Build)
		}
		if !ok || b.Closed {
			return nil, "", errors.New("there is no open build to close")
		}
		if in := b.Inside(); len(in) > 0 {
			return nil, "", fmt.Errorf("still in the engine: %s; take it out and count it before the build is closed", in[0].Name)
		}
		if len(b.Loose) > 0 {
			return nil, "", fmt.Errorf("still loose: %s; make it fast before the build is closed", b.Loose[0].Name)
		}
		return []draft{func(bench.State) *bench.Entry {
			return &bench.Entry{Kind: bench.BuildClosed, Place: bench.Place{Build: b.Job}, By: v.By, Reason: v.Reason}
		}}, "job " + b.Job + " is closed", nil
	}
	if v.Build == nil || !bench.ValidName(v.Build.Job) {
		return nil, "", errors.New("a build wants a job number of a-z, 0-9 and -, at most 32")
	}
	if _, ok := s.Build(v.Build.Job); ok {
		return nil, "", fmt.Errorf("job %s was started before: go to it (thoud goto), or take another number", v.Build.Job)
	}
	p, err := plan.Parse(v.Build.Plan, []byte(v.Build.Text))
	if err != nil {
		return nil, "", err // it names the plan, line and column
	}
	start := func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.BuildStarted, By: v.By, Build: v.Build}
	}
	enter := func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: v.Build.Job, Step: p.Steps[0].ID}, By: v.By}
	}
	return []draft{start, enter}, fmt.Sprintf("job %s begins: %s, %d steps; first: %s", v.Build.Job, p.Title, len(p.Steps), p.Steps[0].Title), nil
}
