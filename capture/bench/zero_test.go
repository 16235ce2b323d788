package bench_test

import (
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
)

const closingDatum = `datum = { do = "Rest it on the face.", close = true, drift = "0.001 in" }`

func zeroed(t *testing.T) *play {
	t.Helper()
	text := head + stepText("height", `{ mode = "press", role = "indicator" }`, closingDatum, pointText("left", "")+pointText("right", ""))
	p := newPlay(t, text, dial("dial-1", "indicator"))
	p.shows("dial-1", "0.0000 in")
	p.ok(bench.Verb{Name: bench.DoZero})
	p.take("dial-1", "0.1000 in")
	return p
}

func (p *play) lastPass() *bench.Pass {
	b, step := p.sc.State.Current()
	passes := b.Step(step.ID).Passes
	return passes[len(passes)-1]
}

// Whoever sets the zero anew in the middle of a pass reads the datum by that, and is told what it shows.
func TestSettingTheZeroInAPassJudgesTheOldOne(t *testing.T) {
	for _, c := range []struct {
		datum string
		want  bench.PassStatus
	}{{"0.0004 in", bench.PassIsOpen}, {"0.0080 in", bench.PassIsVoid}} {
		p := zeroed(t)
		p.shows("dial-1", c.datum)
		d := p.ok(bench.Verb{Name: bench.DoZero})
		if got := p.lastPass().Status; got != c.want {
			t.Errorf("the datum reads %s when the zero is set anew: the pass is %s, want %s (%s)", c.datum, got, c.want, d.Words)
		}
		if c.want == bench.PassIsVoid {
			if p.lastPass().Drift == nil || !strings.Contains(d.Words, "0.0080 in") {
				t.Errorf("the slip is not told: %q, drift %+v", d.Words, p.lastPass().Drift)
			}
			continue
		}
		g, _ := p.sc.State.Gauge("dial-1")
		if g.Zero == nil || g.Zero.Raw.String() != c.datum {
			t.Errorf("the new zero is %+v", g.Zero)
		}
	}
}

// At the end of a pass that is closed on its datum, the zero cannot be set past the check: the rest counts as the
// closing reading.
func TestZeroingAtTheEndOfAPassClosesItAgainstTheOldZero(t *testing.T) {
	for _, c := range []struct {
		datum string
		want  bench.PassStatus
	}{{"0.0004 in", bench.PassIsClosed}, {"0.0080 in", bench.PassIsVoid}} {
		p := zeroed(t)
		p.take("dial-1", "0.1100 in") // right: the pass is full
		p.shows("dial-1", c.datum)
		p.ok(bench.Verb{Name: bench.DoZero})
		if last := p.lastPass(); last.Status != c.want || last.Drift == nil || last.Drift.By.String() != c.datum {
			t.Errorf("datum at %s: pass %s, drift %+v; want %s", c.datum, last.Status, last.Drift, c.want)
		}
	}
}

// Readings on a zero that was lost cannot be vouched for by a new one: their points are read again, the others stand.
func TestReadingsOnALostZeroAreReadAgain(t *testing.T) {
	p := zeroed(t)
	p.ok(bench.Linked{Gauge: "dial-1", Why: "unplugged"})
	p.ok(bench.Linked{Gauge: "dial-1", Up: true, Device: "another"})
	if sp := bench.SpotOf(p.sc); sp.Lacks != bench.LacksZero {
		t.Fatalf("lacks %q after the gauge was unplugged", sp.Lacks)
	}
	p.shows("dial-1", "0.0300 in")
	d := p.ok(bench.Verb{Name: bench.DoZero})
	if got := p.standing("left"); got != "" {
		t.Errorf("left still stands at %s on a zero that was lost", got)
	}
	if !strings.Contains(d.Words, "left") {
		t.Errorf("it is not said which points are to be read again: %q", d.Words)
	}
	if sp := bench.SpotOf(p.sc); sp.Place.Point != "left" {
		t.Errorf("next is %s, want left again", sp.Place)
	}
}

