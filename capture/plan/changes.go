package plan

import (
	"fmt"
	"slices"
	"strings"
)

// What a [[change]] says of itself; every other key takes the place of the step's own.
var ownOfChange = []string{"step", "why", "leave_out"}

// change is one [[change]] of a plan: a step that is left out, or whose keys are replaced, and why.
type change struct {
	n    *node
	step string
	used bool
}

// readChanges reads the [[change]] tables. They stand beside the steps rather than in them, so that the plan as it was
// and what was changed in mid-build can both be read.
func (d *draft) readChanges(t *table) {
	for _, ct := range t.subs("change") {
		ct.need("step", "the id of the step that is changed")
		ct.need("why", "the reason, one sentence")
		c := &change{n: ct.n, step: ct.name(ct.get("step"), "step", "-")}
		ct.line("why")
		ct.flag("leave_out")
		for _, k := range ct.n.keys {
			if slices.Contains(ownOfStep, k.name) {
				ct.fault(k.pos, "a change can't replace %s: add a step, and leave this one out", k.name)
			}
		}
		d.changes = append(d.changes, c)
	}
}

// changed lays the changes of a step over it, the later over the earlier; why is the reason where it is left out.
func (d *draft) changed(n *node, written, id string) (over *node, why string) {
	for _, c := range d.changes {
		if c.step == "" || c.step != id && c.step != written {
			continue
		}
		c.used = true
		over := &node{pos: n.pos, form: formTable}
		for _, k := range n.keys {
			if c.n.get(k.name) == nil || slices.Contains(ownOfChange, k.name) {
				over.keys = append(over.keys, k)
			}
		}
		for _, k := range c.n.keys {
			if !slices.Contains(ownOfChange, k.name) {
				over.keys = append(over.keys, k)
			}
		}
		n = over
		if out := c.n.get("leave_out"); out != nil {
			why = ""
			if reason := c.n.get("why"); out.text == "true" && reason != nil {
				why = reason.text
			}
		}
	}
	return n, why
}

// checkChanges names the changes of steps that are not there.
func (d *draft) checkChanges() {
	var ids []string
	for _, s := range d.steps {
		ids = append(ids, s.ID)
	}
	for _, c := range d.changes {
		if !c.used && c.step != "" {
			d.fs.add(c.n.at("step"), "change", "there is no step %s%s", quoted(c.step), meant(c.step, ids))
		}
	}
}

// place puts the steps that say after = "STEP" where they belong: behind that step, and all that are written out of it.
func (d *draft) place() {
	steps := d.steps
	d.steps = nil
	for _, s := range steps {
		an := s.n.get("after")
		at := len(d.steps)
		if an != nil {
			at = -1
			for i, o := range d.steps {
				if o.ID == an.text || o.written == an.text {
					at = i + 1
				}
			}
			for at > 0 && at < len(d.steps) && d.steps[at].n.get("after") != nil && d.steps[at].n.get("after").text == an.text {
				at++ // added there before
			}
		}
		if at < 0 {
			d.fs.add(an.pos, s.where, "after = %s: there is no such step before it in the file", quoted(an.text))
			at = len(d.steps)
		}
		d.steps = slices.Insert(d.steps, at, s)
	}
}

// Change is one thing changed in a plan without writing its language.
type Change struct {
	Step string // whose id it is; of a new step, after which it comes ("" at the end)
	Why  string
	// One of these.
	LeaveOut bool
	PutBack  bool
	Add      *NewStep
	Set      map[string]string // keys of the step and what takes their place, as the plan language writes it
}

// NewStep is a step to add: something to look at and confirm, or one or several readings.
type NewStep struct {
	Title string
	Do    string
	Phase Phase
	Role  string   // of the gauge; "" where nothing is read
	Mode  Mode     // of the capture; "" for press
	Kind  string   // what is read; "" for a length
	Names []string // of the points; "" for one
	// Least and Most bound what is wanted, as quantities ("0.004 in"); "" for no limit. Source says whose they are.
	Least, Most, Source string
}

// Changed writes a change behind the text of a plan, and checks the whole. What stood there stays as it was.
func Changed(name string, text []byte, c Change) ([]byte, error) {
	if strings.TrimSpace(c.Why) == "" {
		return nil, fmt.Errorf("a plan is changed only with a reason: it is kept and printed")
	}
	p, err := ParseKept(name, text)
	if err != nil {
		return nil, err
	}
	if _, ok := p.Step(c.Step); !ok && (c.Step != "" || c.Add == nil) {
		return nil, fmt.Errorf("plan %q has no step %s%s", name, quoted(c.Step), guess(c.Step, stepIDs(p)))
	}
	var b strings.Builder
	b.Write(text)
	if len(text) > 0 && text[len(text)-1] != '\n' {
		b.WriteByte('\n')
	}
	switch {
	case c.Add != nil:
		if err := c.Add.write(&b, p, c.Step, c.Why); err != nil {
			return nil, err
		}
	case c.LeaveOut, c.PutBack:
		fmt.Fprintf(&b, "\n[[change]]\nstep = %s\nwhy = %s\nleave_out = %t\n", tomlText(c.Step), tomlText(c.Why), c.LeaveOut)
	case len(c.Set) > 0:
		fmt.Fprintf(&b, "\n[[change]]\nstep = %s\nwhy = %s\n", tomlText(c.Step), tomlText(c.Why))
		for _, key := range sortedKeys(c.Set) {
			fmt.Fprintf(&b, "%s = %s\n", key, c.Set[key])
		}
	default:
		return nil, fmt.Errorf("nothing is changed: say what of %s", c.Step)
	}
	out := []byte(b.String())
	if _, err := Parse(name, out); err != nil {
		return nil, err
	}
	return out, nil
}

func stepIDs(p *Plan) []string {
	var out []string
	for _, s := range p.Steps {
		out = append(out, s.ID)
	}
	return out
}
