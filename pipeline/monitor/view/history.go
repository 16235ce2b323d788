package view

import (
	"thoud/calc/chart"
	"thoud/calc/markup"
	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// HistoryData is one dimension over the builds of an engine, and what was fitted in it when.
type HistoryData struct {
	Engine     string
	Engines    []string
	Dimension  string
	Dimensions []DimensionGroup
	Rows       []HistoryRow
	Wear       Text          // in words: what wears in an hour, when the limit is met, or why that can't be told
	Picture    []markup.HTML // in mm and in inches; empty where there is nothing to draw
	Fitted     []FittedRow
	Left       string // says that not all builds are in it yet; "" they are
	Fault      string
}

// DimensionGroup are the dimensions of a step, to choose from.
type DimensionGroup struct {
	Step string
	All  []DimensionRow
}

// DimensionRow is a dimension as it is asked for, and as people call it.
type DimensionRow struct{ Name, Words string }

// HistoryRow is what one build found.
type HistoryRow struct {
	Job, Ended, Hours string
	Value, U, Change  Text
	Says              string
}

// FittedRow is a part that was in the engine.
type FittedRow struct {
	Bench         string // where it was told, at a hub; "" at the bench itself
	Mark, What    string
	In, InJob     string
	Out, OutJob   string
	Ran           string // there
	Before, After string // the engines that it was in before and after this one
}

// HistoryPoint is what one build found, to be drawn.
type HistoryPoint = chart.Value

// HistoryPicture draws a dimension over the builds.
func HistoryPicture(title string, kind quantity.Kind, values []HistoryPoint) []markup.HTML {
	if len(values) < 2 {
		return nil
	}
	s := chart.Series{Title: title, Kind: kind, Values: values}
	return inBoth(func(sys quantity.System) (string, bool) { return chart.History(s, sys) })
}

// FittedIn lists the parts that were ever in an engine, in the order in which they went in.
func FittedIn(s bench.State, engine string) []FittedRow {
	var out []FittedRow
	for _, p := range s.Fitted {
		for i, st := range p.Stints {
			if st.Engine != engine {
				continue
			}
			to := st.To
			row := FittedRow{Mark: p.Mark, What: p.What, In: Day(st.In.At), InJob: st.InJob, OutJob: st.OutJob}
			if st.Out != nil {
				row.Out = Day(st.Out.At)
			} else {
				to = max(st.From, s.LifeOf(engine).Hours)
			}
			row.Ran = bench.HourWords(to - st.From)
			if i > 0 {
				row.Before = p.Stints[i-1].Engine
			}
			if i+1 < len(p.Stints) {
				row.After = p.Stints[i+1].Engine
			}
			out = append(out, row)
		}
	}
	return out
}
