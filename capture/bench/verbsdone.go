package bench

import "slices"

// VerbDone remembers which entry a verb led to, so that a verb asked twice is done once.
type VerbDone struct {
	ID string
	N  uint64
}

// verbsKept is how many verbs are remembered at least; a client retries within seconds, not hundreds of verbs later.
const verbsKept = 512

// Verbs are the verbs done lately. Immutable: each one added shares what was there before. They are kept in two runs of
// verbsKept: when the newer is full it becomes the older, and what was the older is forgotten.
type Verbs struct {
	newer, older *verbDone
}

// verbDone is one verb and those before it in its run.
type verbDone struct {
	VerbDone
	before *verbDone
	count  int // in the run, this one included
}

func (v Verbs) with(d VerbDone) Verbs {
	if v.newer != nil && v.newer.count == verbsKept {
		v.newer, v.older = nil, v.newer
	}
	count := 1
	if v.newer != nil {
		count = v.newer.count + 1
	}
	v.newer = &verbDone{d, v.newer, count}
	return v
}

// All gives them, oldest first.
func (v Verbs) All() []VerbDone {
	var out []VerbDone
	for _, run := range []*verbDone{v.older, v.newer} {
		if run == nil {
			continue
		}
		at := len(out)
		out = append(out, make([]VerbDone, run.count)...)
		for d := run; d != nil; d = d.before {
			out[at+d.count-1] = d.VerbDone
		}
	}
	return out
}

// VerbsOf makes them again from what All gave.
func VerbsOf(all []VerbDone) Verbs {
	var v Verbs
	for _, d := range all {
		v = v.with(d)
	}
	return v
}

// Equal reports whether both remember the same.
func (v Verbs) Equal(other Verbs) bool { return slices.Equal(v.All(), other.All()) }

// Did reports the entry a verb led to.
func (s State) Did(verb string) (uint64, bool) {
	for _, run := range []*verbDone{s.Verbs.newer, s.Verbs.older} {
		for d := run; d != nil; d = d.before {
			if d.ID == verb {
				return d.N, true
			}
		}
	}
	return 0, false
}
