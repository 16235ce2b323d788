package bench

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// mostValues is how many values one entry may keep of an engine.
const mostValues = 600

// decideEngineSet keeps values of an engine: each is held against the kind that its plans want and against the value
// before it.
func decideEngineSet(sc Scene, v Verb) (Decision, error) {
	if v.Engine == nil || len(v.Engine.Values) == 0 {
		return refuse("say which values: NAME=VALUE")
	}
	set := *v.Engine
	switch n := len(set.Values); {
	case set.Engine == "":
		return refuse("say which engine: a value belongs to an engine, and this build names none")
	case n > mostValues:
		return refuse(fmt.Sprintf("%d values at once; at most %d", n, mostValues))
	}
	known := engineNow{record: recordOf(sc.State, set.Engine), build: dataOf(sc.State, set.Engine)}
	var kept []EngineValue
	var words []string
	parts, fitted, rest, err := known.marksOf(sc.State, set)
	if err != nil {
		return Decision{}, err
	}
	for i, value := range set.Values {
		if slices.ContainsFunc(set.Values[:i], func(k EngineValue) bool { return k.Name == value.Name }) {
			return refuse(fmt.Sprintf("%s is given twice", value.Name))
		}
	}
	for _, value := range rest.Values {
		said, news, err := known.keep(&value, set.Sure)
		if err != nil {
			return Decision{}, err
		}
		if news {
			kept, words = append(kept, value), append(words, said)
		}
	}
	if len(kept)+len(parts) == 0 {
		return refuse("the record of " + set.Engine + " holds that already")
	}
	words = append(words, fitted...)
	entries := parts
	if len(kept) > 0 {
		set.Values, set.Sure = kept, false
		words = append(words, OwnValues(sc.State, set)...)
		entries = append(entries, Entry{Kind: EngineValues, Engine: &set, Initials: v.Initials})
	}
	last := len(entries) - 1
	for i := range entries {
		entries[i].By, entries[i].Reason = v.By, v.Reason
	}
	entries[last] = asked(v, entries[last])
	return Decision{Entries: entries, Words: set.Engine + ": " + fewWords(words)}, nil
}

// fewWords lists what was kept; many are counted.
func fewWords(words []string) string {
	if len(words) <= 4 {
		return strings.Join(words, "; ")
	}
	return fmt.Sprintf("%d values kept", len(words))
}

// engineNow is what is known of an engine's values before new ones are kept.
type engineNow struct {
	record *Engine
	build  *Build // its newest build in memory, open where there is one; nil where there is none
}

func recordOf(s State, engine string) *Engine {
	g, _ := s.Record(engine)
	return g
}

// dataOf is the build whose plan says what the values of an engine are: the one on the bench, else the newest open one,
// else the newest.
func dataOf(s State, engine string) *Build {
	var newest *Build
	for _, b := range s.Builds {
		if b.Engine != engine || b.Plan == nil {
			continue
		}
		switch {
		case b.Job == s.Place.Build:
			return b
		case newest == nil, newest.Closed, !b.Closed:
			newest = b
		}
	}
	return newest
}

// now is the value that stands, and whether anything is known of it.
func (k engineNow) now(name string) (plan.Datum, bool) {
	if k.build != nil {
		if d, ok := k.build.Datum(name); ok {
			return d, true
		}
	}
	if v, ok := k.record.Value(name); ok {
		d := plan.Datum{Name: name, Title: titleOfDatum(name), Source: v.Source}
		if v.Value != nil {
			d.Kind = v.Value.Kind()
		} else if len(v.List) > 0 {
			d.Kind = v.List[0].Kind()
			d.List = v.List
		}
		return v.of(d), true
	}
	return plan.Datum{}, false
}

