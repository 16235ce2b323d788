package capture

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/rs/zerolog"

	"thoud/capture/bench"
)

// take sends a value of a gauge that streams and takes it.
func (r *rig) take(value string) bench.Answer {
	r.tb.Helper()
	r.shows(value)
	return r.ok(bench.Verb{Name: bench.DoTake})
}

func TestAReadingIsRefusedUntilItCanBeTrusted(t *testing.T) {
	inRig(t, rigPlan("press", datum, ""), bench.SendsStream, func(r *rig) {
		take := bench.Verb{Name: bench.DoTake}
		if got := r.no(take); !strings.Contains(got, "has sent nothing yet") {
			t.Errorf("before the first frame: %s", got)
		}
		r.shows("+0.5000 in")
		if got := r.no(take); !strings.Contains(got, "has no zero for this step: Rest it on the face. Then zero.") {
			t.Errorf("without a zero: %s", got)
		}
		r.ok(bench.Verb{Name: bench.DoZero})
		r.take("+0.6250 in")
		if p := r.pass(); p.Readings[0].Value.String() != "0.1250 in" || p.Readings[0].Raw.String() != "0.6250 in" {
			t.Errorf("reading %s, raw %s, want 0.1250 in of 0.6250 in", p.Readings[0].Value, p.Readings[0].Raw)
		}
		r.wait(1500 * time.Millisecond)
		if got := r.no(take); !strings.Contains(got, "its last value is 2 s old, so it is not taken") {
			t.Errorf("a stale value: %s", got)
		}
		r.shows("+12.000 mm")
		if got := r.tell.last("ask"); !strings.Contains(got, "its unit key was pressed: it sends mm now, the zero was set in in") {
			t.Errorf("another unit: %q", got)
		}
		if got := r.no(take); !strings.Contains(got, "lost its zero") {
			t.Errorf("after the unit key: %s", got)
		}
	})
}

// A value of a gauge that is registered for other work is kept and asked about, never dropped; the pass waits for the
// answer.
func TestAGaugeOfAnotherRoleIsAskedAbout(t *testing.T) {
	inRig(t, strings.Replace(rigPlan("press", "", ""), `role = "indicator"`, `role = "caliper"`, 1), bench.SendsKey, func(r *rig) {
		r.shows("+0.5000 in")
		b, step := r.loop.State().Current()
		qs := b.Step(step.ID).Questions
		if len(qs) != 1 || qs[0].Guard != "role" || !strings.Contains(qs[0].Words, "0.5000 in came from dial-1, which is registered as indicator, and this point wants caliper") {
			t.Fatalf("asked %+v", qs)
		}
		if p := r.pass(); p == nil || len(p.Readings) != 1 {
			t.Fatalf("the reading is not kept: %+v", p)
		}
		if got := r.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(got, `no gauge of role "caliper" is registered`) {
			t.Errorf("refused with %q", got)
		}
		r.ok(bench.Verb{Name: bench.DoAnswer, Choice: bench.ReadAgain})
		if p := r.pass(); !p.Readings[0].Withdrawn {
			t.Error("answered with read again, the reading still stands")
		}
	})
}

// A gauge's own key is ignored for a while after a reading: pedal and key together must not read the next point too.
func TestTheKeyIsLockedOutAfterAReading(t *testing.T) {
	inRig(t, rigPlan("press", "", ""), bench.SendsKey, func(r *rig) {
		for _, c := range []struct {
			after time.Duration
			taken int
		}{{0, 1}, {time.Millisecond, 1}, {698 * time.Millisecond, 1}, {2 * time.Millisecond, 2}, {699 * time.Millisecond, 2}, {time.Second, 3}} {
			r.wait(c.after)
			r.shows("+0.5000 in")
			if got := len(r.pass().Readings); got != c.taken {
				t.Fatalf("%s later: %d readings, want %d; %s", c.after, got, c.taken, r.tell.last("refused"))
			}
		}
	})
}

// A press while the last entry is being made safe counts by when it was pressed, however late its turn comes.
func TestTheKeyIsJudgedByWhenItWasPressed(t *testing.T) {
	inRig(t, rigPlan("press", "", ""), bench.SendsKey, func(r *rig) {
		r.log.set(errors.New("disk full"))
		r.shows("+0.5000 in")
		time.Sleep(3 * time.Second)
		r.shows("+0.5000 in") // the builder presses again because nothing happened
		r.log.set(nil)
		r.wait(10 * time.Second)
		if got := len(r.pass().Readings); got != 1 {
			t.Errorf("%d readings, want 1", got)
		}
		if got := r.tell.last("taken"); !strings.Contains(got, "left, a") {
			t.Errorf("told %q", got)
		}
	})
}

