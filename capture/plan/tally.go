package plan

import "slices"

// checkTally follows what goes into the engine and what is left loose from step to step.
func (d *draft) checkTally() {
	type entry struct {
		step int
		at   pos
		Item
		out int
	}
	items := map[string]*entry{}
	for i, s := range d.steps {
		for k, it := range s.Items {
			at := s.n.at("items", k)
			if it.Name == "" {
				continue
			}
			if _, twice := items[it.Name]; twice {
				d.fs.add(s.n.at("items", k, "name"), s.where, "item %s goes in a second time; give it a name of its own", quoted(it.Name))
				continue
			}
			items[it.Name] = &entry{step: i, at: at, Item: it, out: -1}
			s.Items[k].KeepUntil = d.later(s, i, it.KeepUntil, s.n.at("items", k, "keep_until"), "keep_until", lastCopy)
			s.Items[k].OutBefore = d.later(s, i, it.OutBefore, s.n.at("items", k, "out_before"), "out_before", firstCopy)
			items[it.Name].Item = s.Items[k]
		}
	}
	for i, s := range d.steps {
		for k, name := range s.Out {
			at := s.n.at("out", k)
			e := items[name]
			switch {
			case e == nil:
				d.fs.add(at, s.where, "%s comes out, but no step puts it in", quoted(name))
			case e.step >= i:
				d.fs.add(at, s.where, "%s comes out before it goes in, in step %s", quoted(name), quoted(d.steps[e.step].ID))
			case e.out >= 0:
				d.fs.add(at, s.where, "%s came out already, in step %s", quoted(name), quoted(d.steps[e.out].ID))
			default:
				e.out = i
				if keep := d.index(e.KeepUntil); keep >= i {
					d.fs.add(at, s.where, "%s comes out here, but must stay until step %s is done", quoted(name), quoted(e.KeepUntil))
				}
				if before := d.index(e.OutBefore); before >= 0 && i >= before {
					d.fs.add(at, s.where, "%s comes out here, but step %s may not begin while it is in", quoted(name), quoted(e.OutBefore))
				}
			}
		}
	}
	for i, s := range d.steps {
		for k, it := range s.Items {
			if e := items[it.Name]; e != nil && e.step == i && e.out < 0 {
				d.fs.add(s.n.at("items", k), s.where, "item %s goes in and no step takes it out", quoted(it.Name))
			}
		}
	}
	d.checkLoose()
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
	case j < 0:
		d.fs.add(at, s.where, "%s names %s, but there is no such step", key, quoted(name))
	case j <= i:
		d.fs.add(at, s.where, "%s names %s, which is not a later step", key, quoted(name))
	default:
		return d.steps[j].ID
	}
	return name
}

// checkLoose joins the two ways of saying which step makes a loose thing fast: at the thing, or at that step.
func (d *draft) checkLoose() {
	type entry struct {
		step  int
		loose *Loose
	}
	things := map[string]entry{}
	for i, s := range d.steps {
		for k := range s.Loose {
			l := &s.Loose[k]
			if l.Name == "" {
				continue
			}
			if _, twice := things[l.Name]; twice {
				d.fs.add(s.n.at("loose", k, "name"), s.where, "%s is left loose a second time; give it a name of its own", quoted(l.Name))
				continue
			}
			things[l.Name] = entry{i, l}
			l.Ends = d.later(s, i, l.Ends, s.n.at("loose", k, "ends"), "ends", lastCopy)
		}
	}
	for i, s := range d.steps {
		for k, name := range s.Ends {
			at := s.n.at("ends", k)
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
