package bench

import (
	"fmt"
	"maps"
	"slices"

	"thoud/capture/plan"
)

// Apply folds one entry into a state: a pure function. What an entry cannot mean here (a reading for a pass that is not
// there) leaves the state as it was but for the number, and is told as an error; the fold goes on. The parts that the
// entry needs must be in memory: see Parts.
func (f Fold) Apply(s State, e Entry) (State, error) {
	if s.Bench == "" {
		s.Bench = e.Bench
	}
	s.N = e.N
	if e.Verb != "" {
		s.Verbs = s.Verbs.with(VerbDone{e.Verb, e.N})
	}
	next, err := f.apply(s, e)
	if err != nil {
		return s, fmt.Errorf("entry %d (%s, %s): %w", e.N, e.Kind, e.Place, err)
	}
	return next, nil
}

func (f Fold) apply(s State, e Entry) (State, error) {
	switch {
	case aboutGauges(e.Kind):
		return applyGauge(s, e)
	case aboutLife(e.Kind):
		return applyLife(s, e)
	case e.Kind == RulesNamed, e.Kind == KeyNamed:
		return named(s, e), nil
	case e.Kind == EngineValues:
		return engineSet(s, e)
	case e.Kind == BuildStarted:
		return f.started(s, e)
	}
	// Everything else happens within a build.
	i := slices.IndexFunc(s.Builds, func(b *Build) bool { return b.Job == e.Place.Build })
	if i < 0 {
		if row, ok := s.Known(e.Place.Build); ok {
			return s, fmt.Errorf("build %q of entry %d is not in memory: a fault of the program", row.Job, row.N)
		}
		return s, fmt.Errorf("no build %q", e.Place.Build)
	}
	b := *s.Builds[i]
	b.Steps = maps.Clone(b.Steps)
	b.Last = e.N
	seeClocks(&b, e)
	place, err := f.applyBuild(&b, s.Place, e)
	if err == nil && e.Kind == Answered && e.Item != "" {
		place, err = f.answered(&b, place, e, markOf(e))
	}
	if err != nil {
		return s, err
	}
	if place.Build == b.Job && place.Step != "" {
		b.Stood = place
	}
	s.Builds = slices.Clone(s.Builds)
	s.Builds[i] = &b
	s.Place = place
	if e.Kind == BuildClosed {
		s.Index = slices.Clone(s.Index)
		for i := range s.Index {
			if s.Index[i].Job == b.Job {
				s.Index[i].Closed = e.N
			}
		}
	}
	return s, nil
}

func (f Fold) started(s State, e Entry) (State, error) {
	if e.Build == nil {
		return s, fmt.Errorf("no build in it")
	}
	if _, ok := s.Known(e.Build.Job); ok {
		return s, fmt.Errorf("job %s was started before", e.Build.Job)
	}
	p, err := f.parse(e.Build.Plan, e.Build.Text, nil)
	if err != nil {
		return s, fmt.Errorf("its plan: %w", err)
	}
	record, _ := s.Record(e.Build.Engine)
	s.Builds = append(slices.Clone(s.Builds), &Build{Started: *e.Build, Plan: p, Record: record, At: e.At, N: e.N, Last: e.N, Steps: map[string]*StepState{}})
	s.Index = append(slices.Clone(s.Index), BuildRow{Job: e.Build.Job, Engine: e.Build.Engine, Plan: e.Build.Plan, N: e.N, At: e.At})
	s.Place = Place{Build: e.Build.Job}
	return s, nil
}

func applyGauge(s State, e Entry) (State, error) {
	if e.Kind == GaugeAdded {
		if e.Gauge == nil {
			return s, fmt.Errorf("no gauge in it")
		}
		s.Gauges = slices.DeleteFunc(slices.Clone(s.Gauges), func(g GaugeState) bool { return g.Name == e.Gauge.Name })
		s.Gauges = append(s.Gauges, GaugeState{Gauge: *e.Gauge, Open: e.Gauge.Known == KnownKeyed, Port: e.Gauge.Port})
		return s, nil
	}
	name := GaugeOf(e)
	i := slices.IndexFunc(s.Gauges, func(g GaugeState) bool { return g.Name == name })
	if i < 0 {
		return s, fmt.Errorf("no gauge %q", name)
	}
	g := s.Gauges[i]
	switch e.Kind {
	case ProfileNamed:
		g.ProfileText = e.Gauge.ProfileText
	case GaugeRemoved:
		g.Removed, g.Open, g.Zero, g.Points = true, false, nil, nil
	case GaugeLost:
		g.Open = false
	case GaugeBack:
		g.Open, g.Port, g.Device = true, e.Link.Port, e.Link.Device
	case GaugeChosen:
		s.Gauges = slices.Clone(s.Gauges)
		for k := range s.Gauges {
			if s.Gauges[k].Role == g.Role {
				s.Gauges[k].Chosen = false
			}
		}
		g.Chosen = true
	case GaugeChecked:
		g.Checks = append(slices.Clone(g.Checks), *e.Check)
	case ZeroSet:
		g.Zero = &ZeroInForce{ID: e.ID, N: e.N, At: e.At, Boot: e.Boot, Place: e.Place, Zero: *e.Zero}
		g.Lost, g.Rests = "", nil
		if step := s.stepAt(e.Place); ownZero(step, e.Place.Point) && e.Place.Point != "" {
			g.Points = slices.DeleteFunc(slices.Clone(g.Points), func(z *ZeroInForce) bool { return sameZero(step, z.Place, e.Place) })
			g.Points = append(g.Points, g.Zero)
		}
	case ZeroLost:
		g.Zero, g.Points, g.Lost = nil, nil, e.Reason
	case DatumSeen:
		if e.Reading != nil {
			g.Rests = append(slices.Clone(g.Rests), e.Reading.Value)
		}
	}
	s.Gauges = slices.Clone(s.Gauges)
	s.Gauges[i] = g
	return s, nil
}

