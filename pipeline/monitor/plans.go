package monitor

import (
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"

	"thoud/capture/plan"
	"thoud/pipeline/monitor/view"
)

// Plans are the shop's own plans, beside those that ship. Nil where none can be kept.
type Plans interface {
	Own() ([]string, error)
	Text(name string) ([]byte, error)    // of one that ships too
	Keep(name string, text []byte) error // refused, with where it is at fault, unless it is sound
}

// PlansData is what the page of the plans shows.
type PlansData struct {
	Plans   []view.PlanRow
	From    view.PlanRow // that a new one is cut from
	Gauges  []view.RoleRow
	CanKeep bool
	Fault   string
}

// mostPlan is how large a plan may be that is sent to the page, in bytes.
const mostPlan = 700 << 10

// knownPlans are what the lists show of plans, by their texts: reading all that ship takes a tenth of a second and more, and two
// pages list them.
type knownPlans struct {
	mu   sync.Mutex
	rows map[[sha256.Size]byte]view.PlanRow
}

// row gives what a list shows of a plan, read anew only where its text is another.
func (k *knownPlans) row(name string, text []byte, own bool) (view.PlanRow, error) {
	key := sha256.Sum256(fmt.Appendf(nil, "%t %s\n%s", own, name, text))
	k.mu.Lock()
	row, ok := k.rows[key]
	k.mu.Unlock()
	if ok {
		return row, nil
	}
	p, err := plan.Parse(name, text)
	if err != nil {
		return row, err
	}
	row = view.PlanOf(p, own)
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.rows == nil || len(k.rows) >= mostPlans {
		k.rows = map[[sha256.Size]byte]view.PlanRow{}
	}
	k.rows[key] = row
	return row, nil
}

// mostPlans bounds what is remembered, since a plan that is changed is another.
const mostPlans = 200

// planRows lists the plans, the shop's own first.
func (s *Server) planRows() ([]view.PlanRow, error) {
	var out []view.PlanRow
	names, err := plan.Shipped()
	if err != nil {
		return nil, err
	}
	if s.cfg.Plans != nil {
		own, err := s.cfg.Plans.Own()
		if err != nil {
			return nil, err
		}
		for _, n := range own {
			row := view.PlanRow{Name: n, Title: n, Own: true}
			if text, err := s.planText(n); err == nil {
				if known, err := s.plans.row(n, text, true); err == nil {
					row = known
				}
			}
			out = append(out, row)
		}
	}
	for _, n := range names {
		text, err := plan.ShippedText(n)
		if err != nil {
			return nil, err
		}
		if row, err := s.plans.row(n, text, false); err == nil {
			out = append(out, row)
		}
	}
	return out, nil
}

// planText is the text of a plan by name.
func (s *Server) planText(name string) ([]byte, error) {
	if s.cfg.Plans != nil {
		return s.cfg.Plans.Text(name)
	}
	return plan.ShippedText(name)
}

func (s *Server) planOf(name string) (*plan.Plan, error) {
	text, err := s.planText(name)
	if err != nil {
		return nil, err
	}
	return plan.Parse(name, text)
}

func (s *Server) plansPage(w http.ResponseWriter, r *http.Request) {
	rows, err := s.planRows()
	if err != nil {
		s.fail(w, err)
		return
	}
	d := PlansData{Plans: rows, CanKeep: s.cfg.Plans != nil}
	from := r.URL.Query().Get("from")
	if i := slices.IndexFunc(rows, func(p view.PlanRow) bool { return p.Name == from }); i >= 0 {
		d.From = rows[i]
	}
	if d.From.Name != "" {
		p, err := s.planOf(d.From.Name)
		if err != nil {
			d.Fault = err.Error()
		} else {
			d.From.Choices = view.ChoiceRows(p)
			d.Gauges = view.RoleRows(p, s.cfg.Bench.State())
		}
	}
	s.page(w, r, "plans", Page{Title: "Plans", Data: d})
}

// planFile gives the text of a plan, to be read or kept.
func (s *Server) planFile(w http.ResponseWriter, r *http.Request) {
	text, err := s.planText(strings.TrimSuffix(r.PathValue("file"), ".toml"))
	if err != nil {
		http.Error(w, err.Error(), http.StatusNotFound)
		return
	}
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	if _, err := w.Write(text); err != nil {
		s.cfg.Logger.Debug().Err(err).Msg("plan not sent")
	}
}

// planKeep is what the page sends: a plan to cut from another, or a text to keep.
type planKeep struct {
	Name      string            `json:"name"`
	From      string            `json:"from,omitempty"`
	Title     string            `json:"title,omitempty"`
	Cylinders string            `json:"cylinders,omitempty"`
	Choices   map[string]string `json:"choices,omitempty"`
	Text      string            `json:"text,omitempty"`
}

// keepPlan keeps a plan of the shop's own.
func (s *Server) keepPlan(w http.ResponseWriter, r *http.Request) {
	if !isJSON(r) {
		http.Error(w, "want application/json", http.StatusUnsupportedMediaType)
		return
	}
	var k planKeep
	dec := json.NewDecoder(http.MaxBytesReader(w, r.Body, 2*mostPlan))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&k); err != nil {
		http.Error(w, "not understood: "+err.Error(), http.StatusBadRequest)
		return
	}
	words, err := s.kept(k)
	answer := struct {
		OK    bool   `json:"ok"`
		Words string `json:"words"`
	}{err == nil, words}
	if err != nil {
		answer.Words = err.Error()
	}
	w.Header().Set("Content-Type", "application/json")
	if err := json.NewEncoder(w).Encode(answer); err != nil {
		s.cfg.Logger.Debug().Err(err).Msg("answer not sent")
	}
}

func (s *Server) kept(k planKeep) (string, error) {
	name := strings.ToLower(strings.TrimSpace(k.Name))
	if s.cfg.Plans == nil {
		return "", fmt.Errorf("this page keeps no plans")
	}
	text := []byte(k.Text)
	if k.Text == "" {
		base, err := s.planText(k.From)
		if err != nil {
			return "", err
		}
		if text, err = plan.Tailor(name, base, plan.Tailoring{Title: k.Title, Cylinders: splitNames(k.Cylinders), Choices: k.Choices}); err != nil {
			return "", err
		}
	}
	if err := s.cfg.Plans.Keep(name, text); err != nil {
		return "", err
	}
	return "Plan " + name + " is kept", nil
}
