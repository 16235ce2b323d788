package capture

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"thoud/capture/bench"
)

// hold lets the gauge send one value for a while, 20 times a second.
func (r *rig) hold(value string, d time.Duration) {
	r.tb.Helper()
	for end := time.Now().Add(d); time.Now().Before(end); {
		r.shows(value)
		r.wait(50 * time.Millisecond)
	}
}

// Settle mode takes a value by itself once the gauge has left the last place and stood still for the dwell; a rest on
// the datum is kept as a check of the zero and is no point, a slow drift and a short stop are nothing.
func TestSettleTakesWhatStandsStill(t *testing.T) {
	inRig(t, rigPlan("settle", datum, ""), bench.SendsStream, func(r *rig) {
		r.hold("+0.5000 in", time.Second)
		r.ok(bench.Verb{Name: bench.DoZero})
		n := r.loop.State().N
		for _, c := range []struct {
			what  string
			value string
			for_  time.Duration
			want  []bench.Kind
		}{
			{"it stays on the datum", "+0.5000 in", 2 * time.Second, nil},
			{"it moves, but stops too shortly", "+0.6000 in", 500 * time.Millisecond, nil},
			{"it stands still", "+0.6100 in", 900 * time.Millisecond, []bench.Kind{bench.PassOpened, bench.ReadingTaken}},
			{"it stays where it was read", "+0.6101 in", 3 * time.Second, nil},
			{"it goes back to the datum", "+0.5001 in", 900 * time.Millisecond, []bench.Kind{bench.DatumSeen}},
			{"it stands at the next point", "+0.6200 in", 900 * time.Millisecond, []bench.Kind{bench.ReadingTaken}},
		} {
			r.hold(c.value, c.for_)
			if diff := cmp.Diff(c.want, r.kinds(n+1)); diff != "" {
				t.Errorf("%s: %s", c.what, diff)
			}
			n = r.loop.State().N
		}
		for i := range 40 { // creeping, never still within three counts for the dwell
			r.hold(fmt.Sprintf("+0.%04d in", 7000+2*i*(1+i%3)), 100*time.Millisecond)
		}
		if got := r.kinds(n + 1); got != nil {
			t.Errorf("while it crept: %v", got)
		}
		g, _ := r.loop.State().Gauge("dial-1")
		if len(g.Rests) != 1 || g.Rests[0].String() != "0.0001 in" {
			t.Errorf("rests on the datum: %v, want one of 0.0001 in", g.Rests)
		}
	})
}

// What is read in the wrong unit is asked about with the value it would be; 1 in is 25.4 mm exactly (ISO 31, and the
// international yard and pound agreement of 1959).
func TestAValue25TimesOffIsAskedAbout(t *testing.T) {
	plausible := "    least = \"0.5 mm\"\n    most = \"1.5 mm\"\n"
	for _, c := range []struct{ sent, guard, would string }{
		{"+0.8600 mm", "", ""},
		{"+0.8600 in", "unit", "0.8600 mm"}, // 0.86 in is 21.8 mm: not plausible, 0.86 mm is
		{"+0.0339 mm", "unit", "0.0339 in"}, // 0.0339 in is 0.861 mm
		{"+7.0000 mm", "range", ""},
	} {
		inRig(t, rigPlan("press", "", plausible), bench.SendsStream, func(r *rig) {
			r.take(c.sent)
			_, step := r.loop.State().Current()
			b, _ := r.loop.State().Build("17")
			qs := b.Step(step.ID).Questions
			if c.guard == "" {
				if len(qs) != 0 {
					t.Errorf("%s: asked %s", c.sent, qs[0].Words)
				}
				return
			}
			if len(qs) != 1 || qs[0].Guard != c.guard {
				t.Fatalf("%s: asked %+v, want a question of guard %q", c.sent, qs, c.guard)
			}
			if c.would == "" {
				return
			}
			if !strings.Contains(qs[0].Words, c.would) || qs[0].Take.String() != c.would {
				t.Errorf("%s: %s, would be taken as %s, want %s", c.sent, qs[0].Words, qs[0].Take, c.would)
			}
			r.ok(bench.Verb{Name: bench.DoAnswer, Choice: bench.TakeSo})
			got, ok := r.pass().Standing("left.a", 1)
			if !ok || got.Value.String() != c.would || got.Raw.String() != strings.TrimPrefix(c.sent, "+") {
				t.Errorf("answered: it stands at %s (raw %s), want %s", got.Value, got.Raw, c.would)
			}
			if len(r.pass().Readings) != 2 || !r.pass().Readings[0].Withdrawn {
				t.Errorf("the first reading is not kept as withdrawn: %+v", r.pass().Readings)
			}
		})
	}
}

