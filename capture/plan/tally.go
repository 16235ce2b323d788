package plan

import (
	"strconv"
	"strings"
	"time"
)

// readTally reads what goes into the engine and what is left loose.
func (d *draft) readTally(t *table, s *stepDraft) {
	for _, c := range t.subs("confirms") {
		if !d.applies(c) {
			continue
		}
		for _, v := range d.each(c) {
			one := newTable(c.n, d.fs, c.where, v).as(c.of)
			one.ignore("for", "when")
			id := one.name(one.need("id", "a short name"), "id", "-")
			one.need("text", "what the builder confirms")
			s.Confirms = append(s.Confirms, Confirm{ID: id, Text: one.long("text"), Alone: one.flag("alone"), First: one.flag("first"), Cylinder: v.sideIn()})
			one.done()
		}
	}
	for _, it := range t.subs("items") {
		if !d.applies(it) {
			continue
		}
		for _, v := range d.each(it) {
			d.readItem(newTable(it.n, d.fs, it.where, v).as(it.of), s)
		}
	}
	s.Out = t.names("out")
	for _, lt := range t.subs("loose") {
		if !d.applies(lt) {
			continue
		}
		lt.ignore("when")
		l := Loose{Name: lt.name(lt.need("name", "what is left loose"), "name", "-")}
		if n := lt.get("ends"); n != nil {
			l.Ends = lt.name(n, "ends", "-")
		}
		lt.done()
		s.Loose = append(s.Loose, l)
	}
	s.Ends = t.names("ends")
}

// readItem reads one thing that goes into the engine, its variables written out.
func (d *draft) readItem(it *table, s *stepDraft) {
	it.ignore("for", "when")
	item := Item{Name: it.name(it.need("name", "what goes in"), "name", "-"), Count: d.pieces(it)}
	item.First = it.flag("first")
	if n := it.get("keep_until"); n != nil {
		item.KeepUntil = it.name(n, "keep_until", "-")
	}
	if n := it.get("out_before"); n != nil {
		item.OutBefore = it.name(n, "out_before", "-")
	}
	it.done()
	s.Items = append(s.Items, item)
}

// pieces reads how many pieces an item has: a number, or so many for each cylinder or valve.
func (d *draft) pieces(t *table) int {
	n := t.n.get("count")
	if n == nil || n.form != formText {
		return t.count("count", 1, 1, 100)
	}
	t.ignore("count")
	number, each, ok := strings.Cut(n.text, " per ")
	k, err := strconv.Atoi(number)
	of := 0
	switch each {
	case eachCylinder:
		of = len(d.Cylinders)
	case eachValve:
		of = len(d.Cylinders) * len(d.Valves)
	}
	if !ok || err != nil || k < 1 || k > 100 || of == 0 {
		t.fault(n.pos, "count is %s, want a whole number, or as \"1 per cylinder\" or \"1 per valve\"", quoted(n.text))
		return 1
	}
	return k * of
}

// readCures reads the times that begin when a step is done.
func (d *draft) readCures(t *table, s *stepDraft) {
	for _, ct := range t.subs("cures") {
		c := Cure{Name: ct.name(ct.need("name", "what cures, cools or dries"), "name", "-")}
		if n := ct.need("time", "how long, as \"24 h\" or \"20 min\""); n != nil {
			c.Time = ct.span(n, "time")
		}
		c.Holds = ct.names("holds")
		if n := ct.get("until"); n != nil {
			c.Until = ct.name(n, "until", "-")
		}
		if (len(c.Holds) > 0) == (c.Until != "") && c.Name != "" {
			ct.fault(ct.n.pos, "want either holds, the steps that wait until %s is over, or until, the step that must be done before", quoted(c.Name))
		}
		ct.done()
		s.Cures = append(s.Cures, c)
	}
}

// span is a time of minutes or hours, as "24 h" or "20 min".
func (t *table) span(n *node, key string) time.Duration {
	s := t.text(n, key, longID)
	if s == "" {
		return 0
	}
	d, err := time.ParseDuration(strings.Replace(strings.ReplaceAll(s, " ", ""), "min", "m", 1))
	if err != nil || d <= 0 || d > 31*24*time.Hour {
		t.fault(n.pos, "%s is %s, want a time up to a month, as \"24 h\" or \"20 min\"", key, quoted(s))
		return 0
	}
	return d
}
