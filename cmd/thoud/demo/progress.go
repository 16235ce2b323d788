package demo

import (
	"fmt"
	"time"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// progress says, at each step that is begun, how far the demo is and how long it still takes: whoever watches it wants to
// know whether to fetch a coffee.
type progress struct {
	began time.Time
	told  string          // the step it told of last
	seen  map[string]bool // steps that were begun
	done  float64         // work in the steps before the newest one
	all   float64
	of    map[string]float64
}

// newProgress weighs the steps of a plan: a reading takes longer than a look.
func newProgress(p *plan.Plan, now time.Time) *progress {
	out := &progress{began: now, seen: map[string]bool{}, of: map[string]float64{}}
	for _, s := range p.Steps {
		w := 1 + float64(len(s.Points)*max(1, s.Seatings))
		out.of[s.ID] = w
		out.all += w
	}
	return out
}

// at is what to say now; "" where no other step was begun. A step that is gone back to is named without a guess.
func (p *progress) at(st bench.Status, now time.Time) string {
	if st.Step == "" || st.Step == p.told {
		return ""
	}
	p.told = st.Step
	line := fmt.Sprintf("step %d of %d: %s", st.StepNo, st.Steps, st.Title)
	if p.seen[st.Step] {
		return line
	}
	p.seen[st.Step] = true
	before := p.done
	p.done += p.of[st.Step]
	if elapsed := now.Sub(p.began); before > 0 && elapsed > 0 {
		left := time.Duration(float64(elapsed) / before * (p.all - before))
		line += ", " + roughly(left) + " left"
	}
	return line
}

// roughly is a time as one says it.
func roughly(d time.Duration) string {
	switch {
	case d < 10*time.Second:
		return "a few seconds"
	case d < 100*time.Second:
		return fmt.Sprintf("about %d s", int(d.Seconds()+5)/10*10)
	}
	return fmt.Sprintf("about %d min", int(d.Minutes()+0.5))
}
