package view

import (
	"fmt"

	"thoud/capture/bench"
)

// ShapeRow is a step of a plan as it is chosen from a list.
type ShapeRow struct{ ID, Title, Why string }

// ShapeRows lists the steps of a build's plan that are done in it, and those that were left out.
func ShapeRows(b *bench.Build) (steps, left []ShapeRow) {
	for i, s := range b.Plan.Steps {
		row := ShapeRow{ID: s.ID, Title: fmt.Sprintf("%d. %s", i+1, s.Title), Why: s.LeftOut}
		if s.LeftOut != "" {
			left = append(left, row)
			continue
		}
		steps = append(steps, row)
	}
	return steps, left
}

// ChangeRow is a change of a plan in mid-build.
type ChangeRow struct{ At, By, Words, Why string }

// ChangeRows lists the changes of a build's plan.
func ChangeRows(b *bench.Build) []ChangeRow {
	var out []ChangeRow
	for _, c := range b.Changes {
		out = append(out, ChangeRow{Day(c.At), c.By, Capital(c.Words), c.Reason})
	}
	return out
}
