package bench

import (
	"slices"
	"strings"

	"thoud/capture/plan"
)

// EnginePage is all that is known of an engine, by groups: what page and command show.
type EnginePage struct {
	Engine string        `json:"engine"`
	Job    string        `json:"job,omitempty"`  // its newest build, whose plan says what the values are
	Open   bool          `json:"open,omitempty"` // and whether that is open
	Last   string        `json:"last,omitempty"` // the build before it
	Groups []EngineGroup `json:"groups"`
	// Offered is how many values the newest build confirmed that the record does not hold.
	Offered int `json:"offered,omitempty"`
	// Asked is how many values are still to be confirmed.
	Asked int `json:"asked"`
}

// EngineGroup is the values that a piece of work first uses.
type EngineGroup struct {
	Title  string           `json:"title"`
	Values []EngineValueRow `json:"values"`
}

// EngineValueRow is one value of an engine as it is shown.
type EngineValueRow struct {
	Name         string   `json:"name"`
	Title        string   `json:"title"`
	Kind         string   `json:"kind"` // of quantity; "word" for a word
	Words        string   `json:"value"`
	U            string   `json:"u,omitempty"`
	Source       string   `json:"source"`
	From         string   `json:"derived_from,omitempty"` // what it follows from, where it is derived
	By           string   `json:"by,omitempty"`           // who confirmed it
	At           int64    `json:"confirmed_at,omitempty"` // µs since 1970
	Recorded     bool     `json:"recorded"`
	Asked        bool     `json:"asked,omitempty"`   // it is still to be confirmed
	Against      string   `json:"against,omitempty"` // what else is said of it, where that differs and nobody has decided
	AgainstValue string   `json:"against_value,omitempty"`
	Last         string   `json:"last,omitempty"`    // in the build before
	Changed      bool     `json:"changed,omitempty"` // since the build before
	Only         string   `json:"only,omitempty"`    // for which job alone it holds
	Choice       []string `json:"choice,omitempty"`
}

// EnginePageOf gathers it from the record and the engine's builds, newest first, of which two are looked at, and the
// parts that are in it.
func EnginePageOf(g *Engine, builds []*Build, parts []PartLife) EnginePage {
	p := EnginePage{Engine: g.Name}
	var now, last *Build
	if len(builds) > 0 {
		now = builds[0]
		p.Job, p.Open, p.Offered = now.Job, !now.Closed, len(now.Offered().Values)
	}
	if len(builds) > 1 {
		last = builds[1]
		p.Last = last.Job
	}
	p.Groups = append(p.Groups, EngineGroup{Title: "Engine and parts", Values: withParts(fieldRows(g), parts)})
	if now == nil {
		p.Groups = append(p.Groups, EngineGroup{Title: "Values", Values: recordRows(g)})
	} else {
		asItIs := *now
		asItIs.Record = g // a closed build keeps its own; what is shown is what holds for the next
		p.Groups = append(p.Groups, planRows(&asItIs, last)...)
	}
	for _, group := range p.Groups {
		for _, r := range group.Values {
			if r.Asked {
				p.Asked++
			}
		}
	}
	return p
}

// fieldRows are the fields every engine has, and those of its parts.
func fieldRows(g *Engine) []EngineValueRow {
	var out []EngineValueRow
	row := func(f EngineField) {
		r := EngineValueRow{Name: f.Name, Title: f.Title, Kind: wordKind}
		if v, ok := g.Value(f.Name); ok {
			r.recorded(v)
		}
		out = append(out, r)
	}
	for _, f := range EngineFields() {
		row(f)
	}
	for _, v := range g.Values {
		if strings.HasPrefix(v.Name, MarkField) || strings.HasPrefix(v.Name, SerialField) {
			f, _ := FieldOf(v.Name)
			row(f)
		}
	}
	return out
}

// wordKind stands for the kind of what is no quantity.
const wordKind = "word"

func (r *EngineValueRow) recorded(v RecordedValue) {
	r.Words, r.Source, r.Recorded, r.Asked = v.Words(), v.Source, true, v.Open
	if !v.Open {
		r.By, r.At = v.By, v.At
	}
	if v.From != "" && v.Open {
		r.Source += ", copied from " + v.From
	}
	if v.U != nil {
		r.U = v.U.String()
	}
}

// recordRows are the values of a record without a plan that would group them.
func recordRows(g *Engine) []EngineValueRow {
	var out []EngineValueRow
	for _, v := range g.Values {
		if _, ok := FieldOf(v.Name); ok {
			continue
		}
		r := EngineValueRow{Name: v.Name, Title: titleOfDatum(v.Name), Kind: wordKind}
		if q := v.quantities(); len(q) > 0 {
			r.Kind = string(q[0].Kind())
		}
		r.recorded(v)
		out = append(out, r)
	}
	return out
}

