package bench

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// Supposed is what would be entered if some things were otherwise. Nothing of it is kept: whoever asks applies the entries
// to a copy of the state and looks at what comes of them.
type Supposed struct {
	Entries []Entry
	Changes []Change
	// Keep are the verbs that make it so; empty where nothing of it can be kept.
	Keep []Verb
	// Loses names what cannot be kept, and why: a reading is read, not supposed.
	Loses []string
}

// Change is one thing that is supposed to be otherwise.
type Change struct {
	Name  string `json:"name"`
	Title string `json:"title"`
	Old   string `json:"old"`
	New   string `json:"new"`
}

// Suppose reads changes as a person types them, NAME=VALUE, for one open build. NAME is engine data ("engine.base_joint",
// or the name alone), a reading (STEP/POINT), or the limits of a figure ("limit.STEP.FIGURE", two values with ".." between).
// sure lets a value pass that is far from the one before it.
func Suppose(sc Scene, job string, texts []string, sure bool) (Supposed, error) {
	b, ok := sc.State.Build(job)
	switch {
	case !ok:
		return Supposed{}, fmt.Errorf("no build %q", job)
	case b.Closed:
		return Supposed{}, fmt.Errorf("job %s is closed: it stays as it was", job)
	case len(texts) == 0:
		return Supposed{}, errors.New("say what shall be otherwise: NAME=VALUE, as \"engine.base_joint=0.030 in\"")
	}
	s := supposing{sc: sc, b: b, sure: sure}
	for _, text := range texts {
		name, value, ok := strings.Cut(text, "=")
		name, value = strings.TrimSpace(name), strings.TrimSpace(value)
		if !ok || name == "" || value == "" {
			return Supposed{}, fmt.Errorf("%q supposes nothing: want NAME=VALUE, as \"engine.base_joint=0.030 in\"", text)
		}
		if err := s.suppose(name, value); err != nil {
			return Supposed{}, err
		}
	}
	return s.whole()
}

// supposing gathers what is supposed.
type supposing struct {
	sc     Scene
	b      *Build
	sure   bool
	out    Supposed
	values []EngineValue
}

func (s *supposing) suppose(name, value string) error {
	if limit, ok := strings.CutPrefix(name, "limit."); ok {
		return s.limit(limit, value)
	}
	if datum, ok := strings.CutPrefix(name, engineItem); ok {
		return s.datum(datum, value)
	}
	if _, ok := s.b.Plan.Datum(name); ok {
		return s.datum(name, value)
	}
	id, point, ok := strings.Cut(name, "/")
	if !ok {
		id, point, ok = strings.Cut(name, ".")
	}
	if step, known := s.b.Plan.Step(id); ok && known {
		return s.reading(step, point, value)
	}
	var names []string
	for _, d := range dataNames(s.b) {
		names = append(names, engineItem+d)
	}
	for _, step := range s.b.Plan.Steps {
		for _, pt := range step.Points {
			names = append(names, step.ID+"/"+pt.ID)
		}
	}
	hint := "; engine data are named engine.NAME, readings STEP/POINT, limits limit.STEP.FIGURE"
	if near := plan.Nearest(name, names); near != "" {
		hint = fmt.Sprintf("; did you mean %q?", near)
	}
	return fmt.Errorf("job %s has nothing of the name %q%s", s.b.Job, name, hint)
}

// datum supposes another value of engine data: of the engine's record, or, where the build names no engine or has put
// aside the record's value for itself, of the build.
func (s *supposing) datum(name, text string) error {
	d, ok := s.b.Datum(name)
	if !ok {
		return engineNow{build: s.b, record: s.b.Record}.unknown(name)
	}
	v := EngineValue{Name: name, Text: text}
	if s.b.Engine != "" && !s.b.overridden(OverEngine, name) {
		s.values = append(s.values, v)
		return nil
	}
	if err := v.read(d, true); err != nil {
		return err
	}
	if err := v.check(d); err != nil {
		return err
	}
	if why := v.far(d); why != "" && !s.sure {
		return errors.New(why)
	}
	if len(v.List) > 0 {
		return fmt.Errorf("%s is a list, and this build names no engine: a list can be changed in an engine's record only", name)
	}
	s.override(Override{What: OverEngine, Name: name, Value: v.Value, Word: v.Word}, Change{name, d.Title, d.Words(), v.Words()})
	return nil
}

func (s *supposing) override(o Override, c Change) {
	e := Entry{Kind: Overridden, Place: Place{Build: s.b.Job}, Override: &o, Reason: whatIf}
	s.out.Entries, s.out.Changes = append(s.out.Entries, e), append(s.out.Changes, c)
	s.out.Keep = append(s.out.Keep, Verb{Name: DoOverride, Override: &o, Reason: whatIf})
}

// whatIf is the reason of a choice made out of a supposition.
const whatIf = "chosen after looking at what it changes"

