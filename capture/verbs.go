package capture

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// onCall answers a verb: one asked before gets its first answer again; one whose sender saw another place is refused.
func (l *Loop) onCall(ctx context.Context, c call) {
	v := c.verb
	if a, ok := l.answers[v.ID]; ok && v.ID != "" {
		c.reply <- a
		return
	}
	s := l.State()
	if n, ok := s.Did(v.ID); ok && v.ID != "" {
		c.reply <- bench.Answer{OK: true, Words: fmt.Sprintf("done before, as entry %d", n), N: n, Place: s.Place}
		return
	}
	if v.Seen != nil && *v.Seen != s.Place && placed(v.Name) {
		c.reply <- bench.Answer{Moved: true, Place: s.Place,
			Words: fmt.Sprintf("the bench has moved on: it stands at %s now, not at %s; nothing was done", s.Place, *v.Seen)}
		return
	}
	l.onVerb(ctx, v, c.reply)
}

// placed reports whether a verb means the place its sender sees.
func placed(name string) bool {
	switch name {
	case bench.DoGaugeAdd, bench.DoGaugeRemove, bench.DoGaugeCheck, bench.DoUse, bench.DoBuildStart, bench.DoGoto, bench.DoDropped, bench.DoFound, bench.DoPhoto:
		return false
	}
	return true
}

func (l *Loop) onVerb(ctx context.Context, v bench.Verb, reply chan<- bench.Answer) {
	var drafts []draft
	var words string
	var err error
	switch v.Name {
	case bench.DoTake, bench.DoZero, bench.DoSweep:
		l.takeOrZero(ctx, v, reply)
		return
	case bench.DoKey, bench.DoBracket:
		drafts, words, err = l.keyed(v)
	case bench.DoRetake:
		drafts, words, err = l.retake(v)
	case bench.DoNext:
		drafts, words, err = l.next(v)
	case bench.DoAgain:
		drafts, words, err = l.again(v)
	case bench.DoVoid:
		drafts, words, err = l.void(v)
	case bench.DoAnswer:
		drafts, words, err = l.answerQuestion(v)
	case bench.DoGoto:
		drafts, words, err = l.goTo(v)
	case bench.DoGaugeAdd, bench.DoGaugeRemove, bench.DoGaugeCheck, bench.DoUse:
		drafts, words, err = l.gaugeVerb(v)
	case bench.DoBuildStart, bench.DoBuildClose:
		drafts, words, err = l.buildVerb(v)
	default:
		drafts, words, err = l.stepVerb(v)
	}
	if err != nil {
		l.refuse(v, reply, err)
		return
	}
	l.enqueue(ctx, task{verb: v, reply: reply, drafts: drafts, words: words})
}

// takeOrZero takes the newest value of the gauge that reads here; a gauge that speaks only on its data key is waited
// for.
func (l *Loop) takeOrZero(ctx context.Context, v bench.Verb, reply chan<- bench.Answer) {
	sp, err := l.nextSpot()
	if v.Name == bench.DoZero {
		err = nil // a zero is set anywhere
	}
	var g bench.GaugeState
	if err == nil {
		g, err = l.wantedGauge(v)
	}
	if err != nil {
		l.refuse(v, reply, err)
		return
	}
	if v.Name != bench.DoZero {
		if isSweep(sp.mode()) || l.sweep != nil {
			l.sweepVerb(ctx, v, reply, sp, g)
			return
		}
		if v.Name == bench.DoSweep {
			l.refuse(v, reply, errors.New("nothing is swept at this point: take its reading"))
			return
		}
	}
	if g.Sends == bench.SendsKey && v.Name == bench.DoZero {
		l.armed[g.Name], l.armedAt[g.Name] = v, l.Now()
		l.answer(v, reply, bench.Answer{OK: true, Words: fmt.Sprintf("rest %s on the datum and press its data key: that is its zero", g.Name), Place: l.State().Place})
		return
	}
	if g.Sends == bench.SendsKey {
		l.refuse(v, reply, fmt.Errorf("gauge %q speaks only when its own data key is pressed: press it", g.Name))
		return
	}
	h, err := l.newest(g)
	if err != nil {
		l.refuse(v, reply, err)
		return
	}
	if v.Name == bench.DoZero {
		l.zero(ctx, v, reply, g, h)
		return
	}
	l.take(ctx, v, reply, g, h, plan.Press)
}

