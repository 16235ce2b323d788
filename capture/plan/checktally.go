package plan

import "slices"

// inside is an item that is in the engine while the steps are walked through.
type inside struct {
	Item
	step int // that put it in
	at   pos
}

// checkTally follows what goes into the engine and what is left loose from step to step. An item may go in again once it
// is out, and may go in and come out within one step.
func (d *draft) checkTally() {
	in := map[string]inside{}
	for i, s := range d.steps {
		for k := range s.Items {
			d.putIn(in, i, k)
		}
		for k, name := range s.Out {
			d.takeOut(in, i, name, s.n.at("out", k))
		}
	}
	for _, s := range d.steps {
		for _, it := range s.Items {
			if e, ok := in[it.Name]; ok && d.steps[e.step] == s {
				d.fs.add(e.at, s.where, "item %s goes in and no step takes it out", quoted(it.Name))
			}
		}
	}
	d.checkLoose()
}

// putIn follows one item into the engine.
func (d *draft) putIn(in map[string]inside, i, k int) {
	s := d.steps[i]
	it := &s.Items[k]
	if it.Name == "" {
		return
	}
	if e, already := in[it.Name]; already {
		d.fs.add(s.n.at("items", k, "name"), s.where, "item %s goes in a second time, and is in since step %s: take it out first, or give it a name of its own", quoted(it.Name), quoted(d.steps[e.step].ID))
		return
	}
	wanted := it.OutBefore != ""
	it.KeepUntil = d.later(s, i, it.KeepUntil, s.n.at("items", k, "keep_until"), "keep_until", lastCopy)
	it.OutBefore = d.later(s, i, it.OutBefore, s.n.at("items", k, "out_before"), "out_before", firstCopy)
	if it.OutBefore == "" && !slices.Contains(s.Out, it.Name) && !wanted {
		d.fs.add(s.n.at("items", k), s.where, "out_before is missing: the step that may not begin while %s is in", quoted(it.Name))
	}
	in[it.Name] = inside{*it, i, s.n.at("items", k)}
}

// takeOut follows one item out of the engine.
func (d *draft) takeOut(in map[string]inside, i int, name string, at pos) {
	s := d.steps[i]
	e, ok := in[name]
	if !ok {
		d.fs.add(at, s.where, "%s comes out, but %s", quoted(name), d.whereabouts(i, name))
		return
	}
	delete(in, name)
	if keep := d.index(e.KeepUntil); keep >= i {
		d.fs.add(at, s.where, "%s comes out here, but must stay until step %s is done", quoted(name), quoted(e.KeepUntil))
	}
	if before := d.index(e.OutBefore); before >= 0 && i >= before {
		d.fs.add(at, s.where, "%s comes out here, but step %s may not begin while it is in", quoted(name), quoted(e.OutBefore))
	}
}

// whereabouts says why an item is not in the engine at a step: it never goes in, not yet, or is out already.
func (d *draft) whereabouts(i int, name string) string {
	has := func(s *stepDraft) bool {
		return slices.ContainsFunc(s.Items, func(it Item) bool { return it.Name == name })
	}
	for k := i - 1; k >= 0; k-- {
		if slices.Contains(d.steps[k].Out, name) {
			return "came out already, in step " + quoted(d.steps[k].ID)
		}
	}
	for _, s := range d.steps[i:] {
		if has(s) {
			return "goes in later only, in step " + quoted(s.ID)
		}
	}
	return "no step puts it in"
}

// Which of the steps that one was written out to is meant.
const (
	firstCopy = true
	lastCopy  = false
)

// later checks that a name is a later step's and gives that step's id; the id as written stands for the first or last
// of the steps written out from it.
func (d *draft) later(s *stepDraft, i int, name string, at pos, key string, first bool) string {
	if name == "" {
		return ""
	}
	j := d.index(name)
	if j < 0 {
		for k, o := range d.steps {
			if o.written == name && (j < 0 || !first) {
				j = k
			}
		}
	}
	switch {
	case j < 0 && slices.Contains(d.Left, name):
		return "" // left out: there is nothing to wait for
	case j < 0:
		d.fs.add(at, s.where, "%s names %s, but there is no such step", key, quoted(name))
	case j <= i:
		d.fs.add(at, s.where, "%s names %s, which is not a later step", key, quoted(name))
	default:
		return d.steps[j].ID
	}
	return name
}

// looseEnd is a thing left loose, and the step that leaves it so.
type looseEnd struct {
	step  int
	loose *Loose
}

// checkLoose joins the two ways of saying which step makes a loose thing fast: at the thing, or at that step.
func (d *draft) checkLoose() {
	things := map[string]looseEnd{}
	for i, s := range d.steps {
		for k := range s.Loose {
			d.leaveLoose(things, i, k)
		}
	}
	for i, s := range d.steps {
		for k, name := range s.Ends {
			d.makeFast(things, i, name, s.n.at("ends", k))
		}
	}
	for i, s := range d.steps {
		for k, l := range s.Loose {
			e, ok := things[l.Name]
			if !ok || e.step != i {
				continue
			}
			if l.Ends == "" {
				d.fs.add(s.n.at("loose", k), s.where, "%s is left loose and no step makes it fast", quoted(l.Name))
				continue
			}
			if j := d.index(l.Ends); j > i && !slices.Contains(d.steps[j].Ends, l.Name) {
				d.steps[j].Ends = append(d.steps[j].Ends, l.Name)
			}
		}
	}
}

// leaveLoose notes one thing that a step leaves loose.
func (d *draft) leaveLoose(things map[string]looseEnd, i, k int) {
	s := d.steps[i]
	l := &s.Loose[k]
	if l.Name == "" {
		return
	}
	if _, twice := things[l.Name]; twice {
		d.fs.add(s.n.at("loose", k, "name"), s.where, "%s is left loose a second time; give it a name of its own", quoted(l.Name))
		return
	}
	things[l.Name] = looseEnd{i, l}
	l.Ends = d.later(s, i, l.Ends, s.n.at("loose", k, "ends"), "ends", lastCopy)
}

// makeFast notes one thing that a step makes fast.
func (d *draft) makeFast(things map[string]looseEnd, i int, name string, at pos) {
	s := d.steps[i]
	e, ok := things[name]
	switch {
	case !ok:
		d.fs.add(at, s.where, "ends %s, but no step leaves it loose", quoted(name))
	case e.step >= i:
		d.fs.add(at, s.where, "ends %s before step %s leaves it loose", quoted(name), quoted(d.steps[e.step].ID))
	case e.loose.Ends == "":
		e.loose.Ends = s.ID
	case e.loose.Ends != s.ID:
		d.fs.add(at, s.where, "ends %s, but that is made fast in step %s", quoted(name), quoted(e.loose.Ends))
	}
}

// checkCures follows the times that begin when a step is done: what waits for them comes later, names stand once.
func (d *draft) checkCures() {
	seen := map[string]bool{}
	for i, s := range d.steps {
		for k := range s.Cures {
			c := &s.Cures[k]
			if seen[c.Name] && c.Name != "" {
				d.fs.add(s.n.at("cures", k, "name"), s.where, "a second time named %s; give it a name of its own", quoted(c.Name))
			}
			seen[c.Name] = true
			for h, name := range c.Holds {
				c.Holds[h] = d.later(s, i, name, s.n.at("cures", k, "holds", h), "holds", firstCopy)
			}
			c.Until = d.later(s, i, c.Until, s.n.at("cures", k, "until"), "until", lastCopy)
		}
	}
}
