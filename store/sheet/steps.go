package sheet

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

func (m maker) step(number int, step plan.Step) Step {
	st := m.build.Step(step.ID)
	s := Step{Number: number, ID: step.ID, Title: step.Title, Do: step.Do, Phase: step.Phase, Kind: step.Kind,
		Progress: bench.ProgressOf(m.build, step, m.inForce), LeftOut: step.LeftOut, Hold: step.Hold, Cautions: notNil(step.Cautions), Notes: step.Notes}
	if set := m.build.SetupOf(step); set.Value.Valid() {
		shown := calc.ShowReading(set.Value)
		s.Setup, s.SetupDof = &shown, set.Dof
	}
	method := calc.Method{}
	if step.Compute != nil {
		method, _ = calc.Find(step.Compute.Method)
		s.Method, s.MethodTitle, s.MethodSource = step.Compute.Method, method.Title, method.Source
		s.Limits = m.limits(step, method)
	}
	for _, p := range st.Passes {
		s.Passes = append(s.Passes, m.pass(step, method, p))
	}
	m.achieved(step, s.Passes)
	if len(step.Points) == 0 && step.Compute != nil {
		s.Runs, s.Orders = m.runs(step, method, 0)
		for i := range s.Orders {
			s.Orders[i].ShownDone = calc.Shown{} // nothing is read again here
		}
	}
	if p := st.InForce(); p != nil {
		s.InForce = p.Number
		s.Verdict, _ = m.inForce.Verdict(m.build, step, p.Number)
	} else if s.Runs != nil {
		s.Verdict, _ = m.inForce.Verdict(m.build, step, 0)
	}
	s.Changes = m.changes(step)
	for _, a := range step.Asks {
		line := Confirmation{ID: a.ID, Text: a.Text}
		if by, ok := m.build.Answers[a.ID]; ok {
			line.Text, line.By = a.Text+" "+a.Words(by.Choice), markOr(by.Mark)
		}
		s.Confirmed = append(s.Confirmed, line)
	}
	for _, c := range step.Confirms {
		line := Confirmation{ID: c.ID, Text: c.Text}
		if by, ok := st.Confirmed[c.ID]; ok {
			line.By = markOr(by)
		}
		s.Confirmed = append(s.Confirmed, line)
	}
	if st.Signed != nil {
		s.Signed = markOr(*st.Signed)
	}
	for _, r := range st.Reopened {
		s.Reopened = append(s.Reopened, mark(r))
	}
	return s
}

// limits gives what the step's figures are held against in this build.
func (m maker) limits(step plan.Step, method calc.Method) []Limit {
	out := m.limitsOf(step, step.Compute, method)
	for i := range step.Also {
		also, _ := calc.Find(step.Also[i].Method)
		out = append(out, m.limitsOf(step, &step.Also[i], also)...)
	}
	return out
}

// limitsOf gives the limits of one of the step's computations.
func (m maker) limitsOf(step plan.Step, c *plan.Compute, method calc.Method) []Limit {
	var out []Limit
	for _, name := range slices.Sorted(maps.Keys(c.Limits)) {
		kind := c.Kind
		if kind == "" {
			kind = step.Capture.Kind
		}
		for _, f := range method.Figures {
			if f.Name == name && f.Kind != calc.AnyKind {
				kind = f.Kind
			}
		}
		l := m.build.Limit(step, c.Name, name)
		line := limit(bench.LimitName(c, name), kind, l)
		line.Shown = line.Shown.Counted(step.FigureCounts(c.Name, name))
		data := c.LimitData[name]
		line.Overridden = slices.ContainsFunc(m.build.Overrides, func(o bench.OverrideMade) bool {
			return o.What == "limit" && o.Name == step.ID+"."+name || o.What == "engine" && o.Name != "" && (o.Name == data.Lower || o.Name == data.Upper)
		})
		out = append(out, line)
	}
	return out
}

func limit(name string, kind quantity.Kind, l calc.Limit) Limit {
	return Limit{Figure: name, Kind: kind, Lower: l.Lower, Upper: l.Upper, Shown: calc.ShowLimits(kind, l), Source: l.Source}
}

func (m maker) pass(step plan.Step, method calc.Method, p *bench.Pass) Pass {
	out := Pass{Number: p.Number, Status: p.Status, Opened: mark(p.Opened), Ended: markOr(p.Ended), Readings: []Reading{}}
	if p.Drift != nil {
		out.Drift = &Drift{calc.ShowReading(p.Drift.By), calc.ShowReading(p.Drift.Allowed)}
	}
	for _, r := range p.Readings {
		title := r.Point
		if pt, ok := step.Point(r.Point); ok && pt.Title != "" {
			title = pt.Title
		}
		if r.Point == bench.DatumPoint {
			title = "the datum, read again"
		}
		if r.Samples != nil {
			title += fmt.Sprintf(", %d samples", len(r.Samples.Value))
		}
		text := r.Text
		if r.Goes != nil && r.Stops != nil {
			text = r.Goes.String() + " goes, " + r.Stops.String() + " does not"
		}
		out.Readings = append(out.Readings, Reading{Entry: r.N, ID: r.ID, Point: r.Point, Title: title, Seating: r.Seating, At: when(r.At), By: r.By,
			Gauge: r.Gauge, Keyed: r.Keyed, Text: text, Raw: r.Raw.String(), Zero: r.Zero, Kind: r.Value.Kind(), Value: r.Value.Float(),
			Shown: calc.ShowReading(r.Value).Counted(step.Counts(r.Point)), Withdrawn: r.Withdrawn})
	}
	out.Runs, out.Adjustments = m.runs(step, method, p.Number)
	return out
}

