package bench

import (
	"strconv"
	"thoud/calc/quantity"
)

// sampleReason stands for what a person would write.
const sampleReason = "reason"

func drawnPlain(Scene, Spot) []Verb { return []Verb{{}} }

func drawnReason(Scene, Spot) []Verb { return []Verb{{Reason: sampleReason}} }

func drawnItem(Scene, Spot) []Verb { return []Verb{{Item: "part"}} }

func drawnPicture(Scene, Spot) []Verb {
	return []Verb{{Picture: &Picture{Type: "image/png", Bytes: []byte{0}}}}
}

// drawnHere are the gauge that reads here, and where several could be meant each of them.
func drawnHere(sc Scene, sp Spot) []Verb {
	return append([]Verb{{}}, drawnGauges(sc, sp)...)
}

func drawnGauges(sc Scene, sp Spot) []Verb {
	var out []Verb
	if sp.Gauge != nil {
		out = append(out, Verb{Gauge: sp.Gauge.Name})
	}
	for _, g := range sc.State.Gauges {
		if !g.Removed {
			out = append(out, Verb{Gauge: g.Name})
		}
	}
	return out
}

// drawnTyped are values and blades of the kind that is wanted here, typed without a gauge's name and for each gauge.
func drawnTyped(sc Scene, sp Spot) []Verb {
	if sp.Step == nil {
		return nil
	}
	kind := sp.kind()
	if kind == "" {
		kind = quantity.Length
	}
	unit := quantity.Metric.For(kind)
	one, err1 := quantity.Make(1, 0, unit)
	two, err2 := quantity.Make(2, 0, unit)
	if err1 != nil || err2 != nil {
		return nil
	}
	out := []Verb{{Value: &one, Goes: &one, Stops: &two}}
	for _, g := range drawnGauges(sc, sp) {
		out = append(out, Verb{Gauge: g.Gauge, Value: &one, Goes: &one, Stops: &two})
	}
	return out
}

func drawnAnswers(sc Scene, _ Spot) []Verb {
	b, step := sc.current()
	if b == nil || step == nil {
		return nil
	}
	asked := b.AskedNow(*step)
	if len(asked) == 0 {
		return nil
	}
	var out []Verb
	for _, c := range asked[0].Choices { // the oldest first; the next one once it is answered
		out = append(out, Verb{Item: asked[0].ID, Choice: c})
	}
	return out
}

func drawnConfirms(sc Scene, sp Spot) []Verb {
	var out []Verb
	for _, v := range append(drawnSteps(sc, sp), Verb{}) {
		out = append(out, Verb{Place: v.Place})
	}
	return out
}

// drawnSteps are the step at hand and every other one of the build.
func drawnSteps(sc Scene, _ Spot) []Verb {
	b, step := sc.current()
	if b == nil || step == nil {
		return nil
	}
	out := []Verb{{Reason: sampleReason, Initials: "AB"}}
	for _, s := range b.Plan.Steps {
		out = append(out, Verb{Reason: sampleReason, Initials: "AB", Place: &Place{Build: b.Job, Step: s.ID}})
	}
	return out
}

func drawnItems(sc Scene, sp Spot) []Verb {
	var out []Verb
	b, _ := sc.current()
	for _, v := range drawnSteps(sc, sp) {
		step := sp.Step
		if v.Place != nil {
			s, _ := b.Plan.Step(v.Place.Step)
			step = &s
		}
		if step == nil {
			continue
		}
		for _, it := range step.Items {
			out = append(out, Verb{Item: it.Name, Place: v.Place})
		}
	}
	return out
}

func drawnInside(sc Scene, _ Spot) []Verb {
	b, _ := sc.current()
	if b == nil {
		return nil
	}
	var out []Verb
	for _, t := range b.Inside() {
		out = append(out, Verb{Item: t.Name})
	}
	return out
}

func drawnOverrides(sc Scene, _ Spot) []Verb {
	b, step := sc.current()
	if b == nil || step == nil {
		return nil
	}
	var out []Verb
	for what, row := range overridables() {
		for _, name := range row.names(b) {
			o := Override{What: what, Name: name}
			if d, ok := b.Datum(name); ok && what == OverEngine {
				o.Value, o.Word = &d.Value, d.Word
			}
			if s, ok := b.Plan.Step(name); ok && what == OverSetup {
				if one, err := quantity.Make(1, 0, quantity.Metric.For(s.Capture.Kind)); err == nil {
					o.Value = &one
				}
			}
			out = append(out, Verb{Reason: sampleReason, Override: &o})
		}
	}
	return out
}