func (l *Loop) wantedGauge(v bench.Verb) (bench.GaugeState, error) {
	if v.Gauge != "" {
		g, ok := l.State().Gauge(v.Gauge)
		if !ok {
			return g, fmt.Errorf("no gauge %q is registered: thoud gauge list shows what is", v.Gauge)
		}
		return g, nil
	}
	role := ""
	if _, step := l.State().Current(); step != nil {
		role = step.Capture.Role
		if pt, ok := step.Point(l.State().Place.Point); ok && pt.Role != "" {
			role = pt.Role
		}
	}
	return l.gaugeFor(role)
}

// keyed takes a typed value, or the two blades of a feeler bracket. It is marked keyed for ever.
func (l *Loop) keyed(v bench.Verb) ([]draft, string, error) {
	sp, err := l.nextSpot()
	if err != nil {
		return nil, "", err
	}
	r := &bench.Reading{Gauge: v.Gauge, Mode: string(plan.Keyed), Keyed: true, Rest: sp.place.Point == bench.DatumPoint}
	switch {
	case v.Name == bench.DoBracket:
		if v.Goes == nil || v.Stops == nil {
			return nil, "", errors.New("a bracket wants two blades: the largest that goes and the smallest that does not")
		}
		if v.Goes.Float() >= v.Stops.Float() {
			return nil, "", fmt.Errorf("the blade that goes (%s) must be thinner than the one that does not (%s)", v.Goes, v.Stops)
		}
		r.Mode, r.Goes, r.Stops = string(plan.Bracket), v.Goes, v.Stops
		mid, err := middle(*v.Goes, *v.Stops)
		if err != nil {
			return nil, "", err
		}
		r.Raw = mid
		r.Text = v.Goes.String() + " goes, " + v.Stops.String() + " does not"
	case v.Value == nil || !v.Value.Valid():
		return nil, "", errors.New("a typed reading wants a value and a unit, as \"0.0215 in\"")
	default:
		r.Raw, r.Text = *v.Value, v.Value.String()
		if v.Turns != 0 {
			raw, err := l.withTurns(v)
			if err != nil {
				return nil, "", err
			}
			r.Raw, r.Turns = raw, v.Turns
			r.Text = fmt.Sprintf("%d revolutions and %s", v.Turns, v.Value)
		}
	}
	if kind := sp.step.Capture.Kind; kind != "" && r.Raw.Kind() != kind {
		return nil, "", fmt.Errorf("%s is a %s, this step wants a %s", r.Raw, r.Raw.Kind(), kind)
	}
	r.Value = r.Raw
	if g, ok := l.State().Gauge(v.Gauge); ok && g.Zero != nil {
		if err := againstZero(sp, g, r); err != nil {
			return nil, "", err
		}
	}
	return append(l.takeDrafts(sp, r, v.By), l.closeDraft), fmt.Sprintf("%s: %s, keyed", sp.place, r.Value), nil
}

// withTurns adds whole revolutions of a plain dial's hand to what the hand shows.
func (l *Loop) withTurns(v bench.Verb) (quantity.Value, error) {
	g, ok := l.State().Gauge(v.Gauge)
	if v.Turns > mostTurns || v.Turns < -mostTurns {
		return quantity.Value{}, fmt.Errorf("%d revolutions: more than any dial has", v.Turns)
	}
	if !ok || !g.PerTurn.Valid() {
		return quantity.Value{}, fmt.Errorf("revolutions are understood of a dial that is registered with --per-turn; %q is not", v.Gauge)
	}
	raw := *v.Value
	for range max(v.Turns, -v.Turns) {
		var err error
		if v.Turns > 0 {
			raw, err = raw.Add(g.PerTurn)
		} else {
			raw, err = raw.Sub(g.PerTurn)
		}
		if err != nil {
			return quantity.Value{}, err
		}
	}
	return raw, nil
}