// stepAt is the step of a place; the zero Step where there is none.
func (s State) stepAt(p Place) plan.Step {
	b, ok := s.Build(p.Build)
	if !ok || b.Plan == nil {
		return plan.Step{}
	}
	step, _ := b.Plan.Step(p.Step)
	return step
}

// markOf is who made an entry, when and why.
func markOf(e Entry) Mark {
	mark := Mark{By: e.By, At: e.At, N: e.N, Reason: e.Reason}
	if e.Initials != "" {
		mark.By = e.Initials
	}
	return mark
}

func (f Fold) applyBuild(b *Build, at Place, e Entry) (Place, error) {
	mark := markOf(e)
	step, known := b.Plan.Step(e.Place.Step)
	if !known && e.Place.Step != "" {
		return at, fmt.Errorf("no step %q in the plan", e.Place.Step)
	}
	st := cloneStep(b.Steps[e.Place.Step])
	if known {
		b.Steps[e.Place.Step] = st
	}
	switch e.Kind {
	case BuildClosed:
		b.Closed = true
		return Place{}, nil
	case PlanChanged:
		return f.replanned(b, at, e)
	case StepEntered:
		st.Entered = true
		return enter(step, st, e.Place), nil
	case PassOpened:
		st.Passes = append(st.Passes, &Pass{Number: e.Place.Pass, Status: PassIsOpen, Opened: mark})
		at = e.Place
		at.Point, at.Seating, _ = st.Missing(step, at.Pass, Place{})
		return at, nil
	case PassClosed, PassVoid:
		place, err := endPass(st, step, at, e, mark)
		if err == nil {
			startClocks(b, step, st, mark, momentOf(e))
		}
		return place, err
	case ReadingTaken:
		return take(st, step, at, e)
	case Withdrawn:
		return withdraw(st, at, e)
	case Asked:
		st.Questions = append(slices.Clone(st.Questions), Open{Question: *e.Question, ID: e.ID, Reading: e.Refers, Pass: e.Place.Pass})
	case Answered:
		st.Questions = slices.DeleteFunc(slices.Clone(st.Questions), func(q Open) bool { return q.ID == e.Refers })
	case Confirmed:
		st.Confirmed = maps.Clone(st.Confirmed)
		if st.Confirmed == nil {
			st.Confirmed = map[string]Mark{}
		}
		st.Confirmed[e.Item] = mark
		settleLoose(b, step, st, mark)
		startClocks(b, step, st, mark, momentOf(e))
	case Acknowledged:
		st.Acknowledged = true
	case Overridden:
		if e.Override == nil {
			return at, fmt.Errorf("no override in it")
		}
		b.Overrides = append(slices.Clone(b.Overrides), OverrideMade{*e.Override, mark, e.Place.Step})
	case Signed:
		st.Signed = &mark
		settleLoose(b, step, st, mark)
		startClocks(b, step, st, mark, momentOf(e))
	case Reopened:
		st.Signed = nil
		st.Reopened = append(slices.Clone(st.Reopened), mark)
	case TallyIn, TallyOut:
		return at, tally(b, step, e, mark)
	case Dropped:
		b.Dropped = e.Item
	case Found:
		b.Dropped = ""
	case Photo:
		if e.Picture != nil {
			b.Pictures = append(slices.Clone(b.Pictures), PinnedPicture{e.ID, e.Place.Step, e.Picture.Note, e.N})
		}
	default:
		return at, fmt.Errorf("a kind this build does not know")
	}
	return at, nil
}

func cloneStep(st *StepState) *StepState {
	if st == nil {
		return &StepState{}
	}
	c := *st
	c.Passes = slices.Clone(st.Passes)
	return &c
}

// enter gives the place on entering a step: its open pass and the point asked for, or the first one missing.
func enter(step plan.Step, st *StepState, want Place) Place {
	at := Place{Build: want.Build, Step: want.Step}
	p := st.Last()
	if p != nil {
		at.Pass = p.Number
	}
	if want.Point != "" {
		at.Point, at.Seating = want.Point, max(want.Seating, 1)
		return at
	}
	if p == nil {
		// No pass yet: the bench stands at the point that the first one will begin with.
		at.Point, at.Seating, _ = st.Missing(step, 1, Place{})
		return at
	}
	if p.Status != PassIsClosed {
		at.Point, at.Seating = nextPoint(step, st, p, Place{})
	}
	return at
}