// runs are what was computed of a pass, and what it asked for. A step that reads nothing has its computation under pass 0.
func (m maker) runs(step plan.Step, method calc.Method, pass int) (runs []Run, orders []Adjustment) {
	for _, res := range m.inForce.OfPass(m.build, step, pass) {
		of := method
		if c := step.ComputeOf(res.Key); c != nil && c.Name != "" {
			of, _ = calc.Find(c.Method)
		}
		runs = append(runs, m.run(step, of, res))
		told := res.Orders()
		for i, a := range res.Adjustment { // amounts as they are stored; the words as they are to be told
			answers := a.Verdict
			if !res.EachAnswers {
				answers = res.Verdict // an older result has one verdict for all its orders
			}
			orders = append(orders, Adjustment{Key: res.Key, called: step.CalledKey(res.Key), What: a.What, Kind: a.Kind, Told: a.Amount, Words: told[i].Words, Nothing: !a.Target, Answers: answers,
				ShownDone: a.Large}) // lends its places until the next pass is known
		}
	}
	return runs, orders
}

func (m maker) run(step plan.Step, method calc.Method, res bench.Result) Run {
	run := Run{Key: res.Key, called: step.CalledKey(res.Key), Entry: res.N, Provisional: res.Provisional, Version: res.Version, GaugeOnly: res.GaugeOnly, Refused: res.Refused,
		Figures: []Figure{}, Warnings: res.Warnings, result: res.Result, request: res.Request}
	for _, f := range res.Figures {
		unit := step.FigureCounts(res.Key, f.Name)
		line := Figure{Name: f.Name, Title: f.Name, Kind: f.Kind, Value: f.Value, List: f.List, Grid: f.Grid, Text: f.Text, U: f.U, K: f.K,
			Shown: f.Shown.Counted(unit), ShownU: f.ShownU.CountedU(unit), Verdict: f.Verdict, Reason: calc.CountedIn(f.Reason, unit), Large: step.Shows(res.Key, f.Name)}
		for _, d := range method.Figures {
			if d.Name == f.Name && d.Doc != "" {
				line.Title = d.Doc
			}
		}
		if f.Limit != nil {
			l := limit(f.Name, f.Kind, *f.Limit)
			l.Shown = l.Shown.Counted(unit)
			line.Limit = &l
		}
		run.Figures = append(run.Figures, line)
	}
	rank := func(f Figure) int { return bench.RankOf(step.ComputeOf(res.Key), f.Name, f.Limit != nil) }
	slices.SortStableFunc(run.Figures, func(a, b Figure) int {
		return cmp.Compare(rank(a), rank(b))
	})
	return run
}

// achieved holds each adjustment against what the next pass that counts still asks for: did the hand do as it was told?
func (m maker) achieved(step plan.Step, passes []Pass) {
	for i := range passes {
		next := slices.IndexFunc(passes[i+1:], func(p Pass) bool { return p.Status != bench.PassIsVoid && len(p.Adjustments) > 0 })
		for j := range passes[i].Adjustments {
			a := &passes[i].Adjustments[j]
			places := a.ShownDone
			a.ShownDone = calc.Shown{}
			if next < 0 || passes[i].Status == bench.PassIsVoid {
				continue
			}
			p := passes[i+1+next]
			k := slices.IndexFunc(p.Adjustments, func(b Adjustment) bool { return b.Key == a.Key && b.What == a.What && b.Kind == a.Kind })
			if k < 0 {
				continue
			}
			left := p.Adjustments[k].Told
			done := a.Told - left
			a.Left, a.Done, a.NextPass = &left, &done, p.Number
			a.ShownLeft, a.ShownDone = inWords(*a, places)
		}
	}
}

// inWords says what was left and what was done in the direction that was told, so that a person need not think about
// signs.
func inWords(a Adjustment, places calc.Shown) (left, done calc.Shown) {
	way := 1.0
	if a.Told < 0 {
		way = -1
	}
	done = calc.ShowLike(a.Kind, way**a.Done, places)
	over := way**a.Left < 0
	left = calc.ShowLike(a.Kind, math.Abs(*a.Left), places)
	if over && strings.ContainsAny(left.MM+left.Inch, "123456789") {
		left = calc.Shown{MM: "too far by " + left.MM, Inch: "too far by " + left.Inch}
	}
	return left, done
}

// changes lists the results that were computed again because something earlier changed.
func (m maker) changes(step plan.Step) []Change {
	var out []Change
	for _, r := range m.src.History {
		if r.Step != step.ID || r.Because == "" {
			continue
		}
		c := Change{Pass: r.Pass, Key: r.Key, called: step.CalledKey(r.Key), Entry: r.N, Because: r.Because, NowVerdict: r.Verdict}
		if r.Was != nil {
			c.WasVerdict = r.Was.Verdict
			for _, f := range r.Figures {
				if old, ok := r.Was.Figure(f.Name); ok && old.Shown != f.Shown {
					c.Figure, c.Was, c.Now = f.Name, old.Shown, f.Shown
					break
				}
			}
		}
		out = append(out, c)
	}
	return out
}