// mostTurns is more than any dial has.
const mostTurns = 200

// middle is the mid of two blades, exact to a tenth of a nanometre.
func middle(a, b quantity.Value) (quantity.Value, error) {
	sum, err := a.Add(b)
	if err != nil {
		return quantity.Value{}, err
	}
	sum.N /= 2
	return sum, nil
}

func (l *Loop) retake(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	b, step := s.Current()
	if b == nil || step == nil {
		return nil, "", errors.New("there is no reading to take back: the bench stands at no step")
	}
	st := b.Step(step.ID)
	last, ok := lastStanding(st, v.Place)
	if !ok {
		return nil, "", fmt.Errorf("there is no reading in %s to take back", step.ID)
	}
	place := bench.Place{Build: b.Job, Step: step.ID, Pass: last.pass, Point: last.Point, Seating: last.Seating}
	drafts := l.reopenIfSigned(b, step.ID, "a reading was taken back")
	drafts = append(drafts, func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.Withdrawn, Place: place, By: v.By, Refers: last.ID, Reason: v.Reason}
	})
	for _, q := range st.Questions {
		if q.Reading == last.ID {
			drafts = append(drafts, func(bench.State) *bench.Entry {
				return &bench.Entry{Kind: bench.Answered, Place: place, By: v.By, Refers: q.ID, Choice: ReadAgain}
			})
		}
	}
	return drafts, fmt.Sprintf("%s withdrawn (it is kept): read %s again", last.Value, last.Point), nil
}

type inPass struct {
	bench.Taken
	pass int
}

// lastStanding finds the reading to take back: the newest that stands, or the one at a place.
func lastStanding(st *bench.StepState, at *bench.Place) (inPass, bool) {
	best := inPass{}
	for _, p := range st.Passes {
		if p.Status == bench.PassIsVoid {
			continue
		}
		for _, r := range p.Readings {
			if r.Withdrawn || at != nil && at.Point != "" && (r.Point != at.Point || at.Pass != 0 && p.Number != at.Pass || at.Seating > 0 && r.Seating != at.Seating) {
				continue
			}
			if r.N > best.N {
				best = inPass{r, p.Number}
			}
		}
	}
	return best, best.N > 0
}

func (l *Loop) reopenIfSigned(b *bench.Build, step, why string) []draft {
	if b.Step(step).Signed == nil {
		return nil
	}
	return []draft{func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.Reopened, Place: bench.Place{Build: b.Job, Step: step}, By: "bench", Reason: why, Verb: prepares}
	}}
}

// next goes on: to the next pass where the verdict is not in, otherwise to the next step.
func (l *Loop) next(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	b, step := s.Current()
	if b == nil {
		return nil, "", errors.New("no build is on the bench")
	}
	if step == nil {
		return l.enterDrafts(b, b.Plan.Steps[0], v), "to " + b.Plan.Steps[0].Title, nil
	}
	if p := b.Step(step.ID).InForce(); p != nil && b.Step(step.ID).Last() == p {
		if v2, whole := l.Results().Verdict(b, *step, p.Number); whole && v2 != calc.VerdictIn && v2 != calc.NoVerdict {
			return l.again(v)
		}
	}
	at := b.Plan.Index(step.ID)
	if at+1 >= len(b.Plan.Steps) {
		return nil, "", errors.New("this is the last step: sign it and close the build")
	}
	to := b.Plan.Steps[at+1]
	return l.enterDrafts(b, to, v), "to " + to.Title, nil
}

func (l *Loop) enterDrafts(b *bench.Build, step plan.Step, v bench.Verb) []draft {
	return []draft{func(bench.State) *bench.Entry {
		place := bench.Place{Build: b.Job, Step: step.ID}
		if v.Place != nil {
			place.Point, place.Seating = v.Place.Point, v.Place.Seating
		}
		return &bench.Entry{Kind: bench.StepEntered, Place: place, By: v.By}
	}}
}