// keep checks one value and completes it; news is false where the record holds the very same.
func (k engineNow) keep(v *EngineValue, sure bool) (words string, news bool, err error) {
	if !validDatum(v.Name) {
		return "", false, fmt.Errorf("%q cannot name a value of an engine: want a-z, 0-9 and _, at most %d", v.Name, mostDatumName)
	}
	old, recorded := k.record.Value(v.Name)
	if v.Gone {
		if !recorded {
			return "", false, fmt.Errorf("the record holds no %s", v.Name)
		}
		*v = EngineValue{Name: v.Name, Gone: true}
		return v.Name + " is out of the record; what the plan says holds again", true, nil
	}
	if v.Open && recorded {
		return "", false, nil // what is copied takes the place of nothing
	}
	_, isField := FieldOf(v.Name)
	d, known := k.now(v.Name)
	if err := v.read(d, known || isField); err != nil {
		return "", false, err
	}
	switch {
	case known:
		if err := v.check(d); err != nil {
			return "", false, err
		}
		if why := v.far(d); why != "" && !sure && !v.Open {
			return "", false, errors.New(why)
		}
	case isField:
		if v.Word == "" {
			return "", false, fmt.Errorf("%s is a word: give one", v.Name)
		}
	case k.build != nil:
		return "", false, k.unknown(v.Name)
	}
	k.complete(v, d)
	if recorded && !old.Open && !v.Open && old.held().equal(v.held()) && old.Source == v.Source && sameU(old.U, v.U) && sameAgainst(old.Against, v.Against) {
		return "", false, nil
	}
	words = v.Name + ": " + v.Words()
	if known && !v.held().equal(heldOf(d)) {
		words += ", it was " + d.Words()
	}
	return words, true, nil
}

// read reads what a person typed as what is wanted; where nothing says what that is, a quantity is one and all else a word.
func (v *EngineValue) read(d plan.Datum, known bool) error {
	text := v.Text
	if v.Text = ""; text == "" {
		return nil
	}
	switch {
	case !known:
		if x, err := quantity.Parse(text); err == nil {
			v.Value = &x
			return nil
		}
		v.Word = text
	case d.Word != "" || d.Kind == "":
		v.Word = text
	case d.List != nil:
		for _, part := range strings.FieldsFunc(strings.ReplaceAll(text, ", ", ";"), func(r rune) bool { return r == ';' }) {
			x, err := quantity.ParseAs(d.Kind, strings.TrimSpace(part))
			if err != nil {
				return fmt.Errorf("%s is a list of the kind %s, %s now: %w", v.Name, d.Kind, d.Words(), err)
			}
			v.List = append(v.List, x)
		}
	default:
		x, err := quantity.ParseAs(d.Kind, text)
		if err != nil {
			return fmt.Errorf("%s is a %s, %s now: %w", v.Name, d.Kind, d.Words(), err)
		}
		v.Value = &x
	}
	return nil
}

// unknown says that there is no such value, with the name that was probably meant.
func (k engineNow) unknown(name string) error {
	names := dataNames(k.build)
	for _, f := range EngineFields() {
		names = append(names, f.Name)
	}
	hint := ""
	if near := plan.Nearest(name, names); near != "" {
		hint = fmt.Sprintf("; did you mean %q?", near)
	}
	return fmt.Errorf("the plan of job %s has no engine data %q%s", k.build.Job, name, hint)
}

// complete puts in what was not said: the source, the uncertainty that stood, and what the value was held against.
func (k engineNow) complete(v *EngineValue, d plan.Datum) {
	if v.Source == "" {
		v.Source = BuildersChoice
	}
	if v.U == nil && d.U.Valid() && v.Word == "" {
		u := d.U
		v.U = &u
	}
	v.Against = nil
	if k.build != nil {
		if p, ok := k.build.planned(v.Name); ok {
			h := heldOf(p)
			v.Against = &h
		}
	}
}

// BuildersChoice is the source of a value for which none was named.
const BuildersChoice = "builder's choice"

func sameU(a, b *quantity.Value) bool {
	return a == nil && b == nil || a != nil && b != nil && *a == *b
}

func sameAgainst(a, b *Held) bool {
	return a == nil && b == nil || a != nil && b != nil && a.equal(*b)
}

