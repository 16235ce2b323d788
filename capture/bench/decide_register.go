package bench

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// registered finds a gauge that a verb names.
func registered(sc Scene, name string) (GaugeState, error) {
	g, ok := sc.State.Gauge(name)
	if !ok {
		return g, fmt.Errorf("no gauge %q is registered: thoud gauge list shows what is", name)
	}
	return g, nil
}

func decideUse(sc Scene, v Verb) (Decision, error) {
	g, err := registered(sc, v.Gauge)
	if err != nil {
		return Decision{}, err
	}
	return make1(asked(v, Entry{Kind: GaugeChosen, Item: g.Name}), fmt.Sprintf("%s reads where a %s is wanted", g.Name, g.Role))
}

func decideGaugeCheck(sc Scene, v Verb) (Decision, error) {
	if v.Check == nil || v.Check.U < 0 {
		return refuse("a check wants the gauge's error and its standard uncertainty")
	}
	if _, err := registered(sc, v.Check.Gauge); err != nil {
		return Decision{}, err
	}
	return make1(asked(v, Entry{Kind: GaugeChecked, Check: v.Check}), "check of "+v.Check.Gauge+" kept")
}

func decideGaugeRemove(sc Scene, v Verb) (Decision, error) {
	g, err := registered(sc, v.Gauge)
	if err != nil {
		return Decision{}, err
	}
	return make1(asked(v, Entry{Kind: GaugeRemoved, Item: g.Name, Reason: v.Reason}), g.Name+" is no longer listened to; its readings stay")
}

func decideGaugeAdd(sc Scene, v Verb) (Decision, error) {
	if v.Register == nil || v.Register.Name == "" {
		return refuse("a gauge wants a name")
	}
	g := *v.Register
	if err := checkGauge(sc, g); err != nil {
		return Decision{}, err
	}
	if g.Sense == 0 {
		g.Sense = 1
	}
	if g.Sends == "" {
		g.Sends = SendsStream
	}
	g.ProfileText = sc.Profiles[g.Profile].Text
	return make1(asked(v, Entry{Kind: GaugeAdded, Gauge: &g}), fmt.Sprintf("gauge %s, %s, at %s", g.Name, g.Role, g.Port))
}

func checkGauge(sc Scene, g Gauge) error {
	if !ValidName(g.Name) {
		return fmt.Errorf("%q cannot name a gauge: want a-z, 0-9 and -, at most 32", g.Name)
	}
	if g.Role == "" {
		return errors.New("a gauge wants a role: indicator, caliper, bore …")
	}
	if err := plan.CheckRole(g.Role); err != nil {
		return fmt.Errorf("gauge %q: %w", g.Name, err)
	}
	if old, ok := sc.State.Gauge(g.Name); ok {
		return fmt.Errorf("a gauge %q is registered already, at %s: remove it first, or take another name", old.Name, old.Gauge.Port)
	}
	if g.Known == KnownKeyed {
		return nil
	}
	for _, o := range sc.State.Gauges {
		if !o.Removed && o.Gauge.Identity == g.Identity && (o.Channel == g.Channel || o.Profile != g.Profile) {
			return fmt.Errorf("port %s belongs to gauge %q already; another channel of the same line is registered with its --channel", g.Port, o.Name)
		}
	}
	m, ok := sc.Profiles[g.Profile]
	if !ok {
		return fmt.Errorf("there is no profile %q: thoud profile list shows what there is", g.Profile)
	}
	return m.fit(g)
}