func (l *Loop) goTo(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	if v.Place == nil {
		return nil, "", errors.New("goto wants a step, or a build and a step")
	}
	job := v.Place.Build
	if job == "" {
		job = s.Place.Build
	}
	b, ok := s.Build(job)
	if !ok {
		return nil, "", fmt.Errorf("no build %q: thoud build list shows what there is", job)
	}
	id := v.Place.Step
	if id == "" {
		id = b.Plan.Steps[0].ID
	}
	step, ok := b.Plan.Step(id)
	if !ok {
		return nil, "", fmt.Errorf("no step %q in the plan of job %s: it has %s", id, b.Job, stepList(b.Plan))
	}
	if v.Place.Point != "" {
		if _, ok := step.Point(v.Place.Point); !ok && v.Place.Point != bench.DatumPoint {
			return nil, "", fmt.Errorf("no point %q in step %s", v.Place.Point, step.ID)
		}
	}
	words := "at " + step.Title
	if why := bench.Hindrance(b, step, l.Results()); why != "" {
		words += "; " + why
	}
	return l.enterDrafts(b, step, v), words, nil
}

func stepList(p *plan.Plan) string {
	var ids []string
	for _, s := range p.Steps {
		ids = append(ids, s.ID)
	}
	return strings.Join(ids, ", ")
}

// again opens another pass of the step at hand; one that is not full must be finished or made void first.
func (l *Loop) again(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	b, step := s.Current()
	if b == nil || step == nil || len(step.Points) == 0 {
		return nil, "", errors.New("there is nothing to measure again here")
	}
	st := b.Step(step.ID)
	if p := st.Last(); p != nil && p.Status != bench.PassIsClosed {
		return nil, "", fmt.Errorf("pass %d is not closed: finish it, or make it void with a reason", p.Number)
	}
	n := len(st.Passes) + 1
	drafts := l.reopenIfSigned(b, step.ID, "measured again")
	drafts = append(drafts, func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.PassOpened, Place: bench.Place{Build: b.Job, Step: step.ID, Pass: n}, By: v.By, Reason: v.Reason}
	})
	return drafts, fmt.Sprintf("pass %d of %s", n, step.Title), nil
}

func (l *Loop) void(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	b, step := s.Current()
	if b == nil || step == nil || b.Step(step.ID).Last() == nil {
		return nil, "", errors.New("there is no pass to make void")
	}
	if v.Reason == "" {
		return nil, "", errors.New("a pass is made void only with a reason")
	}
	p := b.Step(step.ID).Last()
	return []draft{func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.PassVoid, Place: bench.Place{Build: b.Job, Step: step.ID, Pass: p.Number}, By: v.By, Reason: v.Reason}
	}}, fmt.Sprintf("pass %d is void; its readings are kept", p.Number), nil
}

// answerQuestion answers the oldest open question of the step, or the one named.
func (l *Loop) answerQuestion(v bench.Verb) ([]draft, string, error) {
	s := l.State()
	b, step := s.Current()
	if b == nil || step == nil {
		return nil, "", errors.New("nothing is asked")
	}
	st := b.Step(step.ID)
	for _, q := range st.Questions {
		if v.Item != "" && q.ID != v.Item {
			continue
		}
		for _, choice := range q.Choices {
			if choice == v.Choice {
				return l.answerDrafts(b, *step, q, v), "answered: " + choice, nil
			}
		}
		return nil, "", fmt.Errorf("%q is no answer to it: want %s", v.Choice, strings.Join(q.Choices, ", "))
	}
	return nil, "", errors.New("nothing is asked")
}