// Where the first point is the datum itself, as for an end float, a rest there is its reading, before any move.
func TestSettleTakesARestOnTheDatumWhereThatIsThePoint(t *testing.T) {
	text := head + stepText("float", `{ mode = "settle", role = "indicator" }`, `datum = { do = "Push it over." }`,
		pointText("push", "least = \"-0.002 in\"\nmost = \"0.002 in\"\n")+pointText("pull", "least = \"0.003 in\"\nmost = \"0.060 in\"\n"))
	p := newPlay(t, text, dial("dial-1", "indicator"))
	p.shows("dial-1", "0.0000 in")
	p.ok(bench.Verb{Name: bench.DoZero})
	st := &bench.Stillness{}
	g, _ := p.sc.State.Gauge("dial-1")
	st.Zeroed(g.Zero.Raw)
	var taken []string
	for _, show := range []string{"0.0000 in", "0.0150 in", "0.0285 in"} {
		for range 12 {
			p.sc.Now += 100_000
			p.shows("dial-1", show)
			v := p.sc.Newest["dial-1"]
			sp := bench.SpotOf(p.sc)
			g, _ := p.sc.State.Gauge("dial-1")
			if !sp.Settles(g) {
				continue
			}
			rested := st.Rested(sp, g, v)
			if show == "0.0150 in" {
				break // it passes by
			}
			d := p.ok(bench.Heard{Gauge: "dial-1", Sample: v, Rested: rested})
			for _, e := range d.Entries {
				if e.Kind == bench.ReadingTaken {
					taken = append(taken, e.Place.Point+" "+e.Reading.Value.String())
					st.Left(v.Value)
				}
			}
		}
	}
	if got, want := strings.Join(taken, ", "), "push 0.0000 in, pull 0.0285 in"; got != want {
		t.Errorf("taken %q, want %q", got, want)
	}
}

// The first choice of a question, which is the large button, is the harmless one.
func TestTheFirstChoiceIsHarmless(t *testing.T) {
	text := head + stepText("height", `{ mode = "press", role = "indicator" }`, "", pointText("left", "least = \"0.5 mm\"\nmost = \"1.5 mm\"\n"))
	for _, v := range []string{"7.0000 mm", "0.0339 mm"} {
		p := newPlay(t, text, dial("dial-1", "indicator"))
		p.take("dial-1", v)
		now, first := bench.NowOf(p.sc)
		if now != bench.NowAnswer || first == nil || first.Choice != bench.ReadAgain {
			t.Errorf("%s: now %s, first %+v; want to be asked, with %q first", v, now, first, bench.ReadAgain)
		}
	}
}

// Two gauges that read fellow points of a pass 25.4 times apart are asked about: one of them reads inches, the other
// millimetres (1 in = 25.4 mm exactly, international yard and pound agreement of 1959).
func TestTwoGauges25TimesApartAreAskedAbout(t *testing.T) {
	text := head + stepText("height", `{ mode = "press", role = "indicator" }`, "", pointText("left", "")+pointText("right", ""))
	for _, c := range []struct {
		right, gauge string
		asked        bool
	}{{"1.2800 mm", "dial-2", true}, {"0.0520 mm", "dial-2", false}, {"1.2800 mm", "dial-1", false}} {
		p := newPlay(t, text, dial("dial-1", "indicator"), dial("dial-2", "indicator"))
		p.shows("dial-1", "0.0500 mm")
		p.ok(bench.Verb{Name: bench.DoTake, Gauge: "dial-1"})
		p.shows(c.gauge, c.right)
		p.ok(bench.Verb{Name: bench.DoTake, Gauge: c.gauge})
		b, step := p.sc.State.Current()
		if got := len(b.Step(step.ID).Questions) == 1; got != c.asked {
			t.Errorf("0.0500 mm of dial-1, %s of %s: asked %t, want %t", c.right, c.gauge, got, c.asked)
		}
	}
}

