package view

import (
	"strings"
	"time"

	"thoud/calc"
	"thoud/calc/chart"
	"thoud/calc/markup"
	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// CompareData sets builds side by side, figure by figure.
type CompareData struct {
	Engine  string
	Columns []string // what each build is called
	Rows    []CompareRow
	Left    string // says that not all builds are in it yet; "" they are
}

// Compared is one build to be set beside others, with what it found. Its name tells it from the others, which may be of
// another bench and have the same job number.
type Compared struct {
	Name     string
	Findings []bench.Finding
}

// CompareRow is one figure of a step's pass in force, a cell a build, with its history as a picture.
type CompareRow struct {
	Step, Figure string
	Cells        []Text
	Picture      []markup.HTML // in mm and in inches; empty where there is nothing to draw
}

// SideBySide sets builds side by side, of whatever bench and engine. Figures stand in one row where step, method, kind and
// name are the same.
func SideBySide(builds []Compared) CompareData {
	c := comparison{at: map[string]int{}}
	for i, b := range builds {
		c.data.Columns = append(c.data.Columns, b.Name)
		for _, f := range b.Findings {
			if f.Large {
				c.add(i, b.Name, f)
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

// add puts a figure into the column of a build.
func (c *comparison) add(column int, name string, f bench.Finding) {
	i := c.row(strings.TrimSpace(runTitle(f.Key)+" "+calc.FigureWords(f.Figure)), f)
	row, sr := &c.data.Rows[i], &c.series[i]
	row.fill(column)
	row.Cells = append(row.Cells, f.Shown)
	if f.Value == nil {
		return
	}
	sr.Values = append(sr.Values, chart.Value{Label: name, At: time.UnixMicro(f.At), Value: *f.Value, U: f.U})
	if f.Limit != nil {
		sr.Limit = calc.Limit{Lower: f.Limit.Lower, Upper: f.Limit.Upper}
	}
}

// row is the number of a figure's row, made where it is the first of its name.
func (c *comparison) row(name string, f bench.Finding) int {
	key := strings.Join([]string{f.Step, f.Method, string(f.Kind), name}, "\x00")
	i, ok := c.at[key]
	if !ok {
		i = len(c.data.Rows)
		c.at[key] = i
		c.data.Rows = append(c.data.Rows, CompareRow{Step: f.Title, Figure: name})
		c.series = append(c.series, chart.Series{Title: f.Title + ", " + name, Kind: f.Kind})
	}
	return i
}

// fill makes up for the builds that have no such figure.
func (r *CompareRow) fill(cells int) {
	for len(r.Cells) < cells {
		r.Cells = append(r.Cells, Text{})
	}
}