// An entry that cannot be made safe is held and told; nothing else is taken meanwhile; it goes in by itself, once.
func TestAnEntryIsHeldUntilItIsSafe(t *testing.T) {
	inRig(t, rigPlan("press", "", ""), bench.SendsStream, func(r *rig) {
		r.shows("+0.5000 in")
		before := r.loop.State().N
		r.log.set(errors.New("no room left on the disk"))
		v := bench.Verb{ID: "held", Name: bench.DoTake}
		if got := r.no(v); !strings.Contains(got, "it is held and done as soon as its entry can be made safe") {
			t.Errorf("answered %q", got)
		}
		if got := r.tell.last("fault"); !strings.Contains(got, "cannot be made safe yet: no room left on the disk; it is held") {
			t.Errorf("told %q", got)
		}
		if got := r.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(got, "this was not done; nothing is lost, ask again in a moment") {
			t.Errorf("a second one: %q", got)
		}
		if r.tell.last("taken") != "" {
			t.Error("told as taken")
		}
		r.log.set(nil)
		r.wait(10 * time.Second)
		if diff := cmp.Diff([]bench.Kind{bench.PassOpened, bench.ReadingTaken}, r.kinds(before+1)); diff != "" {
			t.Error(diff)
		}
		if a := r.ok(v); a.N != before+2 {
			t.Errorf("asked again: entry %d, want %d", a.N, before+2)
		}
		if got := len(r.pass().Readings); got != 1 {
			t.Errorf("%d readings", got)
		}
	})
}

// A service that is stopped while an entry cannot be made safe writes it to the log, word for word, and says so.
func TestStoppedWhileAnEntryIsHeld(t *testing.T) {
	inRig(t, rigPlan("press", "", ""), bench.SendsStream, func(r *rig) {
		var out bytes.Buffer
		if err := r.stop(); err != nil {
			t.Fatal(err)
		}
		r.logger = zerolog.New(&out)
		r.start()
		r.shows("+0.5000 in")
		r.take("+0.5123 in")
		r.log.set(errors.New("no room left on the disk"))
		r.shows("+0.5321 in")
		r.no(bench.Verb{Name: bench.DoTake})
		err := r.stop()
		if err == nil || !strings.Contains(err.Error(), "was not safe on the bus when the service stopped; it stands in the log") {
			t.Errorf("stopped with %v", err)
		}
		var line struct{ Entry bench.Entry }
		for l := range bytes.Lines(out.Bytes()) {
			if bytes.Contains(l, []byte("stopped before this entry was safe")) {
				if err := json.Unmarshal(l, &line); err != nil {
					t.Fatal(err)
				}
			}
		}
		last := r.log.entries[len(r.log.entries)-1]
		if e := line.Entry; e.N != last.N+1 || e.Reading == nil || e.Reading.Raw.String() != "0.5321 in" || e.Place.Point != "right.a" {
			t.Errorf("the log has %+v\n%s", line.Entry, out.String())
		}
	})
}

