package line_test

import (
	"context"
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/line"
	"thoud/devices"
	"thoud/devices/simulate"
)

// watched counts what is written to a real port.
type watched struct {
	line.Port
	wrote *int
}

func (w watched) Write(p []byte) (int, error) {
	*w.wrote += len(p)
	return w.Port.Write(p)
}

func watching(wrote *int) line.Opener {
	return func(path string, settings devices.Line) (line.Port, string, error) {
		p, device, err := line.OpenSerial(path, settings)
		if err != nil {
			return nil, "", err
		}
		return watched{p, wrote}, device, nil
	}
}

func profiles(t *testing.T) ([]devices.Profile, map[string]devices.Profile) {
	t.Helper()
	list, err := devices.Profiles(nil)
	if err != nil {
		t.Fatal(err)
	}
	byName := map[string]devices.Profile{}
	for _, p := range list {
		byName[p.Name] = p
	}
	return list, byName
}

func gaugeOf(t *testing.T, p devices.Profile, channel, shows string) *simulate.Gauge {
	t.Helper()
	g, err := simulate.Open(simulate.Options{Profile: p, Channel: channel, Dir: t.TempDir(), Name: "unknown"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := g.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	v, err := quantity.Parse(shows)
	if err != nil {
		t.Fatal(err)
	}
	g.Set(v)
	return g
}

func TestPushingGaugeIsIdentifiedWithoutAWordSaidToIt(t *testing.T) {
	list, byName := profiles(t)
	for name, channel := range map[string]string{"text-signed-decimal-unit-crlf": "", "bench-line-checked": "a", "text-two-channels-crlf": ""} {
		g := gaugeOf(t, byName[name], channel, "0.0375 in")
		g.Stream(20 * time.Millisecond)
		wrote := 0
		id := line.Identifier{Open: watching(&wrote), Profiles: list, Each: 400 * time.Millisecond}
		guesses, err := id.Run(context.Background(), g.Path())
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if guesses[0].Profile.Name != name || len(guesses[0].Samples) == 0 || len(guesses[0].Why) == 0 {
			t.Errorf("%s is taken for %s", name, guesses[0].Profile.Name)
		}
		if wrote != 0 {
			t.Errorf("%s: %d bytes were written to a port that was only to be listened to", name, wrote)
		}
	}
}

func TestSilentGaugeIsAskedOnlyWhereThatIsAllowed(t *testing.T) {
	list, byName := profiles(t)
	polled := byName["modbus-angle-int32"]
	g := gaugeOf(t, polled, "", "123.45 deg")
	wrote := 0
	id := line.Identifier{Open: watching(&wrote), Profiles: list, Each: 30 * time.Millisecond}
	if _, err := id.Run(context.Background(), g.Path()); !errors.Is(err, line.ErrNothingHeard) || wrote != 0 {
		t.Errorf("unasked: %v, %d bytes written; want nothing heard and nothing written", err, wrote)
	}
	id.Ask, id.Profiles = true, []devices.Profile{byName["text-polled-decimal-crlf"], polled}
	id.Each = 400 * time.Millisecond
	var steps int
	id.Progress = func(done, total int, words string) { steps++ }
	guesses, err := id.Run(context.Background(), g.Path())
	if err != nil {
		t.Fatal(err)
	}
	if got := guesses[0].Profile.Name; got != polled.Name {
		t.Errorf("asked it is taken for %s, want %s", got, polled.Name)
	}
	if steps == 0 {
		t.Error("no progress was told")
	}
}

// A bridge whose bits nobody described is known for one, with its channels and what to do.
func TestABridgeIsKnownForOne(t *testing.T) {
	text, err := os.ReadFile("../../testdata/devices/bridge/two-gauges.toml")
	if err != nil {
		t.Fatal(err)
	}
	bridge, err := devices.ParseProfile("two-gauges.toml", text)
	if err != nil {
		t.Fatal(err)
	}
	list, _ := profiles(t)
	g := gaugeOf(t, bridge, "left", "0.486 mm")
	g.Stream(20 * time.Millisecond)
	wrote := 0
	id := line.Identifier{Open: watching(&wrote), Profiles: list, Each: 40 * time.Millisecond}
	_, err = id.Run(context.Background(), g.Path())
	if !errors.Is(err, line.ErrNothingFits) || !strings.Contains(err.Error(), "a bridge sends the raw bits of left (31 bits a frame); teach it what they mean") {
		t.Errorf("a bridge that nobody described: %v", err)
	}
	id.Profiles, id.Each = append(list, bridge), 400*time.Millisecond
	guesses, err := id.Run(context.Background(), g.Path())
	if err != nil {
		t.Fatal(err)
	}
	if guesses[0].Profile.Name != bridge.Name || !strings.Contains(strings.Join(guesses[0].Why, "\n"), "compare the values with the display") {
		t.Errorf("a bridge with a profile is taken for %s: %q", guesses[0].Profile.Name, guesses[0].Why)
	}
	if wrote != 0 {
		t.Errorf("%d bytes were written", wrote)
	}
}
