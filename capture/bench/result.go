package bench

import (
	"fmt"
	"maps"

	"thoud/calc"
	"thoud/capture/plan"
)

// Result is one computation as it is stored: what was asked, of which readings, and what came of it.
type Result struct {
	Build string `json:"build"`
	Step  string `json:"step"`
	Pass  int    `json:"pass"`
	Key   string `json:"key,omitempty"` // the run within the pass, see plan.Keys
	N     uint64 `json:"n"`             // entry that caused it
	At    int64  `json:"at"`            // that entry's time
	// Provisional until the pass is closed: shown, but used by no later step.
	Provisional bool         `json:"provisional,omitempty"`
	Readings    []string     `json:"readings,omitempty"` // ids of the readings used
	Request     calc.Request `json:"request"`
	calc.Result
	Band *Band `json:"band,omitempty"`
	// Because says which figure of an earlier step changed, where that is why this was computed again; Was is the
	// result before.
	Because string       `json:"because,omitempty"`
	Was     *calc.Result `json:"was,omitempty"`
}

// Band is where the part must come to rest, in what the gauge shows at Point (base unit of the gauge's kind).
type Band struct {
	Point  string   `json:"point"`
	Figure string   `json:"figure"`
	Lower  *float64 `json:"lower,omitempty"`
	Upper  *float64 `json:"upper,omitempty"`
	Target float64  `json:"target"`
	Now    *float64 `json:"now,omitempty"` // where it stood when last read
}

// Slot names a computation: a later result of the same slot takes the place of an earlier one.
type Slot struct {
	Build, Step string
	Pass        int
	Key         string
}

// Slot gives the result's slot.
func (r Result) Slot() Slot { return Slot{r.Build, r.Step, r.Pass, r.Key} }

// String is the slot in words.
func (s Slot) String() string {
	t := fmt.Sprintf("job %s, %s, pass %d", s.Build, s.Step, s.Pass)
	if s.Key != "" {
		t += ", " + s.Key
	}
	return t
}

// Results are the newest result of every slot. Immutable: With returns a new one.
type Results map[Slot]Result

// With gives the results with these put in.
func (r Results) With(news ...Result) Results {
	next := maps.Clone(r)
	if next == nil {
		next = Results{}
	}
	for _, n := range news {
		next[n.Slot()] = n
	}
	return next
}

// OfPass gives a pass's results in the order of the step's keys.
func (r Results) OfPass(b *Build, step plan.Step, pass int) []Result {
	var out []Result
	for _, key := range b.Plan.Keys(step) {
		if res, ok := r[Slot{b.Job, step.ID, pass, key}]; ok {
			out = append(out, res)
		}
	}
	return out
}

// Verdict is the worst verdict of a pass, and whether every run of it has its result.
func (r Results) Verdict(b *Build, step plan.Step, pass int) (calc.Verdict, bool) {
	v := calc.NoVerdict
	results := r.OfPass(b, step, pass)
	for _, res := range results {
		if res.Refused != "" {
			return calc.VerdictOut, true
		}
		v = v.Worse(res.Verdict)
	}
	return v, len(results) == len(b.Plan.Keys(step))
}

// Outcome is the message on the bus after an entry was committed: its number and the results that came of it.
type Outcome struct {
	N       uint64   `json:"n"`
	ID      string   `json:"id"`
	Results []Result `json:"results,omitempty"`
	Trouble string   `json:"trouble,omitempty"`
}
