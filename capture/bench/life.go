package bench

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"thoud/capture/plan"
)

// Life is what an entry says of the hours of an engine, of a part that goes in or comes out, or of regular work on it.
type Life struct {
	Engine string `json:"engine,omitempty"`
	// Hours are those that the engine has run in all.
	Hours float64 `json:"hours"`
	// Plus are hours run since they were told last, in their place. Only in a verb.
	Plus float64 `json:"plus,omitempty"`
	Mark string  `json:"mark,omitempty"` // of a part
	What string  `json:"what,omitempty"` // the part is, or the work: "left piston", "valve lash"
	// Due is the life of a part, or how often work is due, in hours; 0: not said.
	Due float64 `json:"due,omitempty"`
	Ran float64 `json:"ran,omitempty"` // hours that a part had run before it was first fitted here
	Job string  `json:"job,omitempty"` // the build in which it went in or came out
}

// EngineLife is what is known of an engine's running.
type EngineLife struct {
	Name  string
	Hours float64   // in all, told last
	Told  []HoursAt // every time they were told, the last at the end
	Work  []Regular
}

// HoursAt is how many hours an engine had run by a moment.
type HoursAt struct {
	At    int64 // µs since 1970
	N     uint64
	Hours float64
}

// Regular is work that comes round again.
type Regular struct {
	What  string
	Every float64 // hours
	Done  float64 // hours of the engine when it was done last, or first asked for
	At    int64
	By    string
}

// PartLife is a part, known by its mark, and every engine that it ran in.
type PartLife struct {
	Mark, What string
	Life       float64 // hours it is good for; 0: not said
	Before     float64 // hours it had run before it was first fitted here
	Stints     []Stint // the last at the end
}

// Stint is a part's time in one engine.
type Stint struct {
	Engine string
	InJob  string
	OutJob string
	From   float64 // hours of the engine when it went in
	To     float64 // when it came out; not set while it is in
	In     Mark
	Out    *Mark
}

// Fitted gives the stint that lasts; false where the part is in no engine.
func (p PartLife) Fitted() (Stint, bool) {
	if n := len(p.Stints); n > 0 && p.Stints[n-1].Out == nil {
		return p.Stints[n-1], true
	}
	return Stint{}, false
}

// Ran is how many hours the part has run in all, as the engines' hours are known.
func (p PartLife) Ran(s State) float64 {
	ran := p.Before
	for _, st := range p.Stints {
		to := st.To
		if st.Out == nil {
			to = max(st.From, s.LifeOf(st.Engine).Hours)
		}
		ran += to - st.From
	}
	return ran
}

// LifeOf is what is known of an engine's running; a zero one where nothing is.
func (s State) LifeOf(engine string) EngineLife {
	for _, l := range s.Lives {
		if l.Name == engine {
			return l
		}
	}
	return EngineLife{Name: engine}
}

// HoursBy is how many hours an engine had run by a moment (µs since 1970); false where they were not told by then.
func (l EngineLife) HoursBy(at int64) (float64, bool) {
	hours, ok := 0.0, false
	for _, t := range l.Told {
		if t.At <= at {
			hours, ok = t.Hours, true
		}
	}
	return hours, ok
}

// PartOf finds a part by its mark.
func (s State) PartOf(mark string) (PartLife, bool) {
	for _, p := range s.Fitted {
		if p.Mark == mark {
			return p, true
		}
	}
	return PartLife{}, false
}

// EngineNames lists the engines that are known by a build, by their hours, their values or their parts, each once.
func (s State) EngineNames() []string {
	var out []string
	for _, b := range s.Index {
		out = append(out, b.Engine)
	}
	for _, l := range s.Lives {
		out = append(out, l.Name)
	}
	for _, r := range s.Recorded {
		out = append(out, r.Name)
	}
	for _, p := range s.Fitted {
		for _, st := range p.Stints {
			out = append(out, st.Engine)
		}
	}
	slices.Sort(out)
	out = slices.Compact(out)
	return slices.DeleteFunc(out, func(n string) bool { return n == "" })
}

// aboutLife reports whether a kind of entry is about hours, parts and regular work, and nothing of a build.
func aboutLife(k Kind) bool {
	switch k {
	case HoursTold, PartFitted, PartOut, WorkDue, WorkDone:
		return true
	}
	return false
}

