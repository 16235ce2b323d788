package bench

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
}

// Summarise reckons a build up.
func Summarise(b *Build, results Results) Summary {
	s := Summary{UpTo: b.Last, Title: b.Plan.Title, Stands: b.StoodWords(), Steps: len(b.Plan.Steps), Inside: len(b.Inside()), Loose: len(b.Loose)}
	for _, step := range b.Plan.Steps {
		if p := ProgressOf(b, step, results); p.Settled() {
			s.Done++
		}
	}
	return s
}
