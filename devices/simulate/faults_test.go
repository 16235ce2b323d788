package simulate_test

import (
	"fmt"
	"math"
	"os"
	"testing"
	"time"

	"thoud/devices"
	"thoud/devices/simulate"
)

// Garbage, splits and merges on the line lose or spoil no more than the frame they touch, and make nothing up.
func TestNothingIsMadeUpOfGarbage(t *testing.T) {
	for _, name := range []string{"text-signed-decimal-cr", "text-signed-counts-length", "bits-bcd-seven-bytes", "bench-line-checked"} {
		t.Run(name, func(t *testing.T) { nothingIsMadeUp(t, name) })
	}
}

func nothingIsMadeUp(t *testing.T, name string) {
	p := mustProfile(t, name)
	o := simulate.Options{Profile: p, Seed: 11, Knobs: simulate.Knobs{Garbage: 0.2, Split: 0.5, Merge: 0.3}}
	if p.Family == devices.FamilyBench {
		o.Channel = "left"
	}
	g := mustOpen(t, o)
	g.SetStatus(map[bool]devices.Status{true: devices.Stable}[p.Family == devices.FamilyBits])
	l := mustListen(t, g.Path(), p)
	sent := map[string]bool{}
	const frames = 300
	for i := range frames {
		v := mustParse(t, fmt.Sprintf("%d.%03d mm", i%10, 5*(i%200)))
		sent[v.String()], sent[v.Digits()+"0 mm"] = true, true
		g.Set(v)
		if err := g.Send(); err != nil {
			t.Fatal(err)
		}
		if i%20 == 19 { // keep the port from running full
			n := len(l.samples)
			l.until(t, func() bool { return len(l.samples) > n })
		}
	}
	// The last word, after a silence, so that the end is known.
	last := mustParse(t, "9.995 mm")
	g.Set(last)
	end := func() bool { return len(l.samples) > 0 && l.samples[len(l.samples)-1].Value.N == last.N }
	sent[last.String()], sent["9.9950 mm"] = true, true
	for range 20 {
		if err := g.Send(); err != nil {
			t.Fatal(err)
		}
	}
	l.until(t, end)
	for _, s := range l.samples {
		if !sent[s.Value.String()] {
			t.Errorf("%s was never sent", s.Value)
		}
	}
	// One frame in five has garbage before it, which may spoil it and, where the garbage swallows the frame's
	// beginning, no other.
	if len(l.samples) < frames/2 {
		t.Errorf("%d of %d frames were read", len(l.samples), frames)
	}
	if len(l.errs) == 0 {
		t.Error("garbage and no error")
	}
}

func TestDropOuts(t *testing.T) {
	p := mustProfile(t, "text-signed-decimal-cr")
	g := mustOpen(t, simulate.Options{Profile: p, Seed: 3, Knobs: simulate.Knobs{Drop: 0.5}})
	l := mustListen(t, g.Path(), p)
	for range 100 {
		if err := g.Send(); err != nil {
			t.Fatal(err)
		}
	}
	if err := g.Raw([]byte("+9.999\r")); err != nil {
		t.Fatal(err)
	}
	l.until(t, func() bool { n := len(l.samples); return n > 0 && l.samples[n-1].Value.String() == "9.999 mm" })
	// 100 frames with an even chance: outside 25 to 75 once in a million (binomial, 5 standard deviations).
	if n := len(l.samples) - 1; n < 25 || n > 75 {
		t.Errorf("%d of 100 frames came", n)
	}
}

