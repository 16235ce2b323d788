package main

import (
	"fmt"
	"io"
	"strings"

	"thoud/capture/plan"
)

// planDescription is a plan as "plan show --json" writes it: written out for every cylinder and valve.
type planDescription struct {
	planSummary
	Valves   []string          `json:"valves,omitempty"`
	Cautions []string          `json:"cautions"`
	Engine   []datumDescriptor `json:"engine"`
	List     []stepDescriptor  `json:"step_list"`
}

type datumDescriptor struct {
	Name    string `json:"name"`
	Title   string `json:"title"`
	Value   string `json:"value"`
	Source  string `json:"source"`
	Confirm bool   `json:"confirm,omitempty"`
}

type stepDescriptor struct {
	ID       string   `json:"id"`
	Title    string   `json:"title"`
	Phase    string   `json:"phase"`
	Kind     string   `json:"kind"`
	Do       string   `json:"do"`
	Needs    []string `json:"needs,omitempty"`
	Points   []string `json:"points,omitempty"`
	Mode     string   `json:"mode,omitempty"`
	Role     string   `json:"role,omitempty"`
	Seatings int      `json:"seatings,omitempty"`
	Method   string   `json:"method,omitempty"`
	Per      string   `json:"per,omitempty"`
	Confirms []string `json:"confirms,omitempty"`
	Cautions []string `json:"cautions,omitempty"`
	Items    []string `json:"items_in,omitempty"`
	Out      []string `json:"items_out,omitempty"`
	Loose    []string `json:"left_loose,omitempty"`
	Ends     []string `json:"made_fast,omitempty"`
	Hold     bool     `json:"hold,omitempty"`
	Again    string   `json:"again,omitempty"`
}

func describePlan(p *plan.Plan) planDescription {
	d := planDescription{planSummary: summarize(p), Valves: p.Valves, Cautions: p.Cautions}
	for _, e := range p.Engine {
		d.Engine = append(d.Engine, datumDescriptor{e.Name, e.Title, datumValue(e), e.Source, e.Confirm})
	}
	for _, s := range p.Steps {
		sd := stepDescriptor{
			ID: s.ID, Title: s.Title, Phase: string(s.Phase), Kind: string(s.Kind), Do: s.Do, Needs: s.Needs,
			Cautions: s.Cautions, Out: s.Out, Ends: s.Ends, Hold: s.Hold, Again: s.Again,
		}
		if len(s.Points) > 0 {
			sd.Mode, sd.Role, sd.Seatings = string(s.Capture.Mode), s.Capture.Role, s.Seatings
		}
		for _, pt := range s.Points {
			sd.Points = append(sd.Points, pt.ID)
		}
		if s.Compute != nil {
			sd.Method, sd.Per = s.Compute.Method, string(s.Compute.Per)
		}
		for _, c := range s.Confirms {
			sd.Confirms = append(sd.Confirms, c.Text)
		}
		for _, it := range s.Items {
			sd.Items = append(sd.Items, it.Name)
		}
		for _, l := range s.Loose {
			sd.Loose = append(sd.Loose, l.Name)
		}
		d.List = append(d.List, sd)
	}
	return d
}

func datumValue(d plan.Datum) string {
	if d.Word != "" {
		return d.Word
	}
	if d.List == nil {
		return d.Value.String()
	}
	parts := make([]string, len(d.List))
	for i, v := range d.List {
		parts[i] = v.String()
	}
	return strings.Join(parts, ", ")
}

// showPlan writes a plan for reading: cautions, engine data, then the steps by phase.
func showPlan(out io.Writer, p *plan.Plan) error {
	fmt.Fprintf(out, "%s (%s, version %d)\ncylinders: %s\n\nCautions\n", p.Title, p.Name, p.Version, strings.Join(p.Cylinders, ", "))
	for _, c := range p.Cautions {
		fmt.Fprintf(out, "  - %s\n", c)
	}
	fmt.Fprintln(out, "\nEngine data (* = to be confirmed before the first reading that uses it)")
	var rows [][]string
	for _, d := range p.Engine {
		mark := " "
		if d.Confirm {
			mark = "*"
		}
		rows = append(rows, []string{"  " + mark + " " + d.Name, datumValue(d), d.Source, d.Title})
	}
	table(out, rows)
	phase := plan.Phase("")
	for i, s := range p.Steps {
		if s.Phase != phase {
			phase = s.Phase
			fmt.Fprintf(out, "\nPhase %s\n", phase)
		}
		fmt.Fprintf(out, "%3d %s: %s", i+1, s.ID, s.Title)
		if s.Hold {
			fmt.Fprint(out, " [hold]")
		}
		fmt.Fprintln(out)
		fmt.Fprintf(out, "      %s\n", s.Do)
		if len(s.Points) > 0 {
			fmt.Fprintf(out, "      %s, %s: %s\n", countWords(len(s.Points), "point"), s.Capture.Mode, pointNames(s, 8))
		}
		if s.Compute != nil {
			fmt.Fprintf(out, "      computes %s\n", s.Compute.Method)
		}
	}
	return nil
}

// pointNames lists the first points of a step.
func pointNames(s plan.Step, most int) string {
	var names []string
	for i, pt := range s.Points {
		if i == most {
			names = append(names, "…")
			break
		}
		names = append(names, pt.ID)
	}
	return strings.Join(names, ", ")
}
