package plan

import (
	"maps"
	"slices"
	"strings"
)

// check looks at the plan as a whole: names, order, references, the tally.
func (d *draft) check() {
	d.byID = map[string]int{}
	for i := len(d.steps) - 1; i >= 0; i-- {
		d.byID[d.steps[i].ID] = i
	}
	d.expandFigures()
	d.dropLeftOut()
	d.checkNames()
	d.awaits()
	d.expandNeeds()
	d.checkOrder()
	d.checkPhases()
	d.checkTally()
	d.checkCures()
	for _, s := range d.steps {
		d.checkStep(s)
		d.checkFirst(s)
		d.checkEye(s)
		for of, c := range s.computations() {
			d.checkCompute(s, of, c)
		}
	}
}

// index is the place of a step among those read, −1 where there is none.
func (d *draft) index(id string) int {
	if i, ok := d.byID[id]; ok && id != "" {
		return i
	}
	return -1
}

func (d *draft) checkNames() {
	seen := map[string]bool{}
	for _, s := range d.steps {
		if s.ID == "" {
			continue
		}
		if seen[s.ID] {
			d.fs.add(s.n.at("id"), s.where, "a second step of this id")
		}
		seen[s.ID] = true
		points := map[string]bool{}
		told := map[pos]bool{}
		for i, p := range s.Points {
			if p.ID != "" && points[p.ID] && !told[s.places[i]] {
				told[s.places[i]] = true
				d.fs.add(s.places[i], s.where, "a second point %s; an id must name everything it is written out for", quoted(p.ID))
			}
			points[p.ID] = true
		}
		confirms := map[string]bool{}
		for i, c := range s.Confirms {
			if confirms[c.ID] {
				d.fs.add(s.n.at("confirms", i, "id"), s.where, "a second confirmation %s", quoted(c.ID))
			}
			confirms[c.ID] = true
		}
	}
}

// expandNeeds lets needs = ["bore-map"] stand for every step written out from the step of that id.
func (d *draft) expandNeeds() {
	copies := map[string][]string{}
	for _, s := range d.steps {
		copies[s.written] = append(copies[s.written], s.ID)
	}
	for _, s := range d.steps {
		var needs []string
		s.needAt = nil
		have := map[string]bool{}
		d.expandSides(s)
		for i, want := range s.Needs {
			at := s.n.at("needs", s.needFrom[i])
			ids := copies[want]
			if d.index(want) >= 0 {
				ids = []string{want}
			}
			if len(ids) == 0 && !slices.Contains(d.Left, want) {
				d.fs.add(at, s.where, "needs %s, but there is no such step%s", quoted(want), guess(want, slices.Sorted(maps.Keys(copies))))
			}
			if have[want] {
				continue
			}
			have[want] = true
			for _, id := range ids {
				if id == want || !have[id] {
					have[id] = true
					needs = append(needs, id)
					s.needAt = append(s.needAt, at)
				}
			}
		}
		s.Needs = needs
	}
}

// edge is one step depending on another, and where that is said.
type edge struct {
	to int
	at func() pos
	as string
}

// there is a place that is known.
func there(p pos) func() pos { return func() pos { return p } }

// edges lists what a step depends on: needs and references.
func (d *draft) edges(s *stepDraft) []edge {
	var out []edge
	for i, want := range s.Needs {
		if j := d.index(want); j >= 0 {
			out = append(out, edge{j, there(s.needAt[i]), "needs " + quoted(want)})
		}
	}
	for i, n := range s.Sides {
		if j := d.index(n.Step); j >= 0 {
			out = append(out, edge{j, there(s.sideAt[i]), "needs " + quoted(n.Step+"/"+n.Cylinder)})
		}
	}
	for of, c := range s.computations() {
		own := d.own(s.Step, c)
		for _, b := range boundIn(c.Inputs) {
			for _, r := range b.Refs {
				out = d.refEdges(out, s, of, own, b.path, r)
			}
		}
	}
	return out
}