// applyLife folds what is said of an engine's running.
func applyLife(s State, e Entry) (State, error) {
	l := e.Life
	if l == nil {
		return s, fmt.Errorf("nothing of an engine in it")
	}
	mark := Mark{By: e.By, At: e.At, N: e.N, Reason: e.Reason}
	switch e.Kind {
	case PartFitted:
		p, _ := s.PartOf(l.Mark)
		if p.Mark == "" {
			p = PartLife{Mark: l.Mark, Before: l.Ran}
		}
		if l.What != "" {
			p.What = l.What
		}
		if l.Due > 0 {
			p.Life = l.Due
		}
		p.Stints = append(slices.Clone(p.Stints), Stint{Engine: l.Engine, InJob: l.Job, From: l.Hours, In: mark})
		return s.withPart(p), nil
	case PartOut:
		p, ok := s.PartOf(l.Mark)
		if _, in := p.Fitted(); !ok || !in {
			return s, fmt.Errorf("part %q is in no engine", l.Mark)
		}
		p.Stints = slices.Clone(p.Stints)
		st := &p.Stints[len(p.Stints)-1]
		st.To, st.Out, st.OutJob = l.Hours, &mark, l.Job
		return s.withPart(p), nil
	}
	el := s.LifeOf(l.Engine)
	switch e.Kind {
	case HoursTold:
		el.Hours = l.Hours
		el.Told = append(slices.Clone(el.Told), HoursAt{e.At, e.N, l.Hours})
	case WorkDue:
		el.Work = slices.DeleteFunc(slices.Clone(el.Work), func(r Regular) bool { return r.What == l.What })
		if l.Due > 0 {
			el.Work = append(el.Work, Regular{What: l.What, Every: l.Due, Done: l.Hours, At: e.At, By: e.By})
		}
	case WorkDone:
		el.Work = slices.Clone(el.Work)
		for i := range el.Work {
			if r := &el.Work[i]; r.What == l.What {
				r.Done, r.At, r.By = l.Hours, e.At, e.By
			}
		}
	}
	s.Lives = slices.DeleteFunc(slices.Clone(s.Lives), func(o EngineLife) bool { return o.Name == el.Name })
	s.Lives = append(s.Lives, el)
	slices.SortFunc(s.Lives, func(a, b EngineLife) int { return cmp.Compare(a.Name, b.Name) })
	return s, nil
}

func (s State) withPart(p PartLife) State {
	s.Fitted = slices.DeleteFunc(slices.Clone(s.Fitted), func(o PartLife) bool { return o.Mark == p.Mark })
	s.Fitted = append(s.Fitted, p)
	slices.SortFunc(s.Fitted, func(a, b PartLife) int { return cmp.Compare(a.Mark, b.Mark) })
	return s
}

// mostHours is more than any engine runs.
const mostHours = 100_000

// lifeAsked gives what a verb says of an engine, with the engine's own name and hours.
func lifeAsked(sc Scene, v Verb) (Life, EngineLife, error) {
	if v.Life == nil {
		return Life{}, EngineLife{}, fmt.Errorf("say which engine, and what of it")
	}
	l := *v.Life
	names := sc.State.EngineNames()
	switch {
	case l.Engine == "":
		return l, EngineLife{}, fmt.Errorf("say which engine; there are %s", quotedList(names))
	case !slices.Contains(names, l.Engine):
		if near := plan.Nearest(l.Engine, names); near != "" {
			return l, EngineLife{}, fmt.Errorf("no build of an engine %q; did you mean %q?", l.Engine, near)
		}
		return l, EngineLife{}, fmt.Errorf("no build of an engine %q; there are %s", l.Engine, quotedList(names))
	}
	for _, x := range []float64{l.Hours, l.Plus, l.Due, l.Ran} {
		if math.IsNaN(x) || x < 0 || x > mostHours {
			return l, EngineLife{}, fmt.Errorf("%v cannot be hours: want 0 to %d", x, mostHours)
		}
	}
	l.Job = sc.State.openJob(l.Engine)
	return l, sc.State.LifeOf(l.Engine), nil
}

func quotedList(names []string) string {
	if len(names) == 0 {
		return "none: start a build with --engine first"
	}
	var out []string
	for _, n := range names {
		out = append(out, strconv.Quote(n))
	}
	return strings.Join(out, ", ")
}

func decideHours(sc Scene, v Verb) (Decision, error) {
	l, el, err := lifeAsked(sc, v)
	if err != nil {
		return Decision{}, err
	}
	if l.Plus > 0 {
		l.Hours = el.Hours + l.Plus
	}
	if l.Hours == 0 && el.Hours > 0 {
		return refuse(fmt.Sprintf("%q had run %s already: say how many hours it has run since, as +2", l.Engine, HourWords(el.Hours)))
	}
	if n := len(el.Told); n > 0 && l.Hours < el.Hours {
		return refuse(fmt.Sprintf("%q had run %s already; %s is less, and hours do not go down: was it another engine? For hours run since then write +%s",
			l.Engine, HourWords(el.Hours), HourWords(l.Hours), trimHours(l.Hours)))
	}
	if l.Hours > mostHours {
		return refuse(fmt.Sprintf("%s is more than any engine runs", HourWords(l.Hours)))
	}
	return make1(asked(v, Entry{Kind: HoursTold, Life: &Life{Engine: l.Engine, Hours: l.Hours, Job: l.Job}, Reason: v.Reason}),
		fmt.Sprintf("%s has run %s in all, %s since it was told last", l.Engine, HourWords(l.Hours), HourWords(l.Hours-el.Hours)))
}

func decideFit(sc Scene, v Verb) (Decision, error) {
	l, _, err := lifeAsked(sc, v)
	if err != nil {
		return Decision{}, err
	}
	if l.Mark == "" {
		return refuse("a part that is followed has a mark on it: say which")
	}
	e, words, err := fitPart(sc.State, l)
	if err != nil {
		return Decision{}, err
	}
	e.Reason = v.Reason
	return make1(asked(v, e), words)
}