// fit checks that a gauge says what its frames do not: which channel is its own, and which unit its display shows. Both
// would be guessed otherwise, and a guessed unit is 25.4 times off.
func (m Manners) fit(g Gauge) error {
	switch {
	case len(m.Channels) > 1 && g.Channel == "":
		return fmt.Errorf("gauge %q: the profile %s carries the channels %s: say which one is this gauge's (--channel)", g.Name, g.Profile, strings.Join(m.Channels, ", "))
	case len(m.Channels) > 0 && g.Channel != "" && !slices.Contains(m.Channels, g.Channel):
		return fmt.Errorf("gauge %q: the profile %s has no channel %q: it carries %s", g.Name, g.Profile, g.Channel, strings.Join(m.Channels, ", "))
	}
	usual := m.Units[g.Channel]
	switch unit, err := quantity.UnitOf(g.Unit); {
	case usual == "" && g.Unit != "":
		return fmt.Errorf("gauge %q: its frames name their unit themselves: leave the unit out", g.Name)
	case usual == "":
		return nil
	case g.Unit == "":
		return fmt.Errorf("gauge %q: its frames name no unit, and the profile %s takes %s: look at its display and say what it shows (--unit %s)", g.Name, g.Profile, usual, strings.Join(likeUnits(usual), " or --unit "))
	case err != nil:
		return fmt.Errorf("gauge %q: %w", g.Name, err)
	case !slices.Contains(likeUnits(usual), unit.Code):
		return fmt.Errorf("gauge %q: the profile %s sends %s, so that its display cannot show %s: want %s", g.Name, g.Profile, usual, g.Unit, strings.Join(likeUnits(usual), " or "))
	}
	return nil
}

// likeUnits are the units that a display may show in place of one: of the same kind, the one itself first.
func likeUnits(code string) []string {
	u, err := quantity.UnitOf(code)
	if err != nil {
		return []string{code}
	}
	list := []string{code}
	for _, other := range quantity.Units() {
		if other.Kind == u.Kind && other.Code != "" && !slices.Contains(list, other.Code) {
			list = append(list, other.Code)
		}
	}
	return list
}

func decideBuildStart(sc Scene, v Verb) (Decision, error) {
	if v.Build == nil || !ValidName(v.Build.Job) {
		return refuse("a build wants a job number of a-z, 0-9 and -, at most 32")
	}
	if _, ok := sc.State.Known(v.Build.Job); ok {
		return refuse(fmt.Sprintf("job %s was started before: go on with it (thoud bench %s), or take another number", v.Build.Job, v.Build.Job))
	}
	p, err := plan.Parse(v.Build.Plan, []byte(v.Build.Text))
	if err != nil {
		return Decision{}, err // it names the plan, line and column
	}
	if err := p.CheckAnswers(); err != nil {
		return Decision{}, err
	}
	first := p.Steps[0]
	return Decision{Words: fmt.Sprintf("job %s begins: %s, %d steps; first: %s", v.Build.Job, p.Title, len(p.Steps), first.Title),
		Entries: []Entry{
			asked(v, Entry{Kind: BuildStarted, Build: v.Build}),
			{Kind: StepEntered, Place: Place{Build: v.Build.Job, Step: first.ID}, By: v.By},
		}}, nil
}

func decideBuildClose(sc Scene, v Verb) (Decision, error) {
	job := sc.State.Place.Build
	if v.Place != nil && v.Place.Build != "" {
		job = v.Place.Build
	}
	b, ok := sc.State.Build(job)
	if (!ok || b.Closed) && job != "" {
		return refuse(fmt.Sprintf("there is no open build %q to close", job))
	}
	if !ok || b.Closed {
		return refuse("there is no open build to close")
	}
	if in := b.Inside(); len(in) > 0 {
		return refuse(fmt.Sprintf("still in the engine: %s; take it out and count it before the build is closed", plan.Called(in[0].Name)))
	}
	if len(b.Loose) > 0 {
		return refuse(fmt.Sprintf("still loose: %s; make it fast before the build is closed", b.Loose[0].Name))
	}
	if open := stillOpen(b, sc.Results); len(open) > 0 && v.Reason == "" {
		return refuse(fmt.Sprintf("job %s has open steps: %s; finish them, or give a reason to close it all the same", b.Job, strings.Join(open, ", ")))
	}
	return make1(asked(v, Entry{Kind: BuildClosed, Place: Place{Build: b.Job}, Reason: v.Reason}), "job "+b.Job+" is closed")
}

// stillOpen lists the steps of a build that are not done, or are done and wait for a signature, each with how far it is.
func stillOpen(b *Build, results Results) []string {
	var open []string
	for _, s := range b.Plan.Steps {
		switch p := ProgressOf(b, s, results); {
		case p == SignedOff, p == LeftOut:
		case p != Done:
			open = append(open, fmt.Sprintf("%s (%s)", s.Title, p))
		case s.Hold:
			open = append(open, s.Title+" (not signed)")
		}
	}
	return open
}
