package simulate_test

import (
	"context"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/devices"
	"thoud/devices/simulate"
)

func mustScenario(tb testing.TB, name string) simulate.Scenario {
	tb.Helper()
	data, err := os.ReadFile("../../testdata/devices/scenario/" + name)
	if err != nil {
		tb.Fatal(err)
	}
	s, err := simulate.ParseScenario(name, data)
	if err != nil {
		tb.Fatal(err)
	}
	return s
}

func TestScenarioPlaysToTheEnd(t *testing.T) {
	s := mustScenario(t, "press-and-unplug.toml")
	profiles, err := devices.Profiles(nil)
	if err != nil {
		t.Fatal(err)
	}
	p, err := s.Start(t.TempDir(), profiles)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	}()
	listeners := map[string]*listener{}
	listen := func(name string) {
		l := mustListen(t, p.Gauge(name).Path(), mustProfile(t, map[string]string{"dial-1": "text-signed-decimal-cr",
			"bridge": "text-two-channels-crlf", "pedal": "bench-line-checked"}[name]))
		listeners[name] = l
	}
	for _, name := range []string{"dial-1", "bridge", "pedal"} {
		listen(name)
	}
	var got []string
	for {
		step, more, err := p.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if !more {
			break
		}
		if step.Replug || step.PowerCycle {
			listen(step.Gauge)
		}
		if step.Send == 0 && step.Key == "" {
			continue
		}
		l := listeners[step.Gauge]
		n := len(l.samples)
		l.until(t, func() bool { return len(l.samples) > n })
		for _, s := range l.samples[n:] {
			got = append(got, strings.TrimSpace(step.Gauge+" "+s.Channel+s.Key+" "+s.Value.String()))
		}
	}
	want := []string{"dial-1  0.000 mm", "dial-1  1.250 mm", "bridge a 0.0000 in", "bridge b -0.0021 in", "pedal pedal none",
		"dial-1  -0.500 mm", "dial-1  0.000 mm"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if errs := listeners["dial-1"].errs; len(errs) != 0 {
		t.Errorf("after the power cycle: %v", errs)
	}
	if want := "dial-1-elsewhere"; !strings.HasSuffix(p.Gauge("dial-1").Path(), want) {
		t.Errorf("the link is %s", p.Gauge("dial-1").Path())
	}
}

func TestFaultsOfAScenario(t *testing.T) {
	const gauge = "[[gauge]]\nname = \"a\"\nprofile = \"p\"\n"
	for _, c := range []struct{ name, data, want string }{
		{"unknown key", gauge + "colour = 3\n", `s.toml:4:1: "gauge.colour"`},
		{"no gauge", "title = \"x\"\n", "needs a [[gauge]]"},
		{"two of a name", gauge + gauge, `gauge 2: name "a"`},
		{"gauge unknown", gauge + "[[step]]\ngauge = \"b\"\nsend = 1\n", `step 1: gauge "b"`},
		{"two actions", gauge + "[[step]]\ngauge = \"a\"\nsend = 1\nunplug = true\n", "step 1: more than one action"},
		{"bad value", gauge + "[[step]]\ngauge = \"a\"\nset = \"far\"\n", `step 1: set: "far"`},
		{"bad time", gauge + "[[step]]\nafter = \"soon\"\n", `step 1: after: "soon"`},
		{"move without over", gauge + "[[step]]\ngauge = \"a\"\nmove = \"1 mm\"\n", "step 1: move and over"},
		{"follows nobody", gauge + "follows = \"b\"\ncurve = [[0, 0], [1, 1]]\n", `follows "b"`},
		{"falling curve", gauge + "follows = \"a\"\ncurve = [[1, 0], [0, 1]]\n", "must rise"},
		{"curve longer than its period", gauge + "follows = \"a\"\ncurve = [[0, 0], [10, 1]]\nperiod = 5\n", "period: 5"},
		{"curve without a leader", gauge + "curve = [[0, 0], [1, 1]]\n", "go with follows"},
		{"bad status", gauge + "[[step]]\ngauge = \"a\"\nstatus = \"cross\"\n", `"cross" is not a state`},
	} {
		if _, err := simulate.ParseScenario("s.toml", []byte(c.data)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want it to contain %s", c.name, err, c.want)
		}
	}
	s, err := simulate.ParseScenario("s.toml", []byte(gauge))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Start(t.TempDir(), nil); err == nil || !strings.Contains(err.Error(), `no profile "p"`) {
		t.Errorf("a profile that is not there: %v", err)
	}
}

// A lobe's lift follows the crank: turned by hand, read by both gauges, over more than a whole cycle and backwards.
func TestFollower(t *testing.T) {
	s := mustScenario(t, "lift-over-crank.toml")
	profiles, err := devices.Profiles(nil)
	if err != nil {
		t.Fatal(err)
	}
	p, err := s.Start(t.TempDir(), profiles)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	}()
	// By hand from the file's curve: 0.0000 at 100°, 0.1600 at 150°, 0.3200 at 200°, straight between.
	want := []string{"100.00 deg 0.0000 in", "125.00 deg 0.0800 in", "200.00 deg 0.3200 in", "845.00 deg 0.0800 in", "-595.00 deg 0.0800 in"}
	var got []string
	for {
		step, more, err := p.Next(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if !more {
			break
		}
		if step.Set.Valid() || step.Move.Valid() {
			got = append(got, p.Gauge("wheel").Shown().String()+" "+p.Gauge("lift").Shown().String())
		}
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}
