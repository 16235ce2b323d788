package view

import (
	"html/template"
	"strings"
	"time"

	"thoud/calc"
	"thoud/calc/chart"
	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// CompareData sets builds side by side, figure by figure.
type CompareData struct {
	Engine string
	Jobs   []string
	Rows   []CompareRow
}

// CompareRow is one figure of a step's pass in force, a cell a build, with its history as a picture.
type CompareRow struct {
	Step, Figure string
	Cells        []Text
	Picture      []template.HTML // in mm and in inches; empty where there is nothing to draw
}

func Compare(engine string, builds []*bench.Build, results bench.Results) CompareData {
	d := CompareData{Engine: engine}
	type cell struct {
		row int
		fig calc.FigureResult
	}
	at := map[string]int{}
	series := map[int]*chart.Series{}
	for i, b := range builds {
		d.Jobs = append(d.Jobs, b.Job)
		for _, step := range b.Plan.Steps {
			pass := b.Step(step.ID).InForce()
			if pass == nil || step.Compute == nil {
				continue
			}
			for _, res := range results.OfPass(b, step, pass.Number) {
				for _, f := range res.Figures {
					if !step.Shows(res.Key, f.Name) {
						continue
					}
					name := strings.TrimSpace(runTitle(res.Key) + " " + strings.ReplaceAll(f.Name, "_", " "))
					key := step.ID + "\x00" + name
					if _, ok := at[key]; !ok {
						at[key] = len(d.Rows)
						d.Rows = append(d.Rows, CompareRow{Step: step.Title, Figure: name})
						series[at[key]] = &chart.Series{Title: step.Title + ", " + name, Kind: f.Kind}
					}
					c := cell{at[key], f}
					row := &d.Rows[c.row]
					for len(row.Cells) < i {
						row.Cells = append(row.Cells, Text{})
					}
					row.Cells = append(row.Cells, f.Shown)
					if f.Value != nil {
						sr := series[c.row]
						sr.Values = append(sr.Values, chart.Value{Label: "job " + b.Job, At: time.UnixMicro(res.At), Value: *f.Value, U: f.U})
						if f.Limit != nil {
							sr.Limit = *f.Limit
						}
					}
				}
			}
		}
	}
	for i := range d.Rows {
		for len(d.Rows[i].Cells) < len(builds) {
			d.Rows[i].Cells = append(d.Rows[i].Cells, Text{})
		}
		if sr := series[i]; len(sr.Values) > 1 {
			d.Rows[i].Picture = inBoth(func(sys quantity.System) (string, bool) { return chart.History(*sr, sys) })
		}
	}
	return d
}