// limit supposes other limits of a figure.
func (s *supposing) limit(name, text string) error {
	o := Override{What: OverLimit, Name: name}
	lower, upper, both := strings.Cut(text, "..")
	for _, side := range []struct {
		text string
		at   **quantity.Value
	}{{lower, &o.Lower}, {upper, &o.Upper}} {
		if side.text = strings.TrimSpace(side.text); side.text == "" {
			continue
		}
		v, err := quantity.Parse(side.text)
		if err != nil {
			return fmt.Errorf("limit.%s: %w", name, err)
		}
		*side.at = &v
	}
	if !both {
		return fmt.Errorf("limit.%s=%s: want both sides with \"..\" between, as \"0.004 in..0.006 in\"; a side may be left out", name, text)
	}
	words, err := checkOverride(s.b, o)
	if err != nil {
		return err
	}
	_, was, _ := strings.Cut(words, ", it was ")
	s.override(o, Change{name, name, was, bounds(o.Lower, o.Upper)})
	return nil
}

// reading supposes that a reading which stands had been another.
func (s *supposing) reading(step plan.Step, point, text string) error {
	pt, ok := step.Point(point)
	if !ok {
		var names []string
		for _, p := range step.Points {
			names = append(names, p.ID)
		}
		return fmt.Errorf("%s has no point %q; it has %s", step.Title, point, strings.Join(names, ", "))
	}
	st := s.b.Step(step.ID)
	pass := st.Last()
	if force := st.InForce(); pass != nil && len(pass.StandingAll(pt.ID, step.Seatings)) == 0 && force != nil {
		pass = force
	}
	if pass == nil || len(pass.StandingAll(pt.ID, step.Seatings)) == 0 {
		return fmt.Errorf("%s of %s has no reading yet: read it first", pt.ID, step.Title)
	}
	standing := pass.StandingAll(pt.ID, step.Seatings)
	old := standing[len(standing)-1]
	if old.Samples != nil {
		return fmt.Errorf("%s of %s was swept: one value can't stand for a curve", pt.ID, step.Title)
	}
	v, err := quantity.ParseAs(old.Value.Kind(), text)
	if err != nil {
		return fmt.Errorf("%s of %s is %s: %w", pt.ID, step.Title, old.Value, err)
	}
	at := Place{Build: s.b.Job, Step: step.ID, Pass: pass.Number, Point: pt.ID}
	for _, r := range standing { // all seatings of the point read so
		at.Seating = r.Seating
		now := r.Reading
		if moved, err := v.Sub(r.Value); err == nil {
			if raw, err := r.Raw.Add(moved); err == nil {
				now.Raw = raw
			}
		}
		now.Value = v
		s.out.Entries = append(s.out.Entries, Entry{Kind: Withdrawn, Place: at, Refers: r.ID}, Entry{Kind: ReadingTaken, Place: at, Reading: &now, By: r.By})
	}
	if pass.Status == PassIsClosed {
		s.out.Entries = append(s.out.Entries, Entry{Kind: PassClosed, Place: Place{Build: s.b.Job, Step: step.ID, Pass: pass.Number}, Drift: pass.Drift})
	}
	title := step.Title
	if pt.Title != "" {
		title += ", " + pt.Title
	}
	s.out.Changes = append(s.out.Changes, Change{step.ID + "/" + pt.ID, title, old.Value.String(), v.String()})
	s.out.Loses = append(s.out.Loses, fmt.Sprintf("%s is a reading, and a reading is read: read it again where it is wrong", title))
	return nil
}

// whole ends the gathering: the values of the engine are checked, and kept, together.
func (s *supposing) whole() (Supposed, error) {
	if len(s.values) == 0 {
		return s.out, nil
	}
	v := Verb{Name: DoEngineSet, Engine: &EngineSet{Engine: s.b.Engine, Job: s.b.Job, Values: s.values, Sure: s.sure}, Reason: whatIf}
	changes := ChangesOf(s.sc, v)
	d, err := Decide(s.sc, v)
	if err != nil {
		return Supposed{}, err
	}
	s.out.Entries = append(d.Entries, s.out.Entries...)
	s.out.Changes = append(changes, s.out.Changes...)
	s.out.Keep = append([]Verb{v}, s.out.Keep...)
	return s.out, nil
}

// ChangesOf says what a verb that keeps values of an engine changes, old beside new.
func ChangesOf(sc Scene, v Verb) []Change {
	if v.Engine == nil {
		return nil
	}
	known := engineNow{record: recordOf(sc.State, v.Engine.Engine), build: dataOf(sc.State, v.Engine.Engine)}
	var out []Change
	for _, value := range slices.Clone(v.Engine.Values) {
		d, there := known.now(value.Name)
		c := Change{Name: value.Name, Title: titleOfDatum(value.Name)}
		if there {
			c.Title, c.Old = d.Title, d.Words()
		}
		_, isField := FieldOf(value.Name)
		if err := value.read(d, there || isField); err != nil {
			continue // it is refused
		}
		c.New = value.Words()
		if value.Gone && known.build != nil {
			p, _ := known.build.planned(value.Name)
			c.New = p.Words()
		}
		if c.New != c.Old {
			out = append(out, c)
		}
	}
	return out
}

// OwnValues names the open builds that keep a value of their own whatever is kept of their engine: it was changed for that
// build alone.
func OwnValues(s State, set EngineSet) []string {
	var out []string
	for _, b := range s.OpenBuildsOf(set.Engine) {
		for _, v := range set.Values {
			if d, ok := b.Datum(v.Name); ok && b.overridden(OverEngine, v.Name) {
				out = append(out, fmt.Sprintf("job %s keeps its own value of %s, %s: it was changed for that build alone", b.Job, d.Title, d.Words()))
			}
		}
	}
	return out
}
