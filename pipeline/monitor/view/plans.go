package view

import (
	"strings"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// PlanRow is a plan in a list.
type PlanRow struct {
	Name, Title, Cylinders string
	Steps                  int
	Own                    bool
	Choices                []ChoiceRow
}

// ChoiceRow is a variant or a group of steps, and what it can be.
type ChoiceRow struct {
	Name, Title, Value string
	Choice             []string
}

// PlanOf is a plan in a list.
func PlanOf(p *plan.Plan, own bool) PlanRow {
	return PlanRow{Name: p.Name, Title: p.Title, Cylinders: strings.Join(p.Cylinders, ", "), Steps: len(p.Steps), Own: own}
}

// ChoiceRows lists the variants and groups of a plan.
func ChoiceRows(p *plan.Plan) []ChoiceRow {
	var out []ChoiceRow
	for _, v := range p.Variants {
		out = append(out, ChoiceRow{v.Name, v.Title, v.Value, v.Choice})
	}
	return out
}

// RoleRow is a kind of gauge that a plan reads with, and which of the drawer are of it.
type RoleRow struct {
	Role   string
	Words  string
	Steps  int
	Gauges string
}

// RoleRows lists the kinds of gauges that a plan reads with.
func RoleRows(p *plan.Plan, s bench.State) []RoleRow {
	var out []RoleRow
	at := map[string]int{}
	for _, step := range p.Steps {
		if step.Capture.Role == "" || len(step.Points) == 0 {
			continue
		}
		i, ok := at[step.Capture.Role]
		if !ok {
			i = len(out)
			at[step.Capture.Role] = i
			row := RoleRow{Role: step.Capture.Role, Words: plan.RoleWords(step.Capture.Role)}
			var names []string
			for _, g := range s.Gauges {
				if !g.Removed && g.Role == row.Role {
					names = append(names, g.Name)
				}
			}
			row.Gauges = strings.Join(names, ", ")
			out = append(out, row)
		}
		out[i].Steps++
	}
	return out
}