// nextPoint is where a pass stands after a place: the next missing point, or the closing datum, or nowhere.
func nextPoint(step plan.Step, st *StepState, p *Pass, after Place) (string, int) {
	if point, seating, ok := st.Missing(step, p.Number, after); ok {
		return point, seating
	}
	if step.Datum != nil && step.Datum.Close && p.Status != PassIsClosed {
		return DatumPoint, 1
	}
	return "", 0
}

func take(st *StepState, step plan.Step, at Place, e Entry) (Place, error) {
	if e.Reading == nil {
		return at, fmt.Errorf("no reading in it")
	}
	i := slices.IndexFunc(st.Passes, func(p *Pass) bool { return p.Number == e.Place.Pass })
	if i < 0 {
		return at, fmt.Errorf("no pass %d", e.Place.Pass)
	}
	p := *st.Passes[i]
	readings := make([]Taken, len(p.Readings), len(p.Readings)+1) // copied once, with the room that it needs
	copy(readings, p.Readings)
	p.Readings = append(readings, Taken{Reading: *e.Reading, ID: e.ID, N: e.N, At: e.At,
		Point: e.Place.Point, Seating: max(e.Place.Seating, 1), By: e.By})
	st.Passes[i] = &p
	at = e.Place
	if p.Status == PassIsOpen {
		if _, _, missing := st.Missing(step, p.Number, Place{}); !missing {
			p.Status = PassIsFull
		}
	}
	at.Point, at.Seating = nextPoint(step, st, &p, e.Place)
	return at, nil
}

func withdraw(st *StepState, at Place, e Entry) (Place, error) {
	for i, p := range st.Passes {
		j := slices.IndexFunc(p.Readings, func(r Taken) bool { return r.ID == e.Refers })
		if j < 0 {
			continue
		}
		q := *p
		q.Readings = slices.Clone(p.Readings)
		q.Readings[j].Withdrawn = true
		if q.Status != PassIsVoid {
			q.Status = PassIsOpen
		}
		q.Drift = nil
		st.Passes[i] = &q
		// That point is current again.
		return Place{Build: e.Place.Build, Step: e.Place.Step, Pass: q.Number, Point: q.Readings[j].Point, Seating: q.Readings[j].Seating}, nil
	}
	return at, fmt.Errorf("no reading %s to withdraw", e.Refers)
}

func endPass(st *StepState, step plan.Step, at Place, e Entry, mark Mark) (Place, error) {
	i := slices.IndexFunc(st.Passes, func(p *Pass) bool { return p.Number == e.Place.Pass })
	if i < 0 {
		return at, fmt.Errorf("no pass %d", e.Place.Pass)
	}
	p := *st.Passes[i]
	p.Ended, p.Drift = mark, e.Drift
	p.Status = PassIsClosed
	if e.Kind == PassVoid {
		p.Status = PassIsVoid
	}
	st.Passes[i] = &p
	at = Place{Build: e.Place.Build, Step: e.Place.Step, Pass: p.Number}
	return at, nil
}

// settleLoose keeps the list of loose things: a step that is done leaves its own and makes fast those it ends.
func settleLoose(b *Build, step plan.Step, st *StepState, mark Mark) {
	for _, c := range step.Confirms {
		if _, ok := st.Confirmed[c.ID]; !ok {
			return
		}
	}
	b.Loose = slices.DeleteFunc(slices.Clone(b.Loose), func(l LooseThing) bool {
		return l.Ends == step.ID || slices.Contains(step.Ends, l.Name)
	})
	for _, l := range step.Loose {
		if !slices.ContainsFunc(b.Loose, func(t LooseThing) bool { return t.Name == l.Name }) {
			b.Loose = append(b.Loose, LooseThing{Loose: l, Step: step.ID, Since: mark})
		}
	}
}

func tally(b *Build, step plan.Step, e Entry, mark Mark) error {
	b.Tally = slices.Clone(b.Tally)
	if e.Kind == TallyIn {
		i := slices.IndexFunc(step.Items, func(it plan.Item) bool { return it.Name == e.Item })
		if i < 0 {
			return fmt.Errorf("%q is not put in by this step", e.Item)
		}
		b.Tally = append(b.Tally, TallyItem{Item: step.Items[i], Step: step.ID, In: mark})
		return nil
	}
	for i := len(b.Tally) - 1; i >= 0; i-- {
		if b.Tally[i].Name == e.Item && b.Tally[i].Out == nil {
			b.Tally[i].Out = &mark
			return nil
		}
	}
	return fmt.Errorf("%q is not in the engine", e.Item)
}

// Inside lists what is still in the engine.
func (b *Build) Inside() []TallyItem {
	var in []TallyItem
	for _, t := range b.Tally {
		if t.Out == nil {
			in = append(in, t)
		}
	}
	return in
}
