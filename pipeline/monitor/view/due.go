package view

import (
	"thoud/capture/bench"
)

// DueRow is one thing that is due, or runs.
type DueRow struct {
	What, When, Engine, Job, Step string
	Now                           bool
}

// DueRows puts what is due into lines.
func DueRows(all []bench.Due) []DueRow {
	var out []DueRow
	for _, d := range all {
		out = append(out, DueRow{Capital(d.What), d.When, d.Engine, d.Job, d.Step, d.Now})
	}
	return out
}

// EngineRow is an engine with its hours.
type EngineRow struct {
	Name, Hours, Told string
	Work              []WorkRow
}

// WorkRow is regular work on an engine.
type WorkRow struct{ What, Every, Done string }

// EngineRows lists the engines.
func EngineRows(s bench.State) []EngineRow {
	var out []EngineRow
	for _, name := range s.EngineNames() {
		l := s.LifeOf(name)
		row := EngineRow{Name: name}
		if n := len(l.Told); n > 0 {
			row.Hours, row.Told = bench.HourWords(l.Hours), Day(l.Told[n-1].At)
		}
		for _, w := range l.Work {
			row.Work = append(row.Work, WorkRow{w.What, bench.HourWords(w.Every), bench.HourWords(w.Done)})
		}
		out = append(out, row)
	}
	return out
}

// PartRow is a part and where it ran.
type PartRow struct {
	Mark, What, Engine string // the engine it is in, "" for none
	Ran, Life          string
	Stints             []StintRow
}

// StintRow is a part's time in one engine.
type StintRow struct{ Engine, In, Out, Ran string }

// PartRows lists the parts that have a mark.
func PartRows(s bench.State) []PartRow {
	var out []PartRow
	for _, p := range s.Fitted {
		row := PartRow{Mark: p.Mark, What: p.What, Ran: bench.HourWords(p.Ran(s))}
		if p.Life > 0 {
			row.Life = bench.HourWords(p.Life)
		}
		for _, st := range p.Stints {
			to, line := st.To, StintRow{Engine: st.Engine, In: Day(st.In.At)}
			if st.Out != nil {
				line.Out = Day(st.Out.At)
			} else {
				row.Engine, to = st.Engine, max(st.From, s.LifeOf(st.Engine).Hours)
			}
			line.Ran = bench.HourWords(to - st.From)
			row.Stints = append(row.Stints, line)
		}
		out = append(out, row)
	}
	return out
}