// Left and right read the wrong way round is a hypothesis on the whole pass: it is asked only where every pair fits the
// pass before better exchanged, and never for scatter.
func TestSidesReadTheWrongWayRound(t *testing.T) {
	first := []string{"+0.1000 in", "+0.1500 in", "+0.2000 in", "+0.2600 in"} // left.a, right.a, left.b, right.b
	for _, c := range []struct {
		name   string
		second []string
		asked  bool
	}{
		{"as before", []string{"+0.1002 in", "+0.1497 in", "+0.2001 in", "+0.2603 in"}, false},
		{"exchanged", []string{"+0.1502 in", "+0.1003 in", "+0.2601 in", "+0.1998 in"}, true},
		{"one pair exchanged", []string{"+0.1502 in", "+0.1003 in", "+0.2001 in", "+0.2598 in"}, false},
		{"halfway, a little nearer exchanged", []string{"+0.1260 in", "+0.1240 in", "+0.2310 in", "+0.2290 in"}, false},
		{"moved as told", []string{"+0.1300 in", "+0.1300 in", "+0.2300 in", "+0.2300 in"}, false},
	} {
		inRig(t, rigPlan("press", "", ""), bench.SendsStream, func(r *rig) {
			for _, v := range first {
				r.take(v)
			}
			r.ok(bench.Verb{Name: bench.DoAgain})
			for _, v := range c.second {
				r.take(v)
			}
			p := r.pass()
			b, _ := r.loop.State().Build("17")
			qs := b.Step("height").Questions
			if got := len(qs) == 1 && qs[0].Guard == "swap"; got != c.asked {
				t.Fatalf("%s: asked %+v", c.name, qs)
			}
			if !c.asked {
				if p.Status != bench.PassIsClosed {
					t.Errorf("%s: the pass is %s", c.name, p.Status)
				}
				return
			}
			if p.Status != bench.PassIsFull {
				t.Errorf("%s: the pass is %s before the answer", c.name, p.Status)
			}
			r.ok(bench.Verb{Name: bench.DoAnswer, Choice: bench.ReadAgain})
			if got := r.loop.State().Place; got.Point != "left.a" || r.pass().Status != bench.PassIsOpen {
				t.Errorf("%s: after the answer the bench stands at %s, pass %s", c.name, got, r.pass().Status)
			}
			for _, x := range r.pass().Readings {
				if !x.Withdrawn {
					t.Errorf("%s: %s still stands", c.name, x.Point)
				}
			}
		})
	}
}

// A sweep gives the greatest, the least or the swing of what was sent between two presses, with its samples.
func TestSweeps(t *testing.T) {
	values := []float64{0.5000, 0.5013, 0.5031, 0.5022, 0.4996, 0.4984, 0.5001}
	for _, c := range []struct{ mode, want string }{
		// From the list above, by eye: greatest 0.5031, least 0.4984, their difference 0.0047.
		{"highest", "0.5031 in"}, {"lowest", "0.4984 in"}, {"swing", "0.0047 in"},
	} {
		inRig(t, rigPlan(c.mode, "", ""), bench.SendsStream, func(r *rig) {
			r.shows("+0.5000 in")
			r.ok(bench.Verb{Name: bench.DoTake})
			for _, v := range values {
				r.wait(20 * time.Millisecond)
				r.shows(fmt.Sprintf("+%.4f in", v))
			}
			r.ok(bench.Verb{Name: bench.DoTake})
			p := r.pass()
			if len(p.Readings) != 1 || p.Readings[0].Value.String() != c.want || len(p.Readings[0].Samples.Value) != len(values) {
				t.Errorf("%s: %+v, want %s of %d samples", c.mode, p.Readings, c.want, len(values))
			}
		})
	}
}

// A sweep whose gauge goes away, or that is too short, takes nothing and says so; it ends by itself at its limit.
func TestSweepsThatFail(t *testing.T) {
	inRig(t, rigPlan("swing", "", ""), bench.SendsStream, func(r *rig) {
		r.shows("+0.5000 in")
		r.ok(bench.Verb{Name: bench.DoTake})
		r.shows("+0.5001 in")
		if got := r.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(got, "at least 3 are wanted") {
			t.Errorf("too short: %s", got)
		}
		r.ok(bench.Verb{Name: bench.DoTake})
		r.shows("+0.5001 in")
		r.unplug("dial-1")
		if got := r.tell.last("fault"); !strings.Contains(got, "went away during the sweep: nothing is taken, begin it again") {
			t.Errorf("unplugged: %s", got)
		}
		r.plug("dial-1")
		r.wait(10 * time.Second)
		r.shows("+0.5000 in")
		r.ok(bench.Verb{Name: bench.DoTake})
		chance := rand.New(rand.NewPCG(1, 2))
		for range bench.SweepSamples {
			r.ports["dial-1"].in <- fmt.Appendf(nil, "+0.%04d in\r\n", 5000+chance.IntN(30))
		}
		r.settle()
		p := r.pass()
		if p == nil || len(p.Readings) != 1 || len(p.Readings[0].Samples.Value) != bench.SweepSamples || !strings.Contains(p.Readings[0].Samples.Ended, "ended by itself at 5000 samples") {
			t.Errorf("at its limit: %+v", p)
		}
	})
}
