package bench

import (
	"cmp"
	"slices"
)

// InWork is how many builds a running bench keeps in memory, closed or not: those touched last. The others are folded
// again from their own entries when they are asked for, so that memory does not grow with the ledger.
const InWork = 8

// BuildRow is what is always known of a build, in memory or not.
type BuildRow struct {
	Job    string `json:"job"`
	Engine string `json:"engine,omitempty"`
	Plan   string `json:"plan,omitempty"`
	N      uint64 `json:"n"` // of the entry that began it
	At     int64  `json:"at"`
	Closed uint64 `json:"closed,omitempty"` // number of the entry that closed it
}

// Part names a part of the state that is loaded only when it is needed.
type Part struct {
	Build  string // job number
	Engine string // the record of an engine, and, where All is set, its open builds
	All    bool
}

// Parts names what an entry needs beside the bench part to be applied. An entry about gauges needs nothing: their
// register is in the bench part.
func Parts(e Entry) []Part {
	switch {
	case e.Kind == BuildStarted && e.Build != nil && e.Build.Engine != "":
		return []Part{{Engine: e.Build.Engine}}
	case e.Kind == EngineValues && EngineOf(e) != "":
		// Its open builds are computed again by it.
		return []Part{{Engine: EngineOf(e), All: true}}
	case aboutLife(e.Kind), e.Kind == BuildStarted, e.Kind == EngineValues, e.Kind == RulesNamed, e.Kind == KeyNamed, aboutGauges(e.Kind), e.Place.Build == "":
		return nil
	}
	return []Part{{Build: e.Place.Build}}
}

// VerbParts names what a verb needs beside the bench part to be decided: the build it names, the engine whose values it
// changes or whose build it begins.
func VerbParts(v Verb) []Part {
	switch {
	case v.Engine != nil && v.Engine.Engine != "":
		parts := []Part{{Engine: v.Engine.Engine, All: true}}
		if v.Engine.From != "" {
			parts = append(parts, Part{Engine: v.Engine.From})
		}
		if v.Engine.Job != "" {
			parts = append(parts, Part{Build: v.Engine.Job})
		}
		return parts
	case v.Build != nil && v.Build.Engine != "":
		return []Part{{Engine: v.Build.Engine}}
	}
	if v.Place == nil || v.Place.Build == "" {
		return nil
	}
	return []Part{{Build: v.Place.Build}}
}

// aboutGauges reports whether a kind of entry changes the register of gauges, and nothing of a build.
func aboutGauges(k Kind) bool {
	switch k {
	case GaugeAdded, GaugeRemoved, GaugeLost, GaugeBack, GaugeChecked, GaugeChosen, ProfileNamed, ZeroSet, ZeroLost, DatumSeen:
		return true
	}
	return false
}

// Lacks gives those of some parts that exist and are not in memory: who applies an entry loads them first.
func (s State) Lacks(parts []Part) []Part {
	var out []Part
	for _, p := range parts {
		if p.Engine != "" {
			out = append(out, s.lacksOf(p)...)
			continue
		}
		if _, in := s.Build(p.Build); in {
			continue
		}
		if _, known := s.Known(p.Build); known {
			out = append(out, Part{Build: p.Build})
		}
	}
	return out
}

// lacksOf is what of an engine exists and is not in memory: its record, and its open builds where they are wanted.
func (s State) lacksOf(p Part) []Part {
	var out []Part
	if _, in := s.Record(p.Engine); !in {
		if _, known := s.KnownEngine(p.Engine); known {
			out = append(out, Part{Engine: p.Engine})
		}
	}
	for _, row := range s.Index {
		if _, in := s.Build(row.Job); p.All && row.Engine == p.Engine && row.Closed == 0 && !in {
			out = append(out, Part{Build: row.Job})
		}
	}
	return out
}

// JoinRecord gives the state with an engine's record that was loaded. One that is there already stays: it is newer.
func (s State) JoinRecord(g *Engine) State {
	if _, in := s.Record(g.Name); in {
		return s
	}
	s.Engines = append(slices.Clone(s.Engines), g)
	return s.restRecords(InWork)
}

// Known finds a build by its job number, in memory or not.
func (s State) Known(job string) (BuildRow, bool) {
	for i := len(s.Index) - 1; i >= 0; i-- {
		if s.Index[i].Job == job {
			return s.Index[i], true
		}
	}
	return BuildRow{}, false
}

// Join gives the state with a build that was loaded. One of the same job that is there already stays: it is newer.
func (s State) Join(b *Build) State {
	if _, in := s.Build(b.Job); in {
		return s
	}
	s.Builds = append(slices.Clone(s.Builds), b)
	slices.SortStableFunc(s.Builds, func(a, b *Build) int { return cmp.Compare(a.N, b.N) })
	return s
}

// Rest lets go of the builds touched longest ago, until keep are left; the one the bench stands at stays in any case.
// It names those let go of.
func (s State) Rest(keep int) (State, []string) {
	s = s.restRecords(keep)
	if len(s.Builds) <= keep {
		return s, nil
	}
	gone := s.Touched()[:len(s.Builds)-keep]
	s.Builds = slices.DeleteFunc(slices.Clone(s.Builds), func(b *Build) bool { return slices.Contains(gone, b.Job) })
	return s, gone
}

// restRecords lets go of the engines' records touched longest ago.
func (s State) restRecords(keep int) State {
	if over := len(s.Engines) - keep; over > 0 {
		s.Engines = slices.Clone(s.Engines[over:])
	}
	return s
}

// Touched names the builds in memory in the order in which they were touched, the one the bench stands at last.
func (s State) Touched() []string {
	byAge := slices.Clone(s.Builds)
	slices.SortFunc(byAge, func(a, b *Build) int {
		switch s.Place.Build {
		case a.Job:
			return 1
		case b.Job:
			return -1
		}
		return cmp.Compare(a.Last, b.Last)
	})
	out := make([]string, len(byAge))
	for i, b := range byAge {
		out[i] = b.Job
	}
	return out
}