// The machine is switched off after every entry of a full pass in turn, with a question asked in it. Each time the
// client asks its last verb again, and the pass ends as it does undisturbed: nothing twice, nothing left open.
func TestSwitchedOffBetweenAnyTwoEntries(t *testing.T) {
	text := rigPlan("press", datum, "    least = \"0 in\"\n    most = \"0.3 in\"\n")
	verbs := func(r *rig, from int, values []string) (done int) {
		for i, v := range values[from:] {
			ask := bench.Verb{ID: fmt.Sprintf("verb-of-%d", from+i), Name: bench.DoTake}
			switch {
			case strings.HasPrefix(v, "zero "):
				ask.Name, v = bench.DoZero, v[5:]
			case strings.HasPrefix(v, "answer "):
				ask.Name, ask.Choice, v = bench.DoAnswer, v[7:], "+0.5000 in"
			}
			r.shows(v)
			a := r.ask(ask)
			if !a.OK && strings.Contains(a.Words, "held") {
				return from + i
			}
			if !a.OK && !strings.Contains(a.Words, "nothing is asked") { // the answer was written, its own answer lost
				r.tb.Fatalf("%v: %s", ask, a.Words)
			}
		}
		return len(values)
	}
	for _, c := range []struct {
		answer    string
		values    []string
		left      string // what left.b reads at the end
		withdrawn int
	}{
		{bench.AsRead, []string{"zero +0.5000 in", "+0.6000 in", "+0.6010 in", "+0.9000 in", "+0.6020 in", "answer as read", "+0.5000 in"}, "0.4000 in", 0},
		{bench.ReadAgain, []string{"zero +0.5000 in", "+0.6000 in", "+0.6010 in", "+0.9000 in", "+0.6020 in", "answer read again", "+0.6030 in", "+0.5000 in"}, "0.1030 in", 1},
	} {
		total := 0
		inRig(t, text, bench.SendsStream, func(r *rig) {
			before := int(r.loop.State().N)
			if done := verbs(r, 0, c.values); done != len(c.values) || r.pass().Status != bench.PassIsClosed {
				t.Fatalf("%s, undisturbed: %d verbs done, pass %s", c.answer, done, r.pass().Status)
			}
			total = int(r.loop.State().N) - before
		})
		for k := range total {
			inRig(t, text, bench.SendsStream, func(r *rig) {
				r.log.after = int(r.loop.State().N) + k
				if k == 0 {
					r.log.after, r.log.refuse = 0, errors.New("switched off")
				}
				from := verbs(r, 0, c.values)
				_ = r.stop() // an entry that was not safe may be an error here
				r.log.after, r.log.refuse = 0, nil
				r.start()
				if done := verbs(r, from, c.values); done != len(c.values) {
					t.Errorf("%s, off after %d entries: %d verbs of %d done", c.answer, k, done, len(c.values))
				}
				p := r.pass()
				if p.Status != bench.PassIsClosed {
					t.Errorf("%s, off after %d entries: the pass is %s", c.answer, k, p.Status)
				}
				if got, ok := p.Standing("left.b", 1); !ok || got.Value.String() != c.left {
					t.Errorf("%s, off after %d entries: left.b reads %s, want %s", c.answer, k, got.Value, c.left)
				}
				standing := map[string]int{}
				for _, x := range p.Readings {
					if !x.Withdrawn {
						standing[x.Point]++
					}
				}
				if diff := cmp.Diff(map[string]int{"left.a": 1, "right.a": 1, "left.b": 1, "right.b": 1, "datum": 1}, standing); diff != "" {
					t.Errorf("%s, off after %d entries: %s", c.answer, k, diff)
				}
				count := map[bench.Kind]int{}
				for _, kind := range r.kinds(0) {
					count[kind]++
				}
				if count[bench.Asked] != 1 || count[bench.Answered] != 1 || count[bench.Withdrawn] != c.withdrawn {
					t.Errorf("%s, off after %d entries: asked %d times, answered %d, withdrawn %d, want 1, 1, %d", c.answer, k,
						count[bench.Asked], count[bench.Answered], count[bench.Withdrawn], c.withdrawn)
				}
			})
		}
	}
}

// A reading taken back after the pass was closed opens it again, and the closing reading is wanted once more: what was
// read after it is not vouched for by it.
func TestARetakeAfterClosingWantsTheDatumAgain(t *testing.T) {
	inRig(t, rigPlan("press", datum, ""), bench.SendsStream, func(r *rig) {
		r.shows("+0.5000 in")
		r.ok(bench.Verb{Name: bench.DoZero})
		for _, v := range []string{"+0.6000 in", "+0.6010 in", "+0.6020 in", "+0.6030 in", "+0.5000 in"} {
			r.take(v)
		}
		if got := r.pass().Status; got != bench.PassIsClosed {
			t.Fatalf("the pass is %s", got)
		}
		r.ok(bench.Verb{Name: bench.DoRetake, Place: &bench.Place{Point: "right.a"}, Reason: "slipped"})
		r.take("+0.6015 in")
		if p := r.pass(); p.Status != bench.PassIsFull || r.loop.State().Place.Point != bench.DatumPoint {
			t.Errorf("after the retake the pass is %s and the bench stands at %s", p.Status, r.loop.State().Place)
		}
		r.take("+0.5020 in")
		if p := r.pass(); p != nil {
			t.Errorf("closed with 0.0020 in of drift where 0.001 in is allowed: %s", p.Status)
		}
	})
}

// A gauge unplugged in mid-pass is told as lost and found by itself; its zero is lost, its readings stand.
func TestUnpluggedAndBack(t *testing.T) {
	inRig(t, rigPlan("press", datum, ""), bench.SendsStream, func(r *rig) {
		r.shows("+0.5000 in")
		r.ok(bench.Verb{Name: bench.DoZero})
		r.take("+0.6000 in")
		n := r.loop.State().N
		r.unplug("dial-1")
		if got := r.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(got, "is not there: plug it in and switch it on") {
			t.Errorf("unplugged: %s", got)
		}
		r.plug("dial-1")
		r.wait(10 * time.Second)
		if diff := cmp.Diff([]bench.Kind{bench.GaugeLost, bench.GaugeBack, bench.ZeroLost}, r.kinds(n+1)); diff != "" {
			t.Error(diff)
		}
		r.shows("+0.6100 in")
		if got := r.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(got, "lost its zero (the gauge was unplugged or switched off since it was set)") {
			t.Errorf("back: %s", got)
		}
		r.shows("+0.2000 in")
		r.ok(bench.Verb{Name: bench.DoZero})
		r.take("+0.3100 in")
		p := r.pass()
		if got := []string{p.Readings[0].Value.String(), p.Readings[1].Value.String()}; !slices.Equal(got, []string{"0.1000 in", "0.1100 in"}) {
			t.Errorf("readings %v", got)
		}
	})
}

