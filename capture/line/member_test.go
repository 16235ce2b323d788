package line

import (
	"errors"
	"strings"
	"testing"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/devices"
)

// frames gives what a gauge's line tells of values that come one after the other.
func frames(t *testing.T, m *members, text ...string) (kinds []EventKind, last Event) {
	t.Helper()
	for _, x := range text {
		v, err := quantity.Parse(x)
		if err != nil {
			t.Fatal(err)
		}
		for _, ev := range m.addressed(Event{Kind: Sample, Sample: devices.Sample{Value: v, Frame: []byte(x), Unnamed: true}}) {
			kinds, last = append(kinds, ev.Kind), ev
		}
	}
	return kinds, last
}

func one(g bench.Gauge) *members {
	m := &members{}
	g.Name = "dial-1"
	m.add(g, devices.Profile{}, func(Event) {})
	return m
}

// The figures are those of two frames that were cut: "12.345" and "13.210" with the middle lost read "12.10".
func TestAFrameWithFewerPlacesThanAlwaysIsRefused(t *testing.T) {
	m := one(bench.Gauge{})
	for range alwaysFrom {
		frames(t, m, "12.345 mm")
	}
	kinds, ev := frames(t, m, "12.10 mm")
	if len(kinds) != 1 || kinds[0] != Fault || !strings.Contains(ev.Err.Error(), `gauge "dial-1": 12.10 mm has 2 decimal places, the gauge has always sent 3 in mm: a frame was cut`) {
		t.Fatalf("%v, %v", kinds, ev.Err)
	}
	if kinds, _ := frames(t, m, "12.346 mm", "12.1 mm", "12.347 mm", "0.4860 in"); kinds[0] != Sample || kinds[1] != Fault || kinds[2] != Sample || kinds[3] != Sample {
		t.Errorf("after a cut frame, and in the other unit: %v", kinds)
	}
	// Somebody changed its resolution: what comes again and again is so.
	if kinds, _ := frames(t, m, "12.34 mm", "12.34 mm", "12.35 mm", "12.35 mm"); kinds[0] != Fault || kinds[1] != Fault || kinds[2] != Sample || kinds[3] != Sample {
		t.Errorf("after its resolution was changed: %v", kinds)
	}
	// One that sends as many as it needs has no habit.
	m = one(bench.Gauge{})
	for range alwaysFrom {
		frames(t, m, "1.5 mm", "1.25 mm")
	}
	if kinds, _ := frames(t, m, "1.5 mm", "2 mm", "1.125 mm"); kinds[0] != Sample || kinds[1] != Sample || kinds[2] != Sample {
		t.Errorf("one without a habit: %v", kinds)
	}
}

func TestAFrameLongerThanWasHeardIsRefused(t *testing.T) {
	m := one(bench.Gauge{Longest: len("+123.456 mm")})
	if kinds, _ := frames(t, m, "+123.456 mm"); kinds[0] != Sample {
		t.Errorf("a frame of the greatest length: %v", kinds)
	}
	if kinds, ev := frames(t, m, "+12345.678 mm"); kinds[0] != Fault || !strings.Contains(ev.Err.Error(), "13 bytes, at most 11 are possible") {
		t.Errorf("two frames that ran together: %v, %v", kinds, ev.Err)
	}
}

// The builder said that the display shows inches; the frame says 0.486 and no unit, the profile mm.
func TestAFrameWithoutAUnitIsInTheUnitThatTheDisplayShows(t *testing.T) {
	for unit, want := range map[string]string{"": "0.486 mm", "mm": "0.486 mm", "in": "0.486 in"} {
		if _, ev := frames(t, one(bench.Gauge{Unit: unit}), "0.486 mm"); ev.Sample.Value.String() != want {
			t.Errorf("registered in %q: %s, want %s", unit, ev.Sample.Value, want)
		}
	}
	m := one(bench.Gauge{Unit: "in"})
	v, err := quantity.Parse("0.486 mm")
	if err != nil {
		t.Fatal(err)
	}
	if evs := m.addressed(Event{Kind: Sample, Sample: devices.Sample{Value: v}}); evs[0].Sample.Value.String() != "0.486 mm" {
		t.Errorf("a frame that names its unit reads %s", evs[0].Sample.Value)
	}
}

