package bench

import (
	"crypto/sha256"
	"fmt"
	"sync"

	"thoud/capture/plan"
)

// plansKept is how many parsed plans are remembered: the builds in work, and some more.
const plansKept = 2 * InWork

// Plans parses the texts of plans, each once for every way of answering its questions that makes another plan of it: builds
// of one shop share a few plans, most questions are answered as they stand without an answer, and parsing one takes longer
// than folding a hundred entries. The zero Plans is ready; a nil one parses anew each time. Safe for concurrent use.
type Plans struct {
	mu    sync.Mutex
	known map[planKey]*plan.Plan
	order []planKey // oldest first
}

type planKey struct {
	planText
	answers string // those that decide; anyAnswers for a plan of that text, however it is answered
}

type planText struct {
	name string
	text [sha256.Size]byte
}

// anyAnswers stands for the answers where any plan of a text will do. No answers are printed so.
const anyAnswers = "any"

// parse parses the plan that a build keeps, with its questions answered so far, or gives the one that the same text gave
// before. A plan is never changed once it is parsed.
func (p *Plans) parse(name, text string, answers map[string]string, last *lastText) (*plan.Plan, error) {
	if p == nil {
		return last.read(name, text).Answered(answers)
	}
	of := planText{name, sha256.Sum256([]byte(text))}
	if known := p.find(of, answers); known != nil {
		return known, nil
	}
	parsed, err := last.read(name, text).Answered(answers)
	if err != nil {
		return nil, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.known == nil {
		p.known = map[planKey]*plan.Plan{}
	}
	p.keep(planKey{of, anyAnswers}, parsed)
	p.keep(planKey{of, deciding(parsed, answers)}, parsed)
	for len(p.order) > plansKept {
		delete(p.known, p.order[0])
		p.order = p.order[1:]
	}
	return parsed, nil
}

// find gives the plan that a text gave before with answers that come to the same; nil where there is none.
func (p *Plans) find(of planText, answers map[string]string) *plan.Plan {
	p.mu.Lock()
	defer p.mu.Unlock()
	one := p.known[planKey{of, anyAnswers}]
	if one == nil {
		return nil
	}
	return p.known[planKey{of, deciding(one, answers)}]
}

func (p *Plans) keep(key planKey, parsed *plan.Plan) {
	if _, ok := p.known[key]; !ok {
		p.order = append(p.order, key)
	}
	p.known[key] = parsed
}

// deciding prints the answers by which a text gives another plan than without any, in the order of their names.
func deciding(of *plan.Plan, answers map[string]string) string {
	return fmt.Sprint(of.Deciding(answers))
}

// lastText is the text of a plan that was read last; a nil one remembers nothing.
type lastText struct {
	name, text string
	kept       *plan.Kept
}

func (l *lastText) read(name, text string) *plan.Kept {
	if l == nil {
		return plan.ReadKept(name, []byte(text))
	}
	if l.kept == nil || l.name != name || l.text != text {
		*l = lastText{name, text, plan.ReadKept(name, []byte(text))}
	}
	return l.kept
}

// Fold applies entries with what is worth remembering between them. The zero Fold remembers nothing.
type Fold struct {
	Plans *Plans
	last  *lastText
}

// Reading gives a fold that also remembers the text read last, for a walk over many entries in one goroutine: a build's
// text is read anew with each of its questions that is answered. What is read of a text is several times as long, so it is
// not kept beyond the walk.
func (f Fold) Reading() Fold {
	if f.last == nil {
		f.last = &lastText{}
	}
	return f
}

func (f Fold) parse(name, text string, answers map[string]string) (*plan.Plan, error) {
	return f.Plans.parse(name, text, answers, f.last)
}

// Apply folds one entry into a state with nothing remembered: see Fold.Apply.
func Apply(s State, e Entry) (State, error) { return Fold{}.Apply(s, e) }