// drawnPlaces are the builds there are, the one on the bench first.
func drawnPlaces(sc Scene, _ Spot) []Verb {
	var out []Verb
	for _, b := range sc.State.Builds {
		of := []Verb{{Place: &Place{Build: b.Job}}, {Place: &Place{Build: b.Job}, Reason: sampleReason}}
		if b.Closed {
			of = append(of, Verb{Place: &Place{Build: b.Job, Step: b.Plan.Steps[0].ID}}) // it may be looked at
		}
		if b.Job == sc.State.Place.Build {
			out = append(of, out...)
		} else {
			out = append(out, of...)
		}
	}
	return out
}

func drawnRegister(sc Scene, _ Spot) []Verb {
	return []Verb{{Register: &Gauge{Name: fresher("gauge", func(n string) bool { _, ok := sc.State.Gauge(n); return ok }), Role: "indicator", Known: KnownKeyed}}}
}

func drawnCheck(sc Scene, sp Spot) []Verb {
	var out []Verb
	for _, g := range drawnGauges(sc, sp) {
		out = append(out, Verb{Check: &Check{Gauge: g.Gauge}})
	}
	return out
}

// sampleBuild is the smallest plan there is: it stands for the one that a person chooses.
const sampleBuild = `title = "Any"
version = 1
cylinders = ["left"]

[[step]]
id = "look"
title = "Look"
do = "Look."
phase = "dry"
kind = "check"
confirms = [{ id = "looked", text = "It was looked at." }]
`

func drawnBuild(sc Scene, _ Spot) []Verb {
	job := fresher("job", func(n string) bool { _, ok := sc.State.Known(n); return ok })
	return []Verb{{Build: &Started{Job: job, Plan: "any", Text: sampleBuild}}}
}

// drawnPlan is the plan of a build with a comment behind it: it stands for the one that a person writes.
func drawnPlan(sc Scene, _ Spot) []Verb {
	var out []Verb
	for _, b := range sc.State.Builds {
		out = append(out, Verb{Reason: sampleReason, Build: &Started{Job: b.Job, Plan: b.Started.Plan, Text: b.Text + "\n# changed\n"}})
	}
	return out
}

// drawnEngine are values for the engine on the bench, and for one that has no build yet.
func drawnEngine(sc Scene, _ Spot) []Verb {
	word := func(engine string) Verb {
		return Verb{Engine: &EngineSet{Engine: engine, Values: []EngineValue{{Name: EngineFields()[0].Name, Word: fresher("no", func(string) bool { return false })}}}}
	}
	var out []Verb
	if b, _ := sc.current(); b != nil && b.Engine != "" {
		out = append(out, word(b.Engine))
	}
	return append(out, word(fresher("engine", func(n string) bool { _, ok := sc.State.KnownEngine(n); return ok })))
}

func drawnHours(sc Scene, _ Spot) []Verb {
	var out []Verb
	for _, name := range sc.State.EngineNames() {
		out = append(out, Verb{Life: &Life{Engine: name, Plus: 1}})
	}
	return out
}

func drawnFit(sc Scene, _ Spot) []Verb {
	mark := fresher("part", func(n string) bool { _, ok := sc.State.PartOf(n); return ok })
	var out []Verb
	for _, name := range sc.State.EngineNames() {
		out = append(out, Verb{Life: &Life{Engine: name, Mark: mark, What: mark}})
	}
	return out
}

func drawnParts(sc Scene, _ Spot) []Verb {
	var out []Verb
	for _, p := range sc.State.Fitted {
		out = append(out, Verb{Life: &Life{Mark: p.Mark}})
	}
	return out
}

func drawnRegular(sc Scene, _ Spot) []Verb {
	var out []Verb
	for _, name := range sc.State.EngineNames() {
		out = append(out, Verb{Life: &Life{Engine: name, What: "valve lash", Due: 10}})
	}
	return out
}

// fresher is a name that is not taken.
func fresher(stem string, taken func(string) bool) string {
	for n := 1; ; n++ {
		if name := stem + "-" + strconv.Itoa(n); !taken(name) {
			return name
		}
	}
}
