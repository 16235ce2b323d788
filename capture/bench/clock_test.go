package bench_test

import (
	"strings"
	"testing"

	"thoud/capture/bench"
)

// curingPlay is a build whose compound began to cure at 18:00, on a machine that says how long it has been on.
func curingPlay(t *testing.T) *play {
	t.Helper()
	p := newPlay(t, curing)
	p.sc.Up = 60 * 60 * micros
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "all"})
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "home"})
	p.ok(bench.Verb{Name: bench.DoNext})
	return p
}

func (p *play) toGo() string {
	p.tb.Helper()
	b, _ := p.sc.State.Current()
	step, _ := b.Plan.Step("followers")
	return bench.CureHindrance(b, step, p.sc.Moment())
}

// later lets time pass, and the clock show something else than that.
func (p *play) later(minutes, clock int64) {
	p.sc.Up += minutes * 60 * micros
	p.sc.Now += clock * 60 * micros
}

// What cures takes its time whatever becomes of the machine's clock.
func TestAClockThatIsSetEndsNoCureEarly(t *testing.T) {
	t.Run("behind, and set right", func(t *testing.T) {
		p := curingPlay(t)
		p.later(5, 5+14*60) // it came up with last night's time, and the network set it
		if why := p.toGo(); !strings.Contains(why, "15 min to go") {
			t.Errorf("after 5 minutes: %q", why)
		}
		p.make(bench.Entry{Kind: bench.StepEntered, Place: p.sc.State.Place})
		p.later(16, 16)
		if why := p.toGo(); why != "" {
			t.Errorf("after 21 minutes: %q", why)
		}
	})
	t.Run("ahead, and set back", func(t *testing.T) {
		p := curingPlay(t)
		p.later(5, 5-60)
		if why := p.toGo(); !strings.Contains(why, "15 min to go") {
			t.Errorf("after 5 minutes: %q", why)
		}
		p.later(16, 16)
		if why := p.toGo(); why != "" {
			t.Errorf("after 21 minutes: %q", why)
		}
	})
	t.Run("off overnight", func(t *testing.T) {
		p := curingPlay(t)
		p.sc.Boot, p.sc.Up = "next", 1*micros
		p.sc.Now += 12 * 60 * 60 * micros
		if why := p.toGo(); why != "" {
			t.Errorf("next morning: %q", why)
		}
	})
	t.Run("off overnight, the clock stood still", func(t *testing.T) {
		p := curingPlay(t)
		p.sc.Boot, p.sc.Up = "next", 1*micros
		p.sc.Now -= 3 * 60 * 60 * micros
		if why := p.toGo(); !strings.Contains(why, "20 min to go") {
			t.Errorf("with a clock that says it is earlier: %q", why)
		}
		p.make(bench.Entry{Kind: bench.StepEntered, Place: p.sc.State.Place})
		p.later(5, 5+15*60) // set right now: what the night was can't be known
		if why := p.toGo(); !strings.Contains(why, "15 min to go") {
			t.Errorf("set right after that: %q", why)
		}
	})
	t.Run("set back and forth, by entries that do not say how long the machine was on", func(t *testing.T) {
		p := newPlay(t, curing)
		p.ok(bench.Verb{Name: bench.DoConfirm, Item: "all"})
		p.ok(bench.Verb{Name: bench.DoConfirm, Item: "home"})
		p.sc.Now -= 60 * 60 * micros
		p.ok(bench.Verb{Name: bench.DoNext})
		p.sc.Now += 65 * 60 * micros
		if why := p.toGo(); !strings.Contains(why, "15 min to go") {
			t.Errorf("after 5 minutes: %q", why)
		}
	})
}