func (l *Loop) answerDrafts(b *bench.Build, step plan.Step, q bench.Open, v bench.Verb) []draft {
	var about inPass
	for _, p := range b.Step(step.ID).Passes {
		for _, r := range p.Readings {
			if r.ID == q.Reading {
				about = inPass{r, p.Number}
			}
		}
	}
	place := bench.Place{Build: b.Job, Step: step.ID, Pass: about.pass, Point: about.Point, Seating: about.Seating}
	// The answer comes last, and each entry only where it is still wanted: cut off in the middle, the question stands and
	// is answered again without doing anything twice.
	var drafts []draft
	withdrawOne := func(r bench.Taken) draft {
		return func(s bench.State) *bench.Entry {
			if !stands(s, place, r.ID) {
				return nil
			}
			at := place
			at.Point, at.Seating = r.Point, r.Seating
			return &bench.Entry{Kind: bench.Withdrawn, Place: at, By: v.By, Refers: r.ID, Reason: q.Words, Verb: prepares}
		}
	}
	switch {
	case v.Choice == ReadAgain && q.Guard == "swap":
		p := b.Step(step.ID).Pass(about.pass)
		for i := len(p.Readings) - 1; i >= 0; i-- {
			drafts = append(drafts, withdrawOne(p.Readings[i]))
		}
	case v.Choice == ReadAgain:
		drafts = append(drafts, withdrawOne(about.Taken))
	case v.Choice == TakeSo && q.Take != nil:
		r := about.Reading
		r.Value = *q.Take
		drafts = append(drafts, withdrawOne(about.Taken), func(s bench.State) *bench.Entry {
			if p := passAt(s, place); p == nil {
				return nil
			} else if _, ok := p.Standing(about.Point, about.Seating); ok {
				return nil
			}
			return &bench.Entry{Kind: bench.ReadingTaken, Place: place, By: "answer", Refers: about.ID, Reading: &r, Verb: prepares}
		})
	}
	drafts = append(drafts, func(bench.State) *bench.Entry {
		return &bench.Entry{Kind: bench.Answered, Place: place, By: v.By, Refers: q.ID, Choice: v.Choice, Reason: v.Reason}
	})
	return append(drafts, l.closeDraft)
}

// passAt is the pass of a place; nil where there is none.
func passAt(s bench.State, at bench.Place) *bench.Pass {
	b, ok := s.Build(at.Build)
	if !ok {
		return nil
	}
	return b.Step(at.Step).Pass(at.Pass)
}

// stands reports whether a reading of a place's pass is not withdrawn.
func stands(s bench.State, at bench.Place, id string) bool {
	p := passAt(s, at)
	return p != nil && slices.ContainsFunc(p.Readings, func(r bench.Taken) bool { return r.ID == id && !r.Withdrawn })
}

// onTick is the loop's heartbeat: nothing to do between entries but what time alone brings.
func (l *Loop) onTick(context.Context) {
	// A gauge armed for its zero waits no longer than a minute, so that a later press is not taken for it.
	for name := range l.armed {
		if l.Now().Sub(l.armedAt[name]) > time.Minute {
			delete(l.armed, name)
			l.Tell.Notice(bench.Notice{At: l.Now().UnixMicro(), Words: "no zero was given to " + name + " within a minute: ask for it again"})
		}
	}
}

// onOutcome keeps new results, and reopens signed steps whose figures changed.
func (l *Loop) onOutcome(ctx context.Context, o bench.Outcome) {
	l.committed = max(l.committed, o.N)
	l.tellCommitted()
	if len(o.Results) == 0 {
		return
	}
	next := l.Results().With(o.Results...)
	l.results.Store(&next)
	l.reopenChanged(ctx, o.Results)
}

// reopenChanged opens signed steps again whose figures changed since, with the reason.
func (l *Loop) reopenChanged(ctx context.Context, results []bench.Result) {
	s := l.State()
	for _, r := range results {
		b, ok := s.Build(r.Build)
		if !ok || r.Because == "" {
			continue
		}
		if signed := b.Step(r.Step).Signed; signed == nil || signed.N > r.N {
			continue
		}
		ds := l.reopenIfSigned(b, r.Step, r.Because)
		l.enqueue(ctx, task{drafts: ds, tone: "ask", words: fmt.Sprintf("%s is reopened: %s", r.Step, r.Because)})
	}
}
