package monitor

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// ask is what a page asks of the bench: a verb with an id, the place the page showed, and what goes with it as typed.
type ask struct {
	ID       string       `json:"id"`
	Verb     string       `json:"verb"`
	Seen     *bench.Place `json:"seen,omitempty"`
	Gauge    string       `json:"gauge,omitempty"`
	Item     string       `json:"item,omitempty"`
	Choice   string       `json:"choice,omitempty"`
	Typed    string       `json:"typed,omitempty"`  // a value, or two of a bracket
	System   string       `json:"system,omitempty"` // "inch" or "mm": the unit of a typed number without one
	Reason   string       `json:"reason,omitempty"`
	Initials string       `json:"initials,omitempty"`
	By       string       `json:"by,omitempty"` // "pedal"
	Step     string       `json:"step,omitempty"`
	Job      string       `json:"job,omitempty"`
	Engine   string       `json:"engine,omitempty"`
	Plan     string       `json:"plan,omitempty"`
	Register *bench.Gauge `json:"register,omitempty"`
	Turns    int          `json:"turns,omitempty"` // whole revolutions of a plain dial's hand besides the typed value
	// Of a check or a study of a gauge.
	Pairs    []checkPair `json:"pairs,omitempty"`
	Standard string      `json:"standard,omitempty"` // expanded uncertainty (k = 2) of the standards
	Due      int         `json:"due,omitempty"`      // days until the next check
	Study    bool        `json:"study,omitempty"`
}

// doWait is how long a page waits for the bench's answer.
const doWait = 10 * time.Second

// do asks the bench for what a page asked and hands the answer back as it is.
func (s *Server) do(w http.ResponseWriter, r *http.Request) {
	if !isJSON(r) {
		http.Error(w, "want application/json", http.StatusUnsupportedMediaType)
		return
	}
	dec := json.NewDecoder(http.MaxBytesReader(w, r.Body, 16<<10))
	dec.DisallowUnknownFields()
	var a ask
	if err := dec.Decode(&a); err != nil {
		http.Error(w, "not understood: "+err.Error(), http.StatusBadRequest)
		return
	}
	if _, err := dec.Token(); err != io.EOF {
		http.Error(w, "not understood: more than one request", http.StatusBadRequest)
		return
	}
	v, err := s.verb(a)
	answer := bench.Answer{Place: s.cfg.Bench.State().Place}
	if err != nil {
		answer.Words = err.Error()
	} else {
		ctx, cancel := context.WithTimeout(r.Context(), doWait)
		defer cancel()
		answer = s.cfg.Bench.Do(ctx, v)
	}
	if answer.OK && takes(v.Name) {
		answer.Words = "" // the stream tells the reading by the titles of its plan
	}
	w.Header().Set("Content-Type", "application/json")
	if err := json.NewEncoder(w).Encode(answer); err != nil {
		s.cfg.Logger.Debug().Err(err).Msg("answer not sent")
	}
}

// takes reports whether a verb makes a reading.
func takes(verb string) bool {
	return verb == bench.DoTake || verb == bench.DoSweep || verb == bench.DoKey || verb == bench.DoBracket
}

// isJSON tells a request of our own script from a form that another page could send.
func isJSON(r *http.Request) bool {
	kind, _, _ := strings.Cut(r.Header.Get("Content-Type"), ";")
	return strings.TrimSpace(kind) == "application/json"
}

