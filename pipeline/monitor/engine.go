package monitor

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"thoud/capture/bench"
)

// engineValue is a value of an engine as it was typed.
type engineValue struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// EngineData is what the page of an engine shows.
type EngineData struct {
	bench.EnginePage
	Engines  []string        // all there are
	Readings []ReadingChoice // of its open build, that can be supposed to be others
	Fault    string
}

// ReadingChoice is a reading that stands.
type ReadingChoice struct{ Name, Title, Value string }

func (s *Server) enginePage(w http.ResponseWriter, r *http.Request) {
	state := s.cfg.Bench.State()
	d := EngineData{Engines: enginesOf(state)}
	name := r.URL.Query().Get("engine")
	if b, _ := state.Current(); name == "" && b != nil {
		name = b.Engine
	}
	if name == "" && len(d.Engines) > 0 {
		name = d.Engines[len(d.Engines)-1]
	}
	if name != "" {
		var err error
		if d.EnginePage, err = s.engineOf(r.Context(), name); err != nil {
			s.fail(w, err)
			return
		}
		if b, ok := state.Build(d.Job); ok && d.Open {
			d.Readings = standingReadings(b)
		}
	}
	s.page(w, r, "engine", Page{Title: "Engine", Data: d})
}

// enginesOf lists every engine that has a record or a build, the one touched last at the end.
func enginesOf(state bench.State) []string {
	var out []string
	add := func(name string) {
		if name == "" {
			return
		}
		out = append(slices.DeleteFunc(out, func(n string) bool { return n == name }), name)
	}
	for _, r := range state.Recorded {
		add(r.Name)
	}
	for _, row := range state.Index {
		add(row.Engine)
	}
	return out
}

// engineOf gathers an engine's record and its newest builds.
func (s *Server) engineOf(ctx context.Context, name string) (bench.EnginePage, error) {
	g := &bench.Engine{Name: name}
	if s.cfg.Archive != nil {
		var err error
		if g, err = s.cfg.Archive.Engine(ctx, name); err != nil {
			return bench.EnginePage{}, err
		}
	}
	builds, err := s.buildsOf(ctx, name, 2)
	if err != nil {
		return bench.EnginePage{}, err
	}
	slices.Reverse(builds)
	return bench.EnginePageOf(g, builds, s.cfg.Bench.State().PartsIn(name, 0)), nil
}

// standingReadings lists the readings of a build that stand, by the titles of its plan.
func standingReadings(b *bench.Build) []ReadingChoice {
	var out []ReadingChoice
	for _, step := range b.Plan.Steps {
		last := b.Step(step.ID).Last()
		if last == nil {
			continue
		}
		for _, pt := range step.Points {
			if all := last.StandingAll(pt.ID, step.Seatings); len(all) > 0 && all[0].Samples == nil {
				title := step.Title
				if pt.Title != "" {
					title += ", " + pt.Title
				}
				out = append(out, ReadingChoice{step.ID + "/" + pt.ID, title, all[len(all)-1].Value.String()})
			}
		}
	}
	return out
}

// engineVerb makes a verb of values that were typed, or of those that are confirmed as they stand.
func (s *Server) engineVerb(v bench.Verb, a ask) (bench.Verb, error) {
	v.Engine = &bench.EngineSet{Engine: strings.TrimSpace(a.Engine), Sure: a.Meant}
	if a.Confirm == "" {
		for _, x := range a.Values {
			text := strings.TrimSpace(x.Text)
			v.Engine.Values = append(v.Engine.Values, bench.EngineValue{Name: x.Name, Text: text, Gone: text == "", Source: strings.TrimSpace(a.Source)})
		}
		return v, nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), doWait)
	defer cancel()
	builds, err := s.buildsOf(ctx, v.Engine.Engine, 1)
	if err != nil {
		return v, err
	}
	if len(builds) == 0 {
		return v, fmt.Errorf("engine %q has no build: what it is asked for is known when one begins", v.Engine.Engine)
	}
	b := builds[len(builds)-1]
	set := b.Offered()
	if a.Confirm == "asked" {
		set = b.Asked()
	}
	if len(set.Values) == 0 {
		return v, fmt.Errorf("nothing is left to confirm for job %s", b.Job)
	}
	v.Engine = &set
	return v, nil
}

// supposed is what a page asks about before it is kept.
type supposed struct {
	Engine string        `json:"engine"`
	Job    string        `json:"job"`
	Values []engineValue `json:"values"`
	Texts  []string      `json:"texts"` // readings and limits, NAME=VALUE
	Source string        `json:"source"`
	Meant  bool          `json:"meant"`
}

// foreseen is the answer: in words, and as a part of the page.
type foreseen struct {
	Words string `json:"words"`
	HTML  string `json:"html,omitempty"`
	Keeps bool   `json:"keeps"`
	Fault bool   `json:"fault,omitempty"`
}

// whatIf shows what changes would bring. It keeps nothing.
func (s *Server) whatIf(w http.ResponseWriter, r *http.Request) {
	if !isJSON(r) {
		http.Error(w, "want application/json", http.StatusUnsupportedMediaType)
		return
	}
	dec := json.NewDecoder(http.MaxBytesReader(w, r.Body, 64<<10))
	dec.DisallowUnknownFields()
	var a supposed
	if err := dec.Decode(&a); err != nil {
		http.Error(w, "not understood: "+err.Error(), http.StatusBadRequest)
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), foresightWait)
	defer cancel()
	p, err := s.foresee(ctx, a)
	answer := foreseen{Words: p.Words(), Keeps: p.Keeps && len(p.Loses) == 0}
	if err != nil {
		answer = foreseen{Words: err.Error(), Fault: true}
	} else {
		var b bytes.Buffer
		if err := s.render.t.Execute(&b, "preview", p); err != nil {
			s.fail(w, err)
			return
		}
		answer.HTML = b.String()
	}
	w.Header().Set("Content-Type", "application/json")
	if err := json.NewEncoder(w).Encode(answer); err != nil {
		s.cfg.Logger.Debug().Err(err).Msg("preview not sent")
	}
}

// foresightWait is how long a preview may take: a whole engine's figures at once.
const foresightWait = 20 * time.Second

func (s *Server) foresee(ctx context.Context, a supposed) (bench.Preview, error) {
	if s.cfg.Foresight == nil {
		return bench.Preview{}, fmt.Errorf("this page cannot show what follows: use thoud whatif")
	}
	if len(a.Texts) == 0 {
		v, err := s.engineVerb(bench.Verb{Name: bench.DoEngineSet}, ask{Engine: a.Engine, Values: a.Values, Source: a.Source, Meant: a.Meant})
		if err != nil {
			return bench.Preview{}, err
		}
		return s.cfg.Foresight.Before(ctx, v)
	}
	texts := slices.Clone(a.Texts)
	for _, v := range a.Values {
		texts = append(texts, "engine."+v.Name+"="+v.Text)
	}
	return s.cfg.Foresight.WhatIf(ctx, a.Job, texts, a.Meant)
}
