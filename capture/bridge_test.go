package capture

import (
	"os"
	"slices"
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/devices"
)

// mustBridge is a bridge with two invented gauges.
func mustBridge(tb testing.TB) devices.Profile {
	tb.Helper()
	text, err := os.ReadFile("../testdata/devices/bridge/two-gauges.toml")
	if err != nil {
		tb.Fatal(err)
	}
	p, err := devices.ParseProfile("two-gauges.toml", text)
	if err != nil {
		tb.Fatal(err)
	}
	return p
}

// bridge plugs a bridge in and registers the gauge on its left channel.
func (r *rig) bridge(sends bench.Sends) (say func(...devices.Sample)) {
	r.tb.Helper()
	p := mustBridge(r.tb)
	r.plug("bridge")
	r.ok(bench.Verb{Name: bench.DoGaugeRemove, Gauge: "dial-1", Reason: "the other one reads"})
	r.ok(bench.Verb{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: "pads-1", Profile: p.Name, Port: r.path("bridge"),
		Known: bench.KnownPath, Identity: r.path("bridge"), Role: "indicator", Channel: "left", Sends: sends}})
	r.settle()
	return func(samples ...devices.Sample) {
		for _, s := range samples {
			b, err := p.Encode(s)
			if err != nil {
				r.tb.Fatal(err)
			}
			r.say("bridge", string(b))
		}
	}
}

func left(value string) devices.Sample {
	v, err := quantity.Parse(value)
	if err != nil {
		panic(err)
	}
	return devices.Sample{Channel: "left", Value: v}
}

// shown is what is shown of a gauge now.
func (r *rig) shown(gauge string) bench.Live {
	r.tell.mu.Lock()
	defer r.tell.mu.Unlock()
	for _, live := range slices.Backward(r.tell.live) {
		if live.Gauge == gauge {
			return live
		}
	}
	return bench.Live{}
}

// A value through a bridge counts when two frames agree: one frame is shown and not taken.
func TestAValueThroughABridgeIsTakenWhenTwoFramesAgree(t *testing.T) {
	inRig(t, rigPlan("press", "", ""), bench.SendsStream, func(r *rig) {
		say := r.bridge(bench.SendsStream)
		say(left("0.5000 in"), left("0.5000 in"), left("0.6000 in"))
		if words := r.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(words, "its value counts when two frames agree") {
			t.Errorf("while it moves: %s", words)
		}
		r.wait(2 * leastApart)
		if live := r.shown("pads-1"); live.Raw.String() != "0.6000 in" {
			t.Errorf("shown is %s", live.Raw)
		}
		say(left("0.6000 in"))
		r.ok(bench.Verb{Name: bench.DoTake})
		if got := r.pass().Readings[0].Raw.String(); got != "0.6000 in" {
			t.Errorf("taken is %s", got)
		}
	})
}

// A gauge that is pulled off its bridge, and a bridge that was switched on anew, lose the zero like a plug that was pulled.
func TestAGaugeThatIsOffItsBridgeLosesItsZero(t *testing.T) {
	for name, gone := range map[string]devices.Sample{"pulled off": {Gone: true, Channel: "left"}, "switched on anew": {Gone: true}} {
		t.Run(name, func(t *testing.T) {
			inRig(t, rigPlan("press", datum, ""), bench.SendsStream, func(r *rig) {
				say := r.bridge(bench.SendsStream)
				say(left("0.0000 in"), left("0.0000 in"))
				r.ok(bench.Verb{Name: bench.DoZero})
				n := r.loop.State().N
				say(devices.Sample{Gone: true, Channel: "right"}, left("0.1000 in"), left("0.1000 in"))
				if got := r.kinds(n + 1); len(got) > 0 {
					t.Fatalf("the other channel's gauge went, and %v", got)
				}
				say(gone, left("0.1000 in"), left("0.1000 in"))
				got := r.kinds(n + 1)
				for _, want := range []bench.Kind{bench.GaugeLost, bench.GaugeBack, bench.ZeroLost} {
					if !slices.Contains(got, want) {
						t.Errorf("no %s in %v", want, got)
					}
				}
				if words := r.no(bench.Verb{Name: bench.DoTake}); !strings.Contains(words, "zero") {
					t.Errorf("a reading without a zero: %s", words)
				}
			})
		})
	}
}

// One press of a data key through a bridge asks for another; noise is counted on the board and not told.
func TestAKeyThroughABridgeIsPressedTwice(t *testing.T) {
	inRig(t, rigPlan("press", "", ""), bench.SendsStream, func(r *rig) {
		say := r.bridge(bench.SendsKey)
		say(left("0.5000 in"))
		if words := r.tell.last(bench.ToneRefused); !strings.Contains(words, "press its key once more") {
			t.Errorf("after one press: %q", words)
		}
		say(left("0.5000 in"))
		if p := r.pass(); p == nil || len(p.Readings) != 1 {
			t.Fatalf("after two presses: %+v", p)
		}
		fault := r.tell.last(bench.ToneFault)
		r.say("bridge", ":left bits 31 A00181CA fault *1A\n")
		r.wait(2 * leastApart)
		if live := r.shown("pads-1"); live.Noise != 1 {
			t.Errorf("one spoilt frame is counted as %d", live.Noise)
		}
		if got := r.tell.last(bench.ToneFault); got != fault {
			t.Errorf("one spoilt frame is told: %s", got)
		}
	})
}

// What a gauge's frames do not say is asked for when it is registered, not guessed.
func TestRegisteringAsksForWhatTheFramesDoNotSay(t *testing.T) {
	inRig(t, rigPlan("press", "", ""), bench.SendsStream, func(r *rig) {
		add := func(g bench.Gauge) bench.Verb {
			g.Name, g.Role, g.Known, g.Port, g.Identity = "other", "indicator", bench.KnownPath, "/dev/other", "/dev/other"
			return bench.Verb{Name: bench.DoGaugeAdd, Register: &g}
		}
		for _, c := range []struct {
			g    bench.Gauge
			want string
		}{
			{bench.Gauge{Profile: "text-signed-decimal-cr"}, "its frames name no unit, and the profile text-signed-decimal-cr takes mm: look at its display and say what it shows (--unit mm or --unit "},
			{bench.Gauge{Profile: "text-signed-decimal-cr", Unit: "N"}, "its display cannot show N"},
			{bench.Gauge{Profile: "text-signed-decimal-cr", Unit: "furlong"}, "furlong"},
			{bench.Gauge{Profile: "text-signed-decimal-unit-crlf", Unit: "mm"}, "its frames name their unit themselves"},
			{bench.Gauge{Profile: "bridge-two-gauges"}, "carries the channels left, right: say which one is this gauge's (--channel)"},
			{bench.Gauge{Profile: "bridge-two-gauges", Channel: "middle"}, `has no channel "middle": it carries left, right`},
			{bench.Gauge{Profile: "bridge-two-gauges", Channel: "right"}, "its frames name no unit"},
		} {
			if words := r.no(add(c.g)); !strings.Contains(words, c.want) {
				t.Errorf("%+v: %s, want %s", c.g, words, c.want)
			}
		}
		r.ok(add(bench.Gauge{Profile: "bridge-two-gauges", Channel: "right", Unit: "mm"}))
	})
}