// planRows are the data of a build's plan, each in the group of the work that first uses it.
func planRows(b, last *Build) []EngineGroup {
	in := map[string]int{} // name → its group
	var groups []EngineGroup
	group := func(title string, data []plan.Datum) {
		at := -1
		for _, d := range data {
			if _, done := in[d.Name]; done {
				continue
			}
			if at < 0 {
				at, groups = len(groups), append(groups, EngineGroup{Title: title})
			}
			in[d.Name] = at
			groups[at].Values = append(groups[at].Values, b.engineRow(d.Name, last))
		}
	}
	for _, s := range b.Plan.Steps {
		group(s.Title, b.Plan.Uses(s))
	}
	group("Else", b.Plan.Engine)
	return groups
}

// engineRow is one piece of engine data as a build has it.
func (b *Build) engineRow(name string, last *Build) EngineValueRow {
	d, _ := b.Datum(name)
	r := EngineValueRow{Name: name, Title: d.Title, Kind: string(d.Kind), Words: d.Words(), Source: d.Source, Asked: d.Confirm, Choice: d.Choice}
	if d.Word != "" {
		r.Kind = wordKind
	}
	if d.U.Valid() {
		r.U = d.U.String()
	}
	r.From = b.derivedWords(d)
	if v, ok := b.Record.Value(name); ok && v.fits(d) {
		r.recorded(v)
		r.Asked = d.Confirm
		if p, _ := b.planned(name); d.Confirm && !v.held().same(heldOf(p)) {
			r.Against, r.AgainstValue = p.Words()+", "+p.Source, p.Words()
			r.From = b.derivedWords(p)
		}
	} else if m, ok := b.markOf(name); ok {
		r.By, r.At = m.By, m.At
	}
	for _, o := range b.Overrides {
		if o.What == OverEngine && o.Name == name {
			r.Words, r.Source, r.Only = d.Words(), d.Source, b.Job
		}
	}
	if last != nil {
		if was, ok := last.Datum(name); ok {
			r.Last = was.Words()
			r.Changed = !heldOf(was).equal(heldOf(d))
		}
	}
	return r
}

// derivedWords says what a value follows from, with their values: "stroke / 2 (stroke 70 mm)"; of what only has the other
// sign, the value alone.
func (b *Build) derivedWords(d plan.Datum) string {
	if d.Derived == "" {
		return ""
	}
	var parts []string
	for _, name := range d.DerivedFrom() {
		if from, ok := b.Datum(name); ok {
			parts = append(parts, from.Title+" "+from.Words())
		}
	}
	values := strings.Join(parts, ", ")
	if name := strings.TrimLeft(d.Derived, "- "); len(parts) == 1 && slices.Contains(d.DerivedFrom(), name) {
		return values
	}
	return strings.ReplaceAll(d.Derived, "_", " ") + " (" + values + ")"
}

// Asked are the engine data of a build that are still to be confirmed, as they stand.
func (b *Build) Asked() EngineSet {
	set := EngineSet{Engine: b.Engine, Job: b.Job}
	for _, d := range b.Plan.Engine {
		if now, _ := b.Datum(d.Name); now.Confirm {
			set.Values = append(set.Values, b.valueOf(now))
		}
	}
	for _, d := range b.Fields() {
		if d.Confirm {
			set.Values = append(set.Values, b.valueOf(d))
		}
	}
	return set
}

// Offered are the values that were confirmed in this build and that the record of its engine does not hold: those of a
// build begun before there was a record.
func (b *Build) Offered() EngineSet {
	set := EngineSet{Engine: b.Engine, Job: b.Job}
	for _, d := range b.Plan.Engine {
		if _, kept := b.Record.Value(d.Name); kept || d.Derived != "" {
			continue
		}
		now, _ := b.Datum(d.Name)
		if _, ok := b.markOf(d.Name); ok {
			set.Values = append(set.Values, b.valueOf(now))
		}
	}
	return set
}

// CopyTo is what is kept when this engine's record is copied to another: every value, to be confirmed for that engine,
// but for what is one engine's own.
func (g *Engine) CopyTo(engine string) EngineSet {
	set := EngineSet{Engine: engine, From: g.Name}
	for _, v := range g.Values {
		own := v.Name == "engine_number" || v.Name == "frame_number" || v.Name == "customer" || strings.HasPrefix(v.Name, MarkField) || strings.HasPrefix(v.Name, SerialField)
		if own {
			continue
		}
		c := v.EngineValue
		c.Open = true
		set.Values = append(set.Values, c)
	}
	return set
}