// Sides that did not differ by more than they are uncertain cannot have been exchanged, as far as anybody can tell.
func TestSidesThatNeverDifferedAreNotAskedAbout(t *testing.T) {
	text := head + stepText("height", `{ mode = "press", role = "indicator" }`, "setup = \"0.0010 in\"", pointText("left", "")+pointText("right", ""))
	for _, c := range []struct {
		left, right string
		asked       bool
	}{{"0.1000 in", "0.1200 in", true}, {"0.1000 in", "0.1010 in", false}} {
		p := newPlay(t, text, dial("dial-1", "indicator"))
		p.take("dial-1", c.left)
		p.take("dial-1", c.right)
		p.ok(bench.Verb{Name: bench.DoAgain})
		p.take("dial-1", c.right)
		p.take("dial-1", c.left)
		b, step := p.sc.State.Current()
		if got := len(b.Step(step.ID).Questions) == 1; got != c.asked {
			t.Errorf("%s and %s read the other way round: asked %t, want %t", c.left, c.right, got, c.asked)
		}
	}
}

// An override names something that is there; else it is refused with what was probably meant. It says what it changes.
func TestAnOverrideIsOfSomethingThatIsThere(t *testing.T) {
	text := head + stepText("height", `{ mode = "press", role = "indicator" }`, "", pointText("left", "")) + `
[step.compute]
method = "statistics"
per = "pass"
[step.compute.inputs]
values = ["@readings:*"]
[step.compute.limits]
greatest = { upper = "0.001 in", source = "a test's" }
` + stepText("width", `{ mode = "press", role = "indicator" }`, "needs = [\"height\"]", pointText("left", ""))
	p := newPlay(t, text, dial("dial-1", "indicator"))
	upper, _ := quantity.Parse("0.002 in")
	for _, c := range []struct {
		what, name, refusal string
	}{
		{bench.OverLimit, "height.greatest", ""},
		{bench.OverLimit, "height.greatets", `"height.greatest"`},
		{bench.OverLimit, "hieght.greatest", `"height.greatest"`},
		{bench.OverVerdict, "height", ""},
		{bench.OverVerdict, "heihgt", `"height"`},
		{bench.OverNeeds, "width", ""},
		{bench.OverNeeds, "height", "needs nothing"},
		{bench.OverHold, "width", "a hold point"},
		{"guess", "width", "cannot be overridden"},
	} {
		d, err := bench.Decide(p.sc, bench.Verb{Name: bench.DoOverride, Reason: "a test's", Override: &bench.Override{What: c.what, Name: c.name, Upper: &upper}})
		switch {
		case c.refusal == "" && err != nil:
			t.Errorf("%s %s: %v", c.what, c.name, err)
		case c.refusal != "" && (err == nil || !strings.Contains(err.Error(), c.refusal)):
			t.Errorf("%s %s: %v, want a refusal with %s", c.what, c.name, err, c.refusal)
		case c.what == bench.OverLimit && c.refusal == "" && !strings.Contains(d.Words, "0.0010 in"):
			t.Errorf("%s %s: it is not said what it was: %q", c.what, c.name, d.Words)
		}
	}
}

// A build is closed with steps open only by somebody who says why, and who was told which.
func TestClosingSaysWhatIsOpen(t *testing.T) {
	text := head + stepText("height", `{ mode = "press", role = "indicator" }`, "", pointText("left", ""))
	p := newPlay(t, text, dial("dial-1", "indicator"))
	if words := p.no(bench.Verb{Name: bench.DoBuildClose}); !strings.Contains(words, "height") {
		t.Errorf("refused with %q, want the step that is open", words)
	}
	p.ok(bench.Verb{Name: bench.DoBuildClose, Reason: "sold as it is"})
}