// The noise has the standard deviation asked for, backlash keeps the display behind on the way back, drift adds up.
func TestModel(t *testing.T) {
	p := mustProfile(t, "text-signed-decimal-cr")
	g := mustOpen(t, simulate.Options{Profile: p, Seed: 5, Knobs: simulate.Knobs{Noise: 3}})
	g.Set(mustParse(t, "1.000 mm"))
	const n = 4000
	var sum, squares float64
	for range n {
		d := g.Shown().Float()*1000 - 1000
		sum += d
		squares += d * d
	}
	mean := sum / n
	s := math.Sqrt(squares/n - mean*mean)
	// The standard error of s is s/sqrt(2n) = 0.034 counts, of the mean 0.047; rounding adds 1/12 to the variance.
	if want := math.Sqrt(9 + 1.0/12); math.Abs(s-want) > 0.17 || math.Abs(mean) > 0.24 {
		t.Errorf("mean %.3f, standard deviation %.3f counts, want 0 and %.3f", mean, s, want)
	}

	g = mustOpen(t, simulate.Options{Profile: p, Knobs: simulate.Knobs{Backlash: 10}})
	for _, c := range []struct{ at, shown string }{
		{"1.000 mm", "0.995 mm"}, {"0.995 mm", "0.995 mm"}, {"0.990 mm", "0.995 mm"}, {"0.980 mm", "0.985 mm"}, {"1.000 mm", "0.995 mm"},
	} {
		g.Set(mustParse(t, c.at))
		if got := g.Shown().String(); got != c.shown {
			t.Errorf("backlash: at %s shown %s, want %s", c.at, got, c.shown)
		}
	}

	g = mustOpen(t, simulate.Options{Profile: p, Knobs: simulate.Knobs{Drift: 0.5}})
	for range 10 {
		if err := g.Send(); err != nil {
			t.Fatal(err)
		}
	}
	if got := g.Shown().String(); got != "0.005 mm" {
		t.Errorf("after 10 frames of half a count the display shows %s", got)
	}
}

// A display in inches rounds to its own places: 1.000 mm is 0.0394 in.
func TestUnitKey(t *testing.T) {
	p := mustProfile(t, "text-signed-decimal-unit-crlf")
	g := mustOpen(t, simulate.Options{Profile: p})
	l := mustListen(t, g.Path(), p)
	g.Set(mustParse(t, "0.0394 in"))
	if err := g.Send(); err != nil {
		t.Fatal(err)
	}
	l.until(t, func() bool { return len(l.samples) == 1 })
	if got := l.samples[0].Value.String(); got != "0.0394 in" {
		t.Errorf("read %s", got)
	}
}

func TestKeysAreForTheBenchLine(t *testing.T) {
	g := mustOpen(t, simulate.Options{Profile: mustProfile(t, "text-signed-decimal-cr")})
	if err := g.Key("pedal"); err == nil {
		t.Error("a text gauge sent a key")
	}
}

func TestStream(t *testing.T) {
	p := mustProfile(t, "modbus-displacement-float")
	push := mustProfile(t, "text-two-channels-crlf")
	g := mustOpen(t, simulate.Options{Profile: push})
	l := mustListen(t, g.Path(), push)
	g.Stream(2 * time.Millisecond)
	l.until(t, func() bool { return len(l.samples) >= 20 })
	g.Stop()
	if l.samples[0].Channel != "a" || l.samples[1].Channel != "b" {
		t.Errorf("channels %q, %q", l.samples[0].Channel, l.samples[1].Channel)
	}

	asked := mustOpen(t, simulate.Options{Profile: p})
	if err := asked.SetChannel("b", mustParse(t, "-0.0021 mm")); err != nil {
		t.Fatal(err)
	}
	if err := asked.SetChannel("c", mustParse(t, "1 mm")); err == nil {
		t.Error("a channel that is not there was set")
	}
	l = mustListen(t, asked.Path(), p)
	if _, err := l.f.Write(p.Poll.Request); err != nil {
		t.Fatal(err)
	}
	l.until(t, func() bool { return len(l.samples) == 2 })
	if got := l.samples[1].Value.String(); got != "-0.0021 mm" || l.samples[1].Channel != "b" {
		t.Errorf("read %s on %q", got, l.samples[1].Channel)
	}
}

// What was sent before anybody opened the port is there for who opens it: a reader must flush.
func TestSentBeforeOpening(t *testing.T) {
	p := mustProfile(t, "text-signed-decimal-cr")
	g := mustOpen(t, simulate.Options{Profile: p})
	if err := g.Send(); err != nil {
		t.Fatal(err)
	}
	l := mustListen(t, g.Path(), p)
	l.until(t, func() bool { return len(l.samples) == 1 })
}

// Forty plugs in and out leave no descriptor open.
func TestNoDescriptorIsLeft(t *testing.T) {
	count := func() int {
		list, err := os.ReadDir("/proc/self/fd")
		if err != nil && os.Getenv("CI") == "" {
			t.Skip("not run: this system has no /proc/self/fd")
		}
		if err != nil {
			t.Fatal(err)
		}
		return len(list)
	}
	g := mustOpen(t, simulate.Options{Profile: mustProfile(t, "text-signed-decimal-cr")})
	before := count()
	for range 40 {
		if err := g.Replug(""); err != nil {
			t.Fatal(err)
		}
	}
	if after := count(); after != before {
		t.Errorf("%d descriptors before, %d after", before, after)
	}
}
