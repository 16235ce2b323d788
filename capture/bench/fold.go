package bench

import (
	"crypto/sha256"
	"fmt"
	"sync"

	"thoud/capture/plan"
)

// plansKept is how many parsed plans are remembered: the builds in work, and some more.
const plansKept = 2 * InWork

// Plans parses the texts of plans, each once: builds of one shop share a few plans, and parsing one takes longer than
// folding a hundred entries. The zero Plans is ready; a nil one parses anew each time. Safe for concurrent use.
type Plans struct {
	mu    sync.Mutex
	known map[planKey]*plan.Plan
	order []planKey // oldest first
}

type planKey struct {
	name    string
	text    [sha256.Size]byte
	answers string
}

// Parse parses the plan that a build keeps, with its questions answered so far, or gives the one that the same text gave
// before. A plan is never changed once it is parsed.
func (p *Plans) Parse(name string, text []byte, answers map[string]string) (*plan.Plan, error) {
	if p == nil {
		return plan.ParseAnswered(name, text, answers)
	}
	key := planKey{name, sha256.Sum256(text), fmt.Sprint(answers)} // printed in the order of its keys
	p.mu.Lock()
	known, ok := p.known[key]
	p.mu.Unlock()
	if ok {
		return known, nil
	}
	parsed, err := plan.ParseAnswered(name, text, answers)
	if err != nil {
		return nil, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.known == nil {
		p.known = map[planKey]*plan.Plan{}
	}
	if _, ok := p.known[key]; !ok {
		p.order = append(p.order, key)
	}
	p.known[key] = parsed
	if len(p.order) > plansKept {
		delete(p.known, p.order[0])
		p.order = p.order[1:]
	}
	return parsed, nil
}

// Fold applies entries with what is worth remembering between them. The zero Fold remembers nothing.
type Fold struct {
	Plans *Plans
}

// Apply folds one entry into a state with nothing remembered: see Fold.Apply.
func Apply(s State, e Entry) (State, error) { return Fold{}.Apply(s, e) }
