package view

import (
	"thoud/calc"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// PhaseView is a group of the plan's steps.
type PhaseView struct {
	Name     string
	No       int
	From, To int // numbers of its first and last step
	Done     int
	Open     bool // it has the step in work, or the first that is not done
	Steps    []StepRow
}

// StepRow is one step in the list of the plan.
type StepRow struct {
	ID, Title string
	No        int
	Kind      string
	Progress  string
	Todo      bool // nothing was done in it yet
	Here      bool
	Hold      bool
	Pass      int       // in work
	Again     string    // the step that this one measures again
	Why       string    // why it may not be begun, or why it was opened again
	Signed    string    // by whom and when
	Main      []RowMain // its main figures, one a side
	Changed   []Text    // figures that came out anew because an earlier one changed
	Photos    []PhotoView
}

// RowMain is the main figure of one side with its own mark.
type RowMain struct {
	Value Text
	Mark  string
}

// mainMost is how many main figures a line has room for.
const mainMost = 3

// partWords name the part of the engine that a group of steps is about.
var partWords = map[string]string{"twin-top": "Blocks, barrels, top", "crank": "Crankshaft", "cylinder": "Pistons, bores, rings", "valve-gear": "Camshaft, valves"}

// groupOf names the group of a step: its phase, and the part of the engine that it is about.
func groupOf(step plan.Step) string {
	phase := Capital(string(step.Phase))
	if part, ok := partWords[step.View]; ok {
		return phase + ": " + part
	}
	return phase
}

// Share is how much of the plan is done, for the bar.
type Share struct{ Done, Signed, Steps int }

// Plan lists the steps of the build on the bench in groups. The group with the step in work is open; where the bench stands
// at none, the first that is not done.
func (v View) Plan() []PhaseView {
	b, ok := v.state.Build(v.Place.Build)
	if !ok || b.Plan == nil {
		return nil
	}
	var out []PhaseView
	opened := false
	for i, st := range b.Plan.Steps {
		name := groupOf(st)
		if len(out) == 0 || out[len(out)-1].Name != name {
			out = append(out, PhaseView{Name: name, No: len(out) + 1, From: i + 1})
		}
		last := &out[len(out)-1]
		row := v.stepRow(b, st, i+1)
		done := bench.Progress(row.Progress).Settled()
		if done {
			last.Done++
		}
		if row.Here || v.Place.Step == "" && !opened && !done {
			last.Open, opened = true, true
		}
		last.To = i + 1
		last.Steps = append(last.Steps, row)
	}
	return out
}

func (v View) stepRow(b *bench.Build, step plan.Step, no int) StepRow {
	st := b.Step(step.ID)
	p := bench.ProgressOf(b, step, v.results)
	row := StepRow{ID: step.ID, Title: step.Title, No: no, Kind: string(step.Kind), Progress: string(p), Todo: p == bench.Untouched,
		Here: v.Place.Step == step.ID, Hold: step.Hold, Photos: photosOf(b, step.ID)}
	if row.Here {
		row.Pass = v.Pass
	}
	if again, ok := b.Plan.Step(step.Again); ok {
		row.Again = again.Title
	}
	switch {
	case p == bench.LeftOut:
		row.Why = step.LeftOut
	case p == bench.Stale:
		row.Why = st.Reopened[len(st.Reopened)-1].Reason
	case st.Signed != nil:
		row.Signed = st.Signed.By + ", " + Day(st.Signed.At)
	}
	if pass := st.InForce(); pass != nil {
		w := work{b: b, step: step, at: step, st: st, results: v.results, v: &View{}}
		for _, r := range v.results.OfPass(b, step, pass.Number) {
			if line := w.row(r); len(row.Main) < mainMost && line.Value.MM != "" {
				row.Main = append(row.Main, RowMain{Value: line.Value, Mark: line.Mark})
			}
			if r.Because != "" {
				row.Changed = append(row.Changed, changes(step, r)...)
			}
		}
	}
	return row
}

// changes lists the figures of a result that differ from the one before, old → new, with what changed them.
func changes(step plan.Step, r bench.Result) []Text {
	var out []Text
	if r.Was == nil {
		return nil
	}
	for _, f := range r.Figures {
		old, ok := r.Was.Figure(f.Name)
		if !ok || old.Shown == f.Shown || f.Text != nil {
			continue
		}
		name := calc.FigureWords(f.Name)
		if r.Key != "" {
			name = step.RunTitle(r.Key) + " " + name
		}
		was, is := old.Shown, f.Shown.Counted(step.FigureCounts(r.Key, f.Name))
		out = append(out, Text{MM: name + ": " + was.MM + " → " + is.MM + ", because " + r.Because + " changed",
			Inch: name + ": " + was.Inch + " → " + is.Inch + ", because " + r.Because + " changed"})
	}
	return out
}

// Share counts the steps that are done.
func (v View) Share() Share {
	b, ok := v.state.Build(v.Place.Build)
	if !ok || b.Plan == nil {
		return Share{}
	}
	s := Share{Steps: len(b.Plan.Steps)}
	for _, st := range b.Plan.Steps {
		switch bench.ProgressOf(b, st, v.results) {
		case bench.SignedOff:
			s.Signed++
			s.Done++
		case bench.Done, bench.LeftOut:
			s.Done++
		}
	}
	return s
}
