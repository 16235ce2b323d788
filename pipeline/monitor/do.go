package monitor

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"thoud/capture/bench"
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
	Point    string       `json:"point,omitempty"` // of the step to go to
	Job      string       `json:"job,omitempty"`
	Engine   string       `json:"engine,omitempty"`
	Plan     string       `json:"plan,omitempty"`
	Register *bench.Gauge `json:"register,omitempty"`
	Turns    int          `json:"turns,omitempty"` // whole revolutions of a plain dial's hand besides the typed value
	Sure     string       `json:"sure,omitempty"`  // a unit of the other system that the person means
	lifeAsk
	shapeAsk
	// Of a check or a study of a gauge.
	Pairs    []checkPair `json:"pairs,omitempty"`
	Standard string      `json:"standard,omitempty"` // expanded uncertainty (k = 2) of the standards
	Due      int         `json:"due,omitempty"`      // days until the next check
	Study    bool        `json:"study,omitempty"`
	// Of values of an engine.
	Values  []engineValue `json:"values,omitempty"`
	Source  string        `json:"source,omitempty"`
	Meant   bool          `json:"meant,omitempty"`   // values far from those before them are meant
	Confirm string        `json:"confirm,omitempty"` // "asked": all that is asked, as it stands; "job": what a build confirmed
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
	answer := answered{Answer: bench.Answer{Place: s.cfg.Bench.State().Place}}
	var other *otherUnit
	if errors.As(err, &other) {
		answer.Ask, answer.Unit = other.Error(), other.unit
	} else if err != nil {
		answer.Words = err.Error()
	} else {
		ctx, cancel := context.WithTimeout(r.Context(), doWait)
		defer cancel()
		answer.Answer = s.cfg.Bench.Do(ctx, v)
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
		bench.DoPlan: (*Server).planVerb, bench.DoHours: (*Server).lifeVerb, bench.DoFit: (*Server).lifeVerb, bench.DoPartOut: (*Server).lifeVerb, bench.DoRegular: (*Server).lifeVerb,
		bench.DoRetake: retakeVerb, bench.DoBuildStart: startVerb, bench.DoBuildClose: (*Server).closeVerb, bench.DoGaugeAdd: registerVerb,
		bench.DoEngineSet: (*Server).engineVerb,
	}
}

func (s *Server) keyVerb(v bench.Verb, a ask) (bench.Verb, error) {
	x, err := s.typedFor(a, a.Typed)
	v.Value, v.Turns = &x, a.Turns
	return v, err
}

func (s *Server) zeroVerb(v bench.Verb, a ask) (bench.Verb, error) {
	if a.Typed == "" {
		return v, nil
	}
	x, err := s.typedFor(a, a.Typed)
	v.Value = &x
	return v, err
}

func (s *Server) bracketVerb(v bench.Verb, a ask) (bench.Verb, error) {
	goes, stops, ok := twoOf(a.Typed)
	if !ok {
		return v, fmt.Errorf("%q: want two blades, the largest that goes and the smallest that does not, as 0.010 0.011", a.Typed)
	}
	x, err := s.typedFor(a, goes)
	if err != nil {
		return v, err
	}
	y, err := s.typedFor(a, stops)
	v.Goes, v.Stops = &x, &y
	return v, err
}

func (s *Server) gotoVerb(v bench.Verb, a ask) (bench.Verb, error) {
	job := a.Job
	if job == "" {
		job = s.cfg.Bench.State().Place.Build
	}
	v.Place = &bench.Place{Build: job, Step: a.Step, Point: a.Point}
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

func startVerb(s *Server, v bench.Verb, a ask) (bench.Verb, error) {
	text, err := s.planText(a.Plan)
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
	if a.Item == bench.OverSetup {
		return s.setupVerb(v, a.Step)
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