// refEdges lists the other steps that one reference points at, over the runs of its computation.
func (d *draft) refEdges(out []edge, s *stepDraft, of int, own []string, path []any, r Ref) []edge {
	first := len(out)
	for _, key := range own {
		to := FillRun(r.Step, key)
		if to == "" || to == s.ID && (r.Kind != RefFigure || of > 0) {
			continue
		}
		if j := d.index(to); j >= 0 && !slices.ContainsFunc(out[first:], func(e edge) bool { return e.to == j }) {
			out = append(out, edge{j, func() pos { return s.inputPos(of, path) }, "refers to " + quoted(r.Text)})
		}
	}
	return out
}

// checkOrder names cycles, and refuses whatever depends on a step that comes later.
func (d *draft) checkOrder() {
	graph := make([][]edge, len(d.steps))
	for i, s := range d.steps {
		graph[i] = d.edges(s)
	}
	const (
		fresh = iota
		open
		done
	)
	state := make([]int, len(d.steps))
	cyclic := map[int]bool{}
	var trail []int
	var walk func(i int)
	walk = func(i int) {
		state[i] = open
		trail = append(trail, i)
		for _, e := range graph[i] {
			switch state[e.to] {
			case fresh:
				walk(e.to)
			case open:
				from := slices.Index(trail, e.to)
				var names []string
				for _, j := range trail[from:] {
					names = append(names, d.steps[j].ID)
					cyclic[j] = true
				}
				d.fs.add(e.at(), d.steps[i].where, "a circle of steps that wait for each other: %s", strings.Join(append(names, d.steps[e.to].ID), " → "))
			}
		}
		trail = trail[:len(trail)-1]
		state[i] = done
	}
	for i := range d.steps {
		if state[i] == fresh {
			walk(i)
		}
	}
	for i, s := range d.steps {
		for _, e := range graph[i] {
			if e.to > i && !(cyclic[i] && cyclic[e.to]) {
				d.fs.add(e.at(), s.where, "%s, which comes later in the plan", e.as)
			}
		}
	}
}

// checkPhases holds the order dry, wash, final, and that every proof is measured again.
func (d *draft) checkPhases() {
	last := 0
	for _, s := range d.steps {
		if at := slices.Index(phases, s.Phase); at >= 0 {
			if at < last {
				d.fs.add(s.n.at("phase"), s.where, "phase %s after a step of phase %s", s.Phase, phases[last])
			}
			last = max(last, at)
		}
	}
	for _, s := range d.steps {
		switch {
		case s.Proof && !slices.ContainsFunc(d.steps, func(o *stepDraft) bool { return o.Again == s.ID }):
			d.fs.add(s.n.at("proof"), s.where, "no later step measures this proof again: add one with again = %s", quoted(s.written))
		}
		if s.Again == "" {
			continue
		}
		if s.Phase == Dry || s.Phase == Wash {
			d.fs.add(s.n.at("phase"), s.where, "a step with again belongs to the final phase or later")
		}
		if i := d.index(s.Again); i >= 0 && !d.steps[i].Proof {
			d.fs.add(s.n.at("again"), s.where, "again = %s, but that step is not marked proof = true", quoted(s.Again))
		}
	}
}

// checkStep looks at one step on its own.
func (d *draft) checkStep(s *stepDraft) {
	switch {
	case s.Kind == Measure && len(s.Points) == 0 && s.n.get("point") == nil:
		d.fs.add(s.n.pos, s.where, "a measure step has no [[step.point]]")
	case s.Kind != Measure && s.Kind != "" && s.n.get("point") != nil && s.n.get("capture") == nil:
		d.fs.add(s.n.at("point"), s.where, "points without capture")
	case s.Kind != Measure && s.Kind != "" && len(s.Points) == 0 && len(s.Confirms) == 0 && len(s.Asks) == 0 && s.Compute == nil:
		d.fs.add(s.n.pos, s.where, "a %s step without readings asks for something to confirm: add [[step.confirms]]", s.Kind)
	}
	if len(s.Points) > 0 && !slices.ContainsFunc(s.Points, func(p Point) bool { return p.FromPass <= 1 }) {
		d.fs.add(s.n.at("point"), s.where, "no point is wanted in the first pass")
	}
}