// A gauge that is pulled off its bridge goes and comes back like one whose plug was pulled: as another device, so that its
// zero does not hold. So does every gauge of a bridge that was switched on anew.
func TestAGaugeOffItsBridgeComesBackAsAnother(t *testing.T) {
	bridge := devices.Profile{Family: devices.FamilyBench, Bench: &devices.Bench{Bits: map[string]devices.BitFrame{"left": {}, "right": {}}}}
	m := &members{}
	for _, name := range []string{"left", "right"} {
		m.add(bench.Gauge{Name: name, Channel: name}, bridge, func(Event) {})
	}
	at := time.UnixMicro(1_000_000)
	device := map[string]string{}
	for _, ev := range m.opened(Event{Kind: Up, At: at, Port: "/dev/x", Device: "usb:7"}) {
		device[ev.Gauge] = ev.Device
	}
	if m.opened(Event{Kind: Up, At: at.Add(time.Second), Device: "usb:7"})[0].Device == device["left"] {
		t.Error("a line that was opened again stands for the same gauge: while it was closed it may have been pulled")
	}
	m.opened(Event{Kind: Up, At: at, Port: "/dev/x", Device: "usb:7"})
	step := func(s devices.Sample) []Event { return m.addressed(Event{Kind: Sample, At: at, Sample: s}) }
	if evs := step(devices.Sample{Gone: true, Channel: "left"}); len(evs) != 1 || evs[0].Kind != Down || evs[0].Gauge != "left" || !errors.Is(evs[0].Err, errGoneOffBridge) {
		t.Fatalf("gone: %v", evs)
	}
	if evs := step(devices.Sample{Gone: true, Channel: "left"}); len(evs) != 0 {
		t.Errorf("gone is told twice: %v", evs)
	}
	evs := step(onChannel("left").Sample)
	if len(evs) != 2 || evs[0].Kind != Up || evs[0].Device == device["left"] || evs[0].Port != "/dev/x" || evs[1].Kind != Sample {
		t.Fatalf("back: %v", evs)
	}
	if evs := step(onChannel("right").Sample); len(evs) != 1 || evs[0].Kind != Sample {
		t.Errorf("the other gauge went too: %v", evs)
	}
	if evs := step(devices.Sample{Gone: true}); len(evs) != 2 || evs[0].Kind != Down || evs[1].Kind != Down || !errors.Is(evs[0].Err, errBridgeStarted) {
		t.Errorf("the bridge started: %v", evs)
	}
	if evs := step(onChannel("left").Sample); len(evs) != 2 || evs[0].Device == device["left"]+"+1" {
		t.Errorf("back again as %v", evs)
	}
}

func TestAnUnconfirmedValueIsOnlyShown(t *testing.T) {
	m := one(bench.Gauge{})
	s := onChannel("").Sample
	s.Unconfirmed = true
	if evs := m.addressed(Event{Kind: Sample, Sample: s}); len(evs) != 1 || evs[0].Kind != Unconfirmed {
		t.Errorf("got %v", evs)
	}
}

// A spoilt frame now and then is counted; ten of fifty are told, once.
func TestNoiseIsCountedAndMuchOfItTold(t *testing.T) {
	m := one(bench.Gauge{Channel: "left"})
	told := 0
	play := func(frames, everyNth int) {
		for i := range frames {
			var evs []Event
			if i%everyNth == 0 {
				evs = m.fault(Event{Kind: Fault, Err: &devices.FrameError{Noise: true, Channel: "left", Why: "30 bits"}})
				if len(evs) == 0 || evs[0].Kind != Noise {
					t.Fatalf("noise: %v", evs)
				}
			} else {
				evs = m.addressed(onChannel("left"))
			}
			for _, ev := range evs {
				if ev.Kind == Fault {
					told++
					if !strings.Contains(ev.Err.Error(), "10 of its last 50 frames were spoilt: look at its leads") {
						t.Error(ev.Err)
					}
				}
			}
		}
	}
	if play(500, 10); told != 0 {
		t.Errorf("one in ten is told %d times", told)
	}
	if play(300, 4); told != 1 {
		t.Errorf("one in four is told %d times, want once", told)
	}
	play(200, 50)
	if play(300, 4); told != 2 {
		t.Errorf("one in four, and again after a rest, is told %d times, want twice", told)
	}
	if evs := m.fault(Event{Kind: Fault, Err: &devices.FrameError{Noise: true, Channel: "right"}}); evs != nil {
		t.Errorf("the noise of another channel is told: %v", evs)
	}
}

func TestBytesWithoutAValueAreToldAfterFiveSeconds(t *testing.T) {
	at := time.Unix(1_700_000_000, 0)
	var m muteness
	for i := range 5 {
		m.came(at.Add(time.Duration(i)*time.Second), []byte("?? 1.234 ??\r"))
		if err := m.why("mine", nil); err != nil {
			t.Fatalf("after %d s: %v", i, err)
		}
	}
	m.came(at.Add(6*time.Second), []byte("?? 1.234 ??\r"))
	err := m.why("mine", &devices.FrameError{Noise: true, Why: "30 bits"})
	if err == nil || !strings.Contains(err.Error(), `for 6 s bytes come and the profile "mine" reads no value from them`) || !strings.Contains(err.Error(), "30 bits") {
		t.Fatalf("after six seconds: %v", err)
	}
	if fe := (*devices.FrameError)(nil); errors.As(err, &fe) {
		t.Error("it would be counted as noise")
	}
	m.valued()
	m.came(at.Add(7*time.Second), []byte("x"))
	if err := m.why("mine", nil); err != nil {
		t.Errorf("after a value: %v", err)
	}
	m.came(at.Add(30*time.Second), []byte("x"))
	if err := m.why("mine", nil); err != nil {
		t.Errorf("two presses, half a minute apart: %v", err)
	}
}