// verb makes a verb of what was asked. Errors are words for the person at the page.
func (s *Server) verb(a ask) (bench.Verb, error) {
	if row, ok := bench.VerbOf(a.Verb); !ok || slices.Contains(row.Gives, bench.GivesPicture) { // a photo has a way of its own
		return bench.Verb{}, fmt.Errorf("%q is nothing the bench can be asked from here", a.Verb)
	}
	if len(a.ID) < 8 || len(a.ID) > 64 {
		return bench.Verb{}, fmt.Errorf("the request has no proper id: load the page again")
	}
	v := bench.Verb{ID: a.ID, Name: a.Verb, Seen: a.Seen, Gauge: a.Gauge, Item: a.Item, Choice: a.Choice,
		Reason: strings.TrimSpace(a.Reason), Initials: strings.TrimSpace(a.Initials), By: "screen", Register: a.Register}
	if a.By == "pedal" {
		v.By = a.By
	}
	if fill, ok := fillers()[a.Verb]; ok {
		return fill(s, v, a)
	}
	return v, nil
}

// filler puts what was typed or chosen on a page into a verb. Errors are words for the person at the page.
type filler func(*Server, bench.Verb, ask) (bench.Verb, error)

// fillers are the verbs with which more goes than their name.
func fillers() map[string]filler {
	return map[string]filler{
		bench.DoKey: (*Server).keyVerb, bench.DoZero: (*Server).zeroVerb, bench.DoBracket: (*Server).bracketVerb,
		bench.DoGaugeCheck: (*Server).checkVerb, bench.DoOverride: (*Server).overrideVerb, bench.DoGoto: (*Server).gotoVerb,
		bench.DoRetake: retakeVerb, bench.DoBuildStart: startVerb, bench.DoBuildClose: (*Server).closeVerb, bench.DoGaugeAdd: registerVerb,
	}
}

func (s *Server) keyVerb(v bench.Verb, a ask) (bench.Verb, error) {
	x, err := s.typed(a.Typed, a.System)
	v.Value, v.Turns = &x, a.Turns
	return v, err
}

func (s *Server) zeroVerb(v bench.Verb, a ask) (bench.Verb, error) {
	if a.Typed == "" {
		return v, nil
	}
	x, err := s.typed(a.Typed, a.System)
	v.Value = &x
	return v, err
}

func (s *Server) bracketVerb(v bench.Verb, a ask) (bench.Verb, error) {
	goes, stops, ok := twoOf(a.Typed)
	if !ok {
		return v, fmt.Errorf("%q: want two blades, the largest that goes and the smallest that does not, as 0.010 0.011", a.Typed)
	}
	x, err := s.typed(goes, a.System)
	if err != nil {
		return v, err
	}
	y, err := s.typed(stops, a.System)
	v.Goes, v.Stops = &x, &y
	return v, err
}

func (s *Server) gotoVerb(v bench.Verb, a ask) (bench.Verb, error) {
	job := a.Job
	if job == "" {
		job = s.cfg.Bench.State().Place.Build
	}
	v.Place = &bench.Place{Build: job, Step: a.Step}
	return v, nil
}

// retakeVerb takes back a point of this pass where one is named, rather than the last reading.
func retakeVerb(_ *Server, v bench.Verb, a ask) (bench.Verb, error) {
	if a.Item != "" && a.Seen != nil {
		p := *a.Seen
		p.Point, p.Seating, v.Item = a.Item, 1, ""
		v.Place = &p
	}
	return v, nil
}

func startVerb(_ *Server, v bench.Verb, a ask) (bench.Verb, error) {
	text, err := plan.ShippedText(a.Plan)
	if err != nil {
		return v, err
	}
	if strings.TrimSpace(a.Job) == "" {
		return v, fmt.Errorf("a build needs a job number")
	}
	v.Build = &bench.Started{Job: strings.TrimSpace(a.Job), Engine: strings.TrimSpace(a.Engine), Plan: a.Plan, Text: string(text)}
	return v, nil
}

func (s *Server) closeVerb(v bench.Verb, a ask) (bench.Verb, error) {
	if at := s.cfg.Bench.State().Place.Build; a.Job != "" && a.Job != at {
		return v, fmt.Errorf("job %s is not on the bench: go to it first", a.Job)
	}
	return v, nil
}

