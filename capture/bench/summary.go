package bench

import "slices"

// Summary is what a list shows of a build. It is reckoned while the build is in memory and kept, so that a list folds
// nothing.
type Summary struct {
	UpTo   uint64 `json:"up_to"` // the build's last entry it knows of
	Title  string `json:"title,omitempty"`
	Stands string `json:"stands,omitempty"` // where the bench stood in it last, in words
	Steps  int    `json:"steps"`
	Done   int    `json:"done"`
	Inside int    `json:"inside,omitempty"` // temporary things in the engine
	Loose  int    `json:"loose,omitempty"`
	// Clocks are the times of an open build that were not over at its last entry.
	Clocks []Clock `json:"clocks,omitempty"`
	// Heat says whether an open build that was started has steps of the heat before it; nil: not reckoned yet.
	Heat *bool `json:"heat,omitempty"`
}

// MayBeDue reports whether something of the build may be due now; where not, DueOf needs no look at it. It knows nothing of
// entries after UpTo.
func (s Summary) MayBeDue(now Moment) bool {
	return s.Heat == nil || *s.Heat || slices.ContainsFunc(s.Clocks, func(c Clock) bool { return c.Left(now) > 0 })
}

// Summarise reckons a build up.
func Summarise(b *Build, results Results) Summary {
	s := Summary{UpTo: b.Last, Title: b.Plan.Title, Stands: b.StoodWords(), Steps: len(b.Plan.Steps), Inside: len(b.Inside()), Loose: len(b.Loose)}
	for _, step := range b.Plan.Steps {
		if p := ProgressOf(b, step, results); p.Settled() {
			s.Done++
		}
	}
	heat := false
	if !b.Closed {
		for _, c := range b.Clocks {
			if c.Left(c.Seen) > 0 {
				s.Clocks = append(s.Clocks, c)
			}
		}
		heat = len(afterHeat(b, results, Moment{})) > 0
	}
	s.Heat = &heat
	return s
}
