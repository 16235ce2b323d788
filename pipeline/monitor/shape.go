package monitor

import (
	"fmt"
	"net/http"
	"strings"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/pipeline/monitor/view"
)

// What can be done to a plan in mid-build.
const (
	shapeLeaveOut = "leave-out"
	shapePutBack  = "put-back"
	shapeAdd      = "add"
	shapeChange   = "change"
)

// shapeAsk is what goes with a change of a plan, as typed.
type shapeAsk struct {
	Title    string `json:"title,omitempty"`
	Do       string `json:"do,omitempty"`
	Role     string `json:"role,omitempty"`
	Points   string `json:"points,omitempty"` // separated by commas
	Least    string `json:"least,omitempty"`
	Most     string `json:"most,omitempty"`
	Seatings string `json:"seatings,omitempty"`
}

// ShapeData is what the page shows on which a plan is changed in mid-build.
type ShapeData struct {
	Job     string
	Steps   []view.ShapeRow // those that may be left out or changed
	Left    []view.ShapeRow // those that were left out
	Changes []view.ChangeRow
	Roles   []RoleChoice
}

func (s *Server) shapePage(w http.ResponseWriter, r *http.Request) {
	d := ShapeData{Roles: roleChoices()}
	if b, _ := s.cfg.Bench.State().Current(); b != nil && !b.Closed {
		d.Job = b.Job
		d.Steps, d.Left = view.ShapeRows(b)
		d.Changes = view.ChangeRows(b)
	}
	s.page(w, r, "shape", Page{Title: "Change the plan", Data: d})
}

// planVerb changes the plan of the build on the bench.
func (s *Server) planVerb(v bench.Verb, a ask) (bench.Verb, error) {
	b, _ := s.cfg.Bench.State().Current()
	if b == nil {
		return v, fmt.Errorf("no build is on the bench")
	}
	c := plan.Change{Step: a.Item, Why: v.Reason}
	switch a.Choice {
	case shapeLeaveOut:
		c.LeaveOut = true
	case shapePutBack:
		c.PutBack = true
	case shapeAdd:
		c.Add = &plan.NewStep{Title: a.Title, Do: a.Do, Role: a.Role, Names: splitNames(a.Points), Least: strings.TrimSpace(a.Least), Most: strings.TrimSpace(a.Most)}
	case shapeChange:
		c.Set = map[string]string{}
		if t := strings.TrimSpace(a.Do); t != "" {
			c.Set["do"] = plan.TOMLText(t)
		}
		if n := strings.TrimSpace(a.Seatings); n != "" {
			c.Set["seatings"] = n
		}
	default:
		return v, fmt.Errorf("%q is nothing that can be done to a plan", a.Choice)
	}
	text, err := plan.Changed(b.Started.Plan, []byte(b.Text), c)
	if err != nil {
		return v, err
	}
	v.Item, v.Choice = "", ""
	v.Build = &bench.Started{Job: b.Job, Plan: b.Started.Plan, Text: string(text)}
	return v, nil
}

// splitNames parts names that are written with commas between them.
func splitNames(s string) []string {
	var out []string
	for _, n := range strings.Split(s, ",") {
		if n = strings.TrimSpace(n); n != "" {
			out = append(out, n)
		}
	}
	return out
}

// RoleChoice is a kind of gauge that a step may read with, and how people call it.
type RoleChoice struct{ Name, Words string }

func roleChoices() []RoleChoice {
	var out []RoleChoice
	for _, name := range plan.RoleNames() {
		if r, ok := plan.Role(name); ok && r.Measures {
			out = append(out, RoleChoice{name, r.Words})
		}
	}
	return out
}
