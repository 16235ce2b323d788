package plan

import (
	"slices"
	"strings"
)

// dropLeftOut takes out of the computations what is optional ("?") and points at something that the variants leave out.
func (d *draft) dropLeftOut() {
	for _, s := range d.steps {
		for _, c := range s.computations() {
			d.dropFrom(s, c, c.Inputs)
		}
	}
}

func (d *draft) dropFrom(s *stepDraft, c *Compute, inputs map[string]Binding) {
	for name, b := range inputs {
		d.dropFrom(s, c, b.Rec)
		for _, rec := range b.Recs {
			d.dropFrom(s, c, rec)
		}
		if !b.Optional {
			continue
		}
		b.Refs = slices.DeleteFunc(slices.Clone(b.Refs), func(r Ref) bool { return d.isLeftOut(s, c, r) })
		if len(b.Refs) == 0 {
			delete(inputs, name)
			continue
		}
		inputs[name] = b
	}
}

// isLeftOut reports whether a reference points at engine data, a step or a point that the variants leave out.
func (d *draft) isLeftOut(s *stepDraft, c *Compute, r Ref) bool {
	if r.Kind == RefEngine {
		return d.leftData[r.Name]
	}
	for _, key := range d.own(s.Step, c) {
		to := r.For(key)
		if to.Step != "" && slices.Contains(d.Left, to.Step) && d.stepDraft(to.Step) == nil {
			return true
		}
		from := s
		if to.Step != "" {
			from = d.stepDraft(to.Step)
		}
		if from == nil || to.Kind == RefFigure || to.Point == "" || len(from.left) == 0 {
			continue
		}
		if !slices.ContainsFunc(from.Points, func(p Point) bool { _, ok := Match(to.Point, p.ID); return ok }) {
			return true
		}
	}
	return false
}

func (d *draft) stepDraft(id string) *stepDraft {
	for _, s := range d.steps {
		if s.ID == id {
			return s
		}
	}
	return nil
}

// expandFigures writes "@figure:deck.*.deck" out: one reference for every run of that step that fits the stars.
func (d *draft) expandFigures() {
	for _, s := range d.steps {
		for _, c := range s.computations() {
			d.expandIn(s, c.Inputs)
		}
	}
}

func (d *draft) expandIn(s *stepDraft, inputs map[string]Binding) {
	for name, b := range inputs {
		d.expandIn(s, b.Rec)
		for _, rec := range b.Recs {
			d.expandIn(s, rec)
		}
		var refs []Ref
		starred := false
		for _, r := range b.Refs {
			more := []Ref{r}
			if r.Kind == RefFigure && strings.Contains(r.Run, "*") {
				starred, more = true, d.runsFitting(r)
			}
			refs = append(refs, more...)
		}
		if starred && len(refs) == 0 && b.Optional { // no run fits: the engine has no other cylinder
			delete(inputs, name)
			continue
		}
		if starred && len(refs) > 0 {
			b.Refs, b.Many = refs, true
			inputs[name] = b
		}
	}
}

// runsFitting lists the references that one with stars stands for.
func (d *draft) runsFitting(r Ref) []Ref {
	from := d.stepDraft(r.Step)
	if from == nil {
		return nil
	}
	var out []Ref
	for _, key := range d.Keys(from.Step) {
		if _, ok := Match(r.Run, key); !ok || figure(d.methods[from.ComputeOf(key).Method], r.Name) == nil {
			continue
		}
		one := r
		one.Run = key
		one.Text = "@figure:" + r.Step + "." + key + "." + r.Name
		out = append(out, one)
	}
	return out
}
