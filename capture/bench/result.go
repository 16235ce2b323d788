package bench

import (
	"cmp"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

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
	// Rules is the version of what lies between entries and request: fold, binding, uncertainty, decoding. 0: before it
	// was kept.
	Rules int `json:"rules,omitempty"`
	// Asked is the SHA-256 of the request's JSON: in memory it stands for the request, which may be large.
	Asked [32]byte `json:"-"`
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
	Now    *float64 `json:"now,omitempty"` // where it was last read; on a first move, its contact
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

// Results are the newest result of every slot, of the builds in work. Immutable: With returns a new one, and copies what
// it changes alone: the runs of one step. The zero Results are none.
type Results struct {
	builds map[string]stepResults // by job
}

// stepResults are one build's results, by step.
type stepResults map[string]map[run]*Result

// run is a slot within its step.
type run struct {
	pass int
	key  string
}

// With gives the results with these put in.
func (r Results) With(news ...Result) Results {
	if len(news) == 0 {
		return r
	}
	builds, copied := maps.Clone(r.builds), map[string]bool{}
	if builds == nil {
		builds = map[string]stepResults{}
	}
	for i := range news {
		n := &news[i]
		if !copied[n.Build] {
			copied[n.Build] = true
			builds[n.Build] = maps.Clone(builds[n.Build])
		}
		if builds[n.Build] == nil {
			builds[n.Build] = stepResults{}
		}
		// The runs of a step are few: they are copied for each result.
		runs := maps.Clone(builds[n.Build][n.Step])
		if runs == nil {
			runs = map[run]*Result{}
		}
		c := *n
		runs[run{n.Pass, n.Key}] = &c
		builds[n.Build][n.Step] = runs
	}
	return Results{builds}
}

// Without gives the results without those of a build.
func (r Results) Without(job string) Results {
	if _, ok := r.builds[job]; !ok {
		return r
	}
	builds := maps.Clone(r.builds)
	delete(builds, job)
	return Results{builds}
}

// Beside gives the results with another's builds put beside them.
func (r Results) Beside(other Results) Results {
	builds := maps.Clone(r.builds)
	if builds == nil {
		return other
	}
	maps.Copy(builds, other.builds)
	return Results{builds}
}

// Get gives the newest result of a slot.
func (r Results) Get(s Slot) (Result, bool) {
	res, ok := r.builds[s.Build][s.Step][run{s.Pass, s.Key}]
	if !ok {
		return Result{}, false
	}
	return *res, true
}

// All gives every result, in the order of the entries that caused them.
func (r Results) All() []Result {
	var out []Result
	for _, steps := range r.builds {
		for _, runs := range steps {
			for _, res := range runs {
				out = append(out, *res)
			}
		}
	}
	slices.SortFunc(out, func(a, b Result) int {
		return cmp.Or(cmp.Compare(a.N, b.N), strings.Compare(a.Build, b.Build), strings.Compare(a.Step, b.Step), cmp.Compare(a.Pass, b.Pass), strings.Compare(a.Key, b.Key))
	})
	return out
}

// Equal reports whether both hold the same.
func (r Results) Equal(other Results) bool { return reflect.DeepEqual(r.All(), other.All()) }

// Light gives results without what was asked of the methods: its hash stands for it.
func Light(results []Result) []Result {
	out := slices.Clone(results)
	for i := range out {
		out[i].Request = calc.Request{}
	}
	return out
}

// OfPass gives a pass's results in the order of the step's keys.
func (r Results) OfPass(b *Build, step plan.Step, pass int) []Result {
	var out []Result
	for _, run := range b.Plan.RunsAt(step, pass) {
		if res, ok := r.Get(Slot{b.Job, step.ID, pass, run.Key}); ok {
			out = append(out, res)
		}
	}
	return out
}

// Before gives what is told before a step's first reading.
func (r Results) Before(b *Build, step plan.Step) []Result {
	var out []Result
	for _, run := range b.Plan.RunsBefore(step) {
		if res, ok := r.Get(Slot{b.Job, step.ID, 0, run.Key}); ok {
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
	return v, len(results) == len(b.Plan.RunsAt(step, pass))
}

// Outcome is the message on the bus after an entry was committed: its number and the results that came of it.
type Outcome struct {
	N       uint64   `json:"n"`
	ID      string   `json:"id"`
	Results []Result `json:"results,omitempty"`
	Trouble string   `json:"trouble,omitempty"`
}

// ReadSince reports whether an order of a result without a verdict was replaced by a reading: others of the same computation were
// judged in the same pass, and all of them are in. The lash that was found asks for a move; the lash that is locked says it was done.
func ReadSince(all []Result, r calc.Result) bool {
	judged := false
	for _, o := range all {
		if o.Method != r.Method || o.Verdict == calc.NoVerdict {
			continue
		}
		if judged = true; o.Verdict != calc.VerdictIn {
			return false
		}
	}
	return judged
}