// fitPart is a part put into an engine. It refuses one that is in an engine already, and a second one in the same place.
func fitPart(s State, l Life) (Entry, string, error) {
	refuse := func(words string, args ...any) (Entry, string, error) { return Entry{}, "", fmt.Errorf(words, args...) }
	p, known := s.PartOf(l.Mark)
	if st, in := p.Fitted(); in {
		if st.Engine == l.Engine {
			return refuse("part %s is in %s already, as its %s", l.Mark, l.Engine, p.What)
		}
		return refuse("part %s (%s) is in %s, so that it can't be in %s too: take it out first (thoud part out %s), or read the mark again", l.Mark, p.What, st.Engine, l.Engine, l.Mark)
	}
	if !known && l.What == "" {
		return refuse("part %s is new: say what it is, as \"left piston\"", l.Mark)
	}
	what := cmp.Or(l.What, p.What)
	for _, o := range s.PartsIn(l.Engine, 0) {
		if o.What == what {
			return refuse("the %s of %s is %s: take it out first (thoud part out %s), or say which one this is", what, l.Engine, o.Mark, o.Mark)
		}
	}
	if known && l.Ran > 0 {
		return refuse("part %s has run %s, as its engines' hours say: it can't be said anew", l.Mark, HourWords(p.Ran(s)))
	}
	l.Hours, l.Plus = s.LifeOf(l.Engine).Hours, 0
	return Entry{Kind: PartFitted, Life: &l},
		fmt.Sprintf("%s %s is in %s, at %s of the engine and %s of its own", what, l.Mark, l.Engine, HourWords(l.Hours), HourWords(p.Ran(s)+l.Ran)), nil
}

func decidePartOut(sc Scene, v Verb) (Decision, error) {
	if v.Life == nil || v.Life.Mark == "" {
		return refuse("say the mark of the part that comes out")
	}
	p, ok := sc.State.PartOf(v.Life.Mark)
	st, in := p.Fitted()
	if !ok || !in {
		return refuse(fmt.Sprintf("part %s is in no engine%s", v.Life.Mark, nearPart(sc.State, v.Life.Mark)))
	}
	l := Life{Engine: st.Engine, Mark: p.Mark, Hours: max(st.From, sc.State.LifeOf(st.Engine).Hours)}
	l.Job = sc.State.openJob(l.Engine)
	return make1(asked(v, Entry{Kind: PartOut, Life: &l, Reason: v.Reason}),
		fmt.Sprintf("%s %s is out of %s after %s there, %s in all", p.What, p.Mark, st.Engine, HourWords(l.Hours-st.From), HourWords(p.Ran(sc.State))))
}

func nearPart(s State, mark string) string {
	var marks []string
	for _, p := range s.Fitted {
		if _, in := p.Fitted(); in {
			marks = append(marks, p.Mark)
		}
	}
	if near := plan.Nearest(mark, marks); near != "" && near != mark {
		return fmt.Sprintf("; did you mean %s?", near)
	}
	return ""
}

func decideRegular(sc Scene, v Verb) (Decision, error) {
	l, el, err := lifeAsked(sc, v)
	if err != nil {
		return Decision{}, err
	}
	if l.What == "" {
		return refuse("say what is done, as \"valve lash\"")
	}
	i := slices.IndexFunc(el.Work, func(r Regular) bool { return r.What == l.What })
	out := Entry{Kind: WorkDue, Life: &Life{Engine: l.Engine, What: l.What, Due: l.Due, Hours: el.Hours}, Reason: v.Reason}
	switch {
	case v.Choice == WorkNever && i < 0:
		return refuse(fmt.Sprintf("%q does not come round on %s: there is nothing to end", l.What, l.Engine))
	case v.Choice == "" && l.Due == 0 && i < 0:
		return refuse(fmt.Sprintf("%q does not come round on %s: say every how many hours", l.What, l.Engine))
	case v.Choice == WorkNever:
		out.Life.Due = 0
		return make1(asked(v, out), fmt.Sprintf("%s: %s does not come round any more", l.Engine, l.What))
	case l.Due > 0:
		if i >= 0 {
			out.Life.Hours = el.Work[i].Done // only how often is changed
		}
		return make1(asked(v, out), fmt.Sprintf("%s: %s every %s, next at %s", l.Engine, l.What, HourWords(l.Due), HourWords(out.Life.Hours+l.Due)))
	}
	out.Kind, out.Life.Due = WorkDone, 0
	return make1(asked(v, out), fmt.Sprintf("%s: %s done at %s, next at %s", l.Engine, l.What, HourWords(el.Hours), HourWords(el.Hours+el.Work[i].Every)))
}

// WorkNever is the choice with which regular work ends.
const WorkNever = "never"

// HourWords writes hours of running: "12.5 h".
func HourWords(h float64) string { return trimHours(h) + " h" }

func trimHours(h float64) string { return strconv.FormatFloat(math.Round(h*10)/10, 'f', -1, 64) }