// check refuses a value of another kind than stands there, a word that is not understood, and an uncertainty that is none.
func (v EngineValue) check(d plan.Datum) error {
	given := 0
	for _, has := range []bool{v.Value != nil, len(v.List) > 0, v.Word != ""} {
		if has {
			given++
		}
	}
	switch {
	case d.Word != "":
		return checkWord(d, Override{Name: v.Name, Word: v.Word})
	case given != 1:
		return fmt.Errorf("%s wants one value", v.Name)
	case d.List != nil && len(v.List) == 0:
		return fmt.Errorf("%s is a list of values of the kind %s: give them all, with commas between", v.Name, d.Kind)
	case d.List == nil && v.Value == nil:
		return fmt.Errorf("%s is a %s, %s now: give one value of that kind", v.Name, d.Kind, d.Words())
	}
	for _, x := range v.quantities() {
		if x.Kind() != d.Kind {
			return fmt.Errorf("%s is a %s, %s now: %s is a %s", v.Name, d.Kind, d.Words(), x, x.Kind())
		}
	}
	if v.U != nil && (v.U.Float() < 0 || v.U.Kind() != uKind(d.Kind)) {
		return fmt.Errorf("the uncertainty of %s is a %s and not below nothing: %s was given", v.Name, uKind(d.Kind), v.U)
	}
	return nil
}

// uKind is the kind of an uncertainty: of a temperature it is a difference.
func uKind(k quantity.Kind) quantity.Kind {
	if k == quantity.Temperature {
		return quantity.Difference
	}
	return k
}

func (v EngineValue) quantities() []quantity.Value {
	if v.Value != nil {
		return []quantity.Value{*v.Value}
	}
	return v.List
}

// farTimes is by how many times a value may differ from the one before it without being asked about.
const farTimes = 5

// far says that a value is far from plausible, "" where it is not: of other sign or many times the one before it. A unit
// that was mistaken is told apart.
func (v EngineValue) far(d plan.Datum) string {
	if d.Value.Valid() && v.Value != nil && d.Kind != quantity.Temperature {
		return farFrom(v.Name, *v.Value, d.Value)
	}
	if len(v.List) == 0 || len(d.List) == 0 {
		return ""
	}
	low, high := d.List[0], d.List[0]
	for _, x := range d.List {
		if x.Float() < low.Float() {
			low = x
		}
		if x.Float() > high.Float() {
			high = x
		}
	}
	for _, x := range v.List {
		near := low
		if math.Abs(x.Float()-high.Float()) < math.Abs(x.Float()-low.Float()) {
			near = high
		}
		if why := farFrom(v.Name, x, near); why != "" {
			return why
		}
	}
	return ""
}

func farFrom(name string, now, was quantity.Value) string {
	x, y := now.Float(), was.Float()
	if x == 0 || y == 0 {
		return ""
	}
	const ask = "; is it right? Then say that it is meant (--sure)"
	times := math.Abs(x / y)
	switch {
	case x < 0 != (y < 0):
		return fmt.Sprintf("%s: %s has the other sign than %s before it%s", name, now, was, ask)
	case now.Kind() == quantity.Length && math.Abs(math.Abs(math.Log(times))-math.Log(25.4)) < 0.05:
		return fmt.Sprintf("%s: %s is 25.4 times off %s before it: inches and millimetres look mixed up%s", name, now, was, ask)
	case times > farTimes:
		return fmt.Sprintf("%s: %s is %.3g times %s before it%s", name, now, times, was, ask)
	case times < 1.0/farTimes:
		return fmt.Sprintf("%s: %s is a %.3gth of %s before it%s", name, now, 1/times, was, ask)
	}
	return ""
}

// Words is the value for people.
func (v EngineValue) Words() string {
	return plan.Datum{Word: v.Word, List: v.List, Value: valueOr(v.Value)}.Words()
}

func valueOr(v *quantity.Value) quantity.Value {
	if v == nil {
		return quantity.Value{}
	}
	return *v
}

// mostDatumName is how long the name of a value may be.
const mostDatumName = 60

func validDatum(name string) bool {
	return name != "" && len(name) <= mostDatumName && strings.Trim(name, "abcdefghijklmnopqrstuvwxyz0123456789_") == ""
}

func titleOfDatum(name string) string {
	if f, ok := FieldOf(name); ok {
		return f.Title
	}
	return strings.ReplaceAll(name, "_", " ")
}
