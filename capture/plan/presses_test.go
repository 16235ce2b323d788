package plan_test

import (
	"testing"

	"thoud/capture/plan"
)

// presses is what a faultless build costs: every reading is in at its first pass, or at the last one that the step asks
// for, and nothing is done twice.
type presses struct{ readings, zeros, others int }

func (p presses) sum() int { return p.readings + p.zeros + p.others }

// pressesOf counts a step. One press is one reading, one zero, one reading of the datum at the end, one list, one answer
// asked singly, one count in or out, one caution that was not seen before on that day, one signature. A step that ends by
// its datum, its list or its signature goes on by itself; any other wants one press more.
func pressesOf(s plan.Step, seen map[string]bool) presses {
	var n presses
	zeroed := map[string]bool{}
	for pass := 1; pass <= s.Passes(); pass++ {
		for _, pt := range s.Wanted(pass) {
			if pt.Once && pass > 1 {
				continue
			}
			n.readings += max(s.Seatings, 1)
			d := s.At(pt.ID).Datum
			key := "gauge " + pt.Gauge
			if d != nil && d.AtPoint {
				key = "point " + pt.ID
			}
			if d != nil && !zeroed[key] {
				zeroed[key] = true
				n.zeros++
			}
		}
		if s.Datum != nil && s.Datum.Close {
			n.zeros++
		}
	}
	list := 0
	for _, c := range s.Confirms {
		if c.Alone {
			n.others++
		} else {
			list = 1
		}
	}
	n.others += len(s.Asks) + list + len(s.Items) + len(s.Out)
	for _, c := range s.Cautions {
		if !seen[c] {
			seen[c] = true
			n.others++
		}
	}
	if s.Hold {
		n.others++
	}
	if list == 0 && !s.Hold && (s.Datum == nil || !s.Datum.Close) {
		n.others++
	}
	return n
}

// What a faultless build of the twin costs in presses, with an encoder and by eye, no group chosen. The plan before it had
// 96 steps and about 711 presses.
func TestPressesOfAFaultlessBuild(t *testing.T) {
	twin := load(t, "pushrod-twin")
	for _, c := range []struct {
		wheel string
		most  int
	}{{"encoder", 320}, {"eye", 345}} {
		text, err := plan.Shape("pushrod-twin", twin.Text, map[string]string{"wheel": c.wheel})
		if err != nil {
			t.Fatal(err)
		}
		p := parse(t, string(text))
		seen := map[string]bool{}
		all := presses{others: 6} // values of an engine that is known, changed since
		for _, s := range p.Steps {
			n := pressesOf(s, seen)
			all.readings, all.zeros, all.others = all.readings+n.readings, all.zeros+n.zeros, all.others+n.others
		}
		t.Logf("%s: %d steps, %d presses: %d readings, %d zeros and readings of the datum, %d others", c.wheel, len(p.Steps), all.sum(), all.readings, all.zeros, all.others)
		if all.sum() > c.most {
			t.Errorf("%s: a faultless build costs %d presses, want at most %d", c.wheel, all.sum(), c.most)
		}
	}
}
