package bench_test

import (
	"fmt"
	"strings"
	"testing"

	"thoud/capture/bench"
	"thoud/capture/plan"
)

// Every capture mode comes to a reading by what its row says that the primary action does: taken, turned or typed.
func TestEveryCaptureModeComesToAReading(t *testing.T) {
	for _, m := range constantsOf(t, "../plan/plan.go", "Mode", "") {
		if _, ok := plan.Mode(m).Row(); !ok {
			t.Errorf("capture mode %q has no row: add one to Modes in capture/plan/modes.go", m)
		}
	}
	for _, m := range plan.Modes {
		t.Run(string(m.Name), func(t *testing.T) {
			capture := fmt.Sprintf("{ mode = %q, role = \"indicator\" }", m.Name)
			if m.Paired {
				capture = fmt.Sprintf("{ mode = %q, role = \"indicator\", angle = \"angle\" }", m.Name)
			}
			asks, more := "", ""
			if m.Wheel {
				capture = fmt.Sprintf("{ mode = %q, role = \"indicator\", parallax = \"0.2 deg\" }", m.Name)
				asks, more = eyeAsks, `angle = "10 deg"`
			}
			if m.Name == plan.Crossings {
				more = "height = \"1 mm\"\nflank = \"rising\""
			}
			p := newPlay(t, head+asks+stepText("height", capture, "", pointText("left", more)), dial("dial-1", "indicator"), dial("wheel-1", "angle"))
			if m.Wheel {
				p.ok(bench.Verb{Name: bench.DoAnswer, Choice: "clockwise"})
				p.ok(bench.Verb{Name: bench.DoAnswer, Choice: "left"})
				p.ok(bench.Verb{Name: bench.DoNext})
			}
			now, v := bench.NowOf(p.sc)
			if now != bench.NowReading && now != bench.NowLine {
				t.Fatalf("the bench waits for %s, not for a reading", now)
			}
			p.shows("dial-1", "0.1000 in")
			p.shows("wheel-1", "0.0 deg")
			switch m.Primary {
			case plan.TakesNow:
				p.ok(*v)
			case plan.Turns:
				p.ok(*v)
				for i := range 5 {
					p.sc.Now += 100_000
					for gauge, text := range map[string]string{"dial-1": fmt.Sprintf("0.10%d0 in", i), "wheel-1": fmt.Sprintf("%d.0 deg", 10*i)} {
						if p.shows(gauge, text); p.sc.Sweep.Takes(gauge) {
							p.sc.Sweep.Add(gauge, p.sc.Newest[gauge])
						}
					}
				}
				if _, err := p.do(*v); err != nil {
					t.Fatalf("mode %q: %v: see Sweep.reading in capture/bench/sweep.go", m.Name, err)
				}
			default:
				var typed []bench.Offer
				for _, o := range bench.Offers(p.sc) {
					if o.Primary {
						typed = append(typed, o)
					}
				}
				if len(typed) != 1 || len(typed[0].Gives) == 0 {
					t.Fatalf("mode %q: its row says that it is typed, and nothing typed is offered first: see nowReading in capture/bench/offers.go and decideKeyed in decide_keyed.go", m.Name)
				}
				one, two := value(t, "0.1000 in"), value(t, "0.1010 in")
				v := typed[0].Verb
				v.Value, v.Goes, v.Stops = &one, &one, &two
				if m.Name == plan.Crossings {
					angle := value(t, "330 deg")
					v.Value = &angle
				}
				p.ok(v)
			}
			if got := p.standing("left"); !strings.Contains(got, " in") && !strings.Contains(got, " mm") && !strings.Contains(got, " deg") {
				t.Errorf("mode %q left no reading (%q): see Sweep.reading in capture/bench/sweep.go", m.Name, got)
			}
		})
	}
}
