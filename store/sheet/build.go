package sheet

import (
	"crypto/sha256"
	"encoding/hex"
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

// ErrNoBuild marks a job that was never started.
var ErrNoBuild = errors.New("no such build")

// Build makes the sheet of a job. Wraps ErrNoBuild.
func Build(src Source) (Sheet, error) {
	b, ok := src.State.Build(src.Job)
	if !ok {
		var have []string
		for _, b := range src.State.Index {
			have = append(have, b.Job)
		}
		if have == nil {
			return Sheet{}, fmt.Errorf("job %q: %w; none was started yet", src.Job, ErrNoBuild)
		}
		return Sheet{}, fmt.Errorf("job %q: %w; there are %s", src.Job, ErrNoBuild, strings.Join(have, ", "))
	}
	sum := sha256.Sum256([]byte(b.Text))
	s := Sheet{
		Form: Form, Made: src.Made.UTC().Format(time.RFC3339), Bench: src.State.Bench, Job: b.Job, Engine: b.Engine,
		Plan:    PlanID{b.Started.Plan, b.Plan.Title, b.Plan.Version, hex.EncodeToString(sum[:])},
		Started: when(b.At), Closed: b.Closed, Caution: Caution, Cautions: notNil(b.Plan.Cautions),
		Ledger: Ledger{src.Chain.N, src.Chain.Seal.String()}, Program: src.Program, Note: src.Note,
	}
	m := maker{src: src, build: b, inForce: bench.Results{}.With(src.History...)}
	for _, d := range b.Plan.Engine {
		s.Data = append(s.Data, m.datum(d))
	}
	for _, d := range m.build.Fields() { // of the engine's record, which the plan does not have
		s.Data = append(s.Data, m.datum(d))
	}
	s.Data = m.withParts(s.Data)
	for i, step := range b.Plan.Steps {
		s.Steps = append(s.Steps, m.step(i+1, step))
	}
	s.Data, s.Steps = notNil(s.Data), notNil(s.Steps)
	s.Gauges, s.Overrides, s.Photos, s.Tally = m.gauges(), m.overrides(), m.photos(), m.tally()
	s.Running, s.cylinders, s.blocks = m.running(), b.Plan.Cylinders, b.Plan.Blocks
	s.Open, s.Front = open(s), front(s)
	return s, nil
}

// maker carries what every part of a sheet is made from.
type maker struct {
	src     Source
	build   *bench.Build
	inForce bench.Results
}

func notNil[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

func mark(m bench.Mark) Mark { return Mark{m.By, when(m.At), m.Reason, m.N} }

// markOr is nil for a mark that was never made.
func markOr(m bench.Mark) *Mark {
	if m == (bench.Mark{}) {
		return nil
	}
	made := mark(m)
	return &made
}

func (m maker) datum(d plan.Datum) Datum {
	now, _ := m.build.Datum(d.Name)
	out := Datum{Name: d.Name, Title: d.Title, Kind: now.Kind, Source: now.Source,
		Overridden: slices.ContainsFunc(m.build.Overrides, func(o bench.OverrideMade) bool { return o.What == "engine" && o.Name == d.Name })}
	switch {
	case now.Value.Valid():
		out.Shown = calc.ShowGiven(now.Value)
	case now.List != nil:
		out.Shown = both(func(sys quantity.System) string {
			var parts []string
			for _, v := range now.List {
				parts = append(parts, in(calc.ShowGiven(v), sys))
			}
			return strings.Join(parts, ", ")
		})
	default:
		out.Shown = calc.Shown{MM: now.Word, Inch: now.Word}
	}
	if by, ok := m.build.ConfirmedBy(d.Name); ok {
		out.Confirmed = by.By
	}
	out.Open = now.Confirm && out.Confirmed == ""
	return out
}

// withParts adds the marks of the parts that are in the engine, or were when the build was closed.
func (m maker) withParts(data []Datum) []Datum {
	n := uint64(0)
	if m.build.Closed {
		n = m.build.Last
	}
	if m.build.Engine == "" {
		return data
	}
	for _, p := range m.src.State.PartsIn(m.build.Engine, n) {
		d := p.MarkDatum()
		row := Datum{Name: d.Name, Title: d.Title, Source: d.Source, Shown: calc.Shown{MM: d.Word, Inch: d.Word}, Confirmed: p.Stints[len(p.Stints)-1].In.By}
		if i := slices.IndexFunc(data, func(o Datum) bool { return o.Name == row.Name }); i >= 0 && data[i].Shown == row.Shown {
			continue // a ledger of before holds it as a value too
		}
		data = append(data, row)
	}
	return data
}

func (m maker) gauges() []Gauge {
	used := map[string]int{}
	for _, st := range m.build.Steps {
		for _, p := range st.Passes {
			for _, r := range p.Readings {
				used[r.Gauge]++
			}
		}
	}
	out := []Gauge{}
	for _, g := range m.src.State.Gauges {
		n, ok := used[g.Name]
		if !ok {
			continue
		}
		line := Gauge{Name: g.Name, Profile: g.Profile, Identity: g.Identity, Role: g.Role, Readings: n,
			Resolution: calc.ShowReading(g.Resolution), Calibration: calc.ShowReading(g.Calibration), K: g.K}
		if len(g.Checks) > 0 {
			c := g.Checks[len(g.Checks)-1]
			kind := quantity.Length
			if g.Resolution.Valid() {
				kind = g.Resolution.Kind()
			}
			line.Check = &Check{Study: c.Study, Error: calc.ShowFigure(kind, c.Error, calc.Grain{U: c.U}), U: calc.ShowFigure(kind, c.U, calc.Grain{U: c.U}), Due: when(c.Due),
				Over: c.Due != 0 && c.Due < m.src.Made.UnixMicro()}
		}
		out = append(out, line)
	}
	return out
}

func (m maker) overrides() []Override {
	out := []Override{}
	for _, c := range m.build.Changes {
		out = append(out, Override{What: "plan", Name: c.Words, Mark: mark(c.Mark)})
	}
	for _, o := range m.build.Overrides {
		line := Override{What: o.What, Name: o.Name, Step: o.Step, Mark: mark(o.Mark)}
		switch {
		case o.Value != nil:
			line.Shown = calc.ShowGiven(*o.Value)
		case o.Lower != nil || o.Upper != nil:
			l := calc.Limit{Lower: floatOf(o.Lower), Upper: floatOf(o.Upper)}
			kind := quantity.Number
			if o.Lower != nil {
				kind = o.Lower.Kind()
			} else {
				kind = o.Upper.Kind()
			}
			line.Shown = calc.ShowLimits(kind, l)
		}
		out = append(out, line)
	}
	return out
}

func floatOf(v *quantity.Value) *float64 {
	if v == nil {
		return nil
	}
	x := v.Float()
	return &x
}

func (m maker) photos() []Photo {
	out := []Photo{}
	for _, p := range m.build.Pictures {
		pic := m.src.Photos[p.ID]
		out = append(out, Photo{ID: p.ID, Step: p.Step, Note: p.Note, Entry: p.N, Type: pic.Type, Bytes: pic.Bytes})
	}
	return out
}

func (m maker) running() []Clock {
	title := func(id string) string {
		if st, ok := m.build.Plan.Step(id); ok {
			return st.Title
		}
		return id
	}
	out := []Clock{}
	now := m.src.Made.UnixMicro()
	at := bench.Moment{At: now}
	for _, c := range m.build.Running(at) {
		line := Clock{Name: c.Words(), Step: title(c.Step), Until: when(now + c.Left(at).Microseconds())}
		for _, h := range c.Holds {
			line.Holds = append(line.Holds, title(h))
		}
		out = append(out, line)
	}
	return out
}

func (m maker) tally() Tally {
	t := Tally{Items: []Item{}, Loose: []Loose{}, Dropped: m.build.Dropped}
	for _, it := range m.build.Tally {
		line := Item{Name: it.Name, Count: max(it.Count, 1), Step: it.Step, In: mark(it.In)}
		if it.Out != nil {
			line.Out = markOr(*it.Out)
		}
		t.Items = append(t.Items, line)
	}
	for _, l := range m.build.Loose {
		t.Loose = append(t.Loose, Loose{l.Name, l.Step, l.Ends, mark(l.Since)})
	}
	return t
}