func registerVerb(_ *Server, v bench.Verb, _ ask) (bench.Verb, error) {
	if v.Register == nil {
		return v, fmt.Errorf("nothing to register")
	}
	if v.Register.Port == "" {
		v.Register.Known = bench.KnownKeyed
	} else if v.Register.Known == "" {
		v.Register.Known, v.Register.Identity = bench.KnownPath, v.Register.Port
	}
	return v, nil
}

func (s *Server) overrideVerb(v bench.Verb, a ask) (bench.Verb, error) {
	b, step := s.cfg.Bench.State().Current()
	if b == nil || step == nil {
		return v, fmt.Errorf("the bench stands at no step")
	}
	if v.Reason == "" {
		return v, fmt.Errorf("say why: the reason is kept and printed")
	}
	if a.Item == "verdict" {
		v.Item, v.Override = "", &bench.Override{What: "verdict", Name: step.ID}
		return v, nil
	}
	d, ok := b.Datum(a.Item)
	if !ok {
		return v, fmt.Errorf("the plan has no engine data %q", a.Item)
	}
	x, err := s.typedAs(d.Kind, a.Typed, a.System)
	if err != nil {
		return v, err
	}
	v.Item, v.Override = "", &bench.Override{What: "engine", Name: a.Item, Value: &x}
	return v, nil
}

// typed reads a value for the point in work; a number without a unit is in the unit that the screen shows.
func (s *Server) typed(text, system string) (quantity.Value, error) {
	kind := quantity.Length
	state := s.cfg.Bench.State()
	if _, step := state.Current(); step != nil {
		if at := step.At(state.Place.Point); at.Capture.Kind != "" {
			kind = at.Capture.Kind
		}
	}
	return s.typedAs(kind, text, system)
}

func (s *Server) typedAs(kind quantity.Kind, text, system string) (quantity.Value, error) {
	text = strings.TrimSpace(strings.ReplaceAll(text, ",", "."))
	if text == "" {
		return quantity.Value{}, fmt.Errorf("nothing was typed")
	}
	if number, unit := unitTyped(kind, text); unit != "" {
		text = number + " " + unit
	} else if strings.IndexFunc(text, isLetter) < 0 {
		text += " " + quantity.System(system).For(kind).Code
	}
	v, err := quantity.ParseAs(kind, text)
	if err != nil {
		return v, fmt.Errorf("not taken: %w", err)
	}
	return v, nil
}

// inchMarks are what stands for the inch besides its code.
var inchMarks = []string{"\"", "″", "''"}

// unitTyped parts a number from its unit as hands and gauges that type like a keyboard write it: joined to the number, in
// capitals, or with an inch mark. The unit is "" where it is none of the kind.
func unitTyped(kind quantity.Kind, text string) (number, unit string) {
	i := strings.IndexFunc(text, func(r rune) bool { return !strings.ContainsRune("0123456789.+-/ ", r) })
	if i <= 0 {
		return "", ""
	}
	number, written := strings.TrimSpace(text[:i]), strings.TrimSpace(text[i:])
	if kind == quantity.Length && slices.Contains(inchMarks, written) {
		return number, quantity.Inch.For(quantity.Length).Code
	}
	for _, u := range quantity.Units() {
		if u.Kind == kind && strings.EqualFold(u.Code, written) {
			if unit != "" && unit != u.Code {
				return "", "" // capitals tell them apart: taken as written
			}
			unit = u.Code
		}
	}
	return number, unit
}

func isLetter(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r == '°' }

// twoOf parts "0.010 in 0.011 in", "0.010 0.011" or "0.010/0.011".
func twoOf(s string) (a, b string, ok bool) {
	f := strings.Fields(strings.NewReplacer(";", " ", "-", " ").Replace(s))
	switch len(f) {
	case 2:
		return f[0], f[1], true
	case 3:
		return f[0] + " " + f[2], f[1] + " " + f[2], true
	case 4:
		return f[0] + " " + f[1], f[2] + " " + f[3], true
	}
	return "", "", false
}
