package view

import (
	"strings"
	"time"

	"thoud/calc"
	"thoud/calc/chart"
	"thoud/calc/markup"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// CompareData sets builds side by side, figure by figure.
type CompareData struct {
	Engine  string
	Columns []string // what each build is called
	Rows    []CompareRow
}

// Compared is one build to be set beside others, with what was computed in it. Its name tells it from the others, which may
// be of another bench and have the same job number.
type Compared struct {
	Name    string
	Build   *bench.Build
	Results bench.Results
}

// CompareRow is one figure of a step's pass in force, a cell a build, with its history as a picture.
type CompareRow struct {
	Step, Figure string
	Cells        []Text
	Picture      []markup.HTML // in mm and in inches; empty where there is nothing to draw
}

// Compare sets builds of one engine of a bench side by side.
func Compare(engine string, builds []*bench.Build, results bench.Results) CompareData {
	columns := make([]Compared, len(builds))
	for i, b := range builds {
		columns[i] = Compared{"job " + b.Job, b, results}
	}
	d := SideBySide(columns)
	d.Engine = engine
	return d
}

// SideBySide sets builds side by side, of whatever bench and engine. Figures stand in one row where step, method, kind and
// name are the same.
func SideBySide(builds []Compared) CompareData {
	c := comparison{at: map[string]int{}}
	for i, b := range builds {
		c.data.Columns = append(c.data.Columns, b.Name)
		for _, step := range b.Build.Plan.Steps {
			pass := b.Build.Step(step.ID).InForce()
			if pass == nil || step.Compute == nil {
				continue
			}
			for _, res := range b.Results.OfPass(b.Build, step, pass.Number) {
				c.add(i, b.Name, step, res)
			}
		}
	}
	for i := range c.data.Rows {
		row, sr := &c.data.Rows[i], c.series[i]
		row.fill(len(builds))
		if len(sr.Values) > 1 {
			row.Picture = inBoth(func(sys quantity.System) (string, bool) { return chart.History(sr, sys) })
		}
	}
	return c.data
}

// comparison is a table in the making: a row for every figure that any of the builds has.
type comparison struct {
	data   CompareData
	series []chart.Series // of each row
	at     map[string]int // row by step and figure
}

// add puts the figures of one result into the column of a build.
func (c *comparison) add(column int, name string, step plan.Step, res bench.Result) {
	for _, f := range res.Figures {
		if !step.Shows(res.Key, f.Name) {
			continue
		}
		i := c.row(step, step.Compute.Method, strings.TrimSpace(runTitle(res.Key)+" "+calc.FigureWords(f.Name)), f)
		row, sr := &c.data.Rows[i], &c.series[i]
		row.fill(column)
		row.Cells = append(row.Cells, f.Shown)
		if f.Value == nil {
			continue
		}
		sr.Values = append(sr.Values, chart.Value{Label: name, At: time.UnixMicro(res.At), Value: *f.Value, U: f.U})
		if f.Limit != nil {
			sr.Limit = *f.Limit
		}
	}
}

// row is the number of a figure's row, made where it is the first of its name.
func (c *comparison) row(step plan.Step, method, name string, f calc.FigureResult) int {
	key := strings.Join([]string{step.ID, method, string(f.Kind), name}, "\x00")
	i, ok := c.at[key]
	if !ok {
		i = len(c.data.Rows)
		c.at[key] = i
		c.data.Rows = append(c.data.Rows, CompareRow{Step: step.Title, Figure: name})
		c.series = append(c.series, chart.Series{Title: step.Title + ", " + name, Kind: f.Kind})
	}
	return i
}

// fill makes up for the builds that have no such figure.
func (r *CompareRow) fill(cells int) {
	for len(r.Cells) < cells {
		r.Cells = append(r.Cells, Text{})
	}
}