// A gauge that streams what cannot be read is told now and then, not 50 times a second; one whose key is pressed, at
// each press.
func TestAFloodOfFaultsIsToldNowAndThen(t *testing.T) {
	for _, c := range []struct {
		sends bench.Sends
		every time.Duration
		n     int
		want  int
	}{
		{bench.SendsStream, 20 * time.Millisecond, 600, 3}, // 12 s: at once, after 5 s, after 10 s
		{bench.SendsKey, time.Second, 5, 5},
	} {
		inRig(t, rigPlan("press", "", ""), c.sends, func(r *rig) {
			for range c.n {
				r.say("dial-1", "+0.5x00 in\r\n")
				r.wait(c.every)
			}
			told := 0
			for _, n := range r.tell.notices {
				if n.Tone == "fault" && strings.Contains(n.Words, "0.5x00") {
					told++
				}
			}
			if told != c.want {
				t.Errorf("%s: told %d times of %d, want %d", c.sends, told, c.n, c.want)
			}
		})
	}
}

// The trouble of a gauge that is not there ends when it is no longer listened to.
func TestARemovedGaugeIsNoTrouble(t *testing.T) {
	inRig(t, rigPlan("press", "", ""), bench.SendsStream, func(r *rig) {
		stands := func() bool {
			is := false
			for _, n := range r.tell.notices {
				if n.Source == "gauge dial-1" {
					is = n.Stands
				}
			}
			return is
		}
		r.unplug("dial-1")
		if !stands() {
			t.Error("unplugged, and no trouble stands")
		}
		r.ok(bench.Verb{Name: bench.DoGaugeRemove, Gauge: "dial-1", Reason: "sold"})
		r.wait(10 * time.Second)
		if stands() {
			t.Error("removed, and its trouble still stands")
		}
	})
}

// A zero outlives a restart of the service only where neither the machine nor the gauge was switched off.
func TestWhatAZeroOutlives(t *testing.T) {
	for _, c := range []struct {
		name string
		do   func(r *rig)
		lost string
	}{
		{"the service alone", func(*rig) {}, ""},
		{"the machine", func(*rig) {}, "the machine was started anew since it was set"},
		{"the gauge", func(r *rig) { r.plug("dial-1") }, "the gauge was unplugged or switched off since it was set"},
	} {
		inRig(t, rigPlan("press", datum, ""), bench.SendsStream, func(r *rig) {
			r.shows("+0.5000 in")
			r.ok(bench.Verb{Name: bench.DoZero})
			if err := r.stop(); err != nil {
				t.Fatal(err)
			}
			c.do(r)
			if c.name == "the machine" {
				r.startOn("boot-2")
			} else {
				r.start()
			}
			r.shows("+0.6000 in")
			a := r.ask(bench.Verb{Name: bench.DoTake})
			if c.lost == "" && !a.OK || c.lost != "" && !strings.Contains(a.Words, c.lost) {
				t.Errorf("%s was switched off and on: %s", c.name, a.Words)
			}
		})
	}
}

// Bytes that are no frame are told, and no reading comes of them: garbage, parity faults that come as NUL, a frame cut
// by an unplug whose rest comes after the replug.
func TestNoReadingIsInvented(t *testing.T) {
	for _, c := range []struct{ name, bytes string }{
		{"letters", "+0.5x00 in\r\n"},
		{"a NUL where parity failed", "+0.\x0000 in\r\n"},
		{"noise", "\xff\x80\x01\r\n"},
		{"half a frame", "+0.5000 i"},
	} {
		inRig(t, rigPlan("press", "", ""), bench.SendsKey, func(r *rig) {
			r.say("dial-1", c.bytes)
			if p := r.pass(); p != nil {
				t.Errorf("%s: a reading was taken: %s", c.name, p.Readings[0].Value)
			}
			if c.name == "half a frame" {
				r.unplug("dial-1")
				r.plug("dial-1")
				r.wait(10 * time.Second)
				r.say("dial-1", "n\r\n")
				if p := r.pass(); p != nil {
					t.Errorf("two halves of a reconnect were glued: %s", p.Readings[0].Value)
				}
			}
			r.wait(time.Second)
			r.shows("+0.7000 in")
			if p := r.pass(); p == nil || len(p.Readings) != 1 || p.Readings[0].Value.String() != "0.7000 in" {
				t.Errorf("%s: the good frame after it was not taken: %+v, told %q", c.name, p, r.tell.last("fault"))
			}
		})
	}
}
