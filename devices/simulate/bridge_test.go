package simulate_test

import (
	"os"
	"testing"

	"thoud/devices"
	"thoud/devices/simulate"
)

// A bridge with two gauges: each frame once unconfirmed and then confirmed, a gauge that goes, and a start.
func TestABridgeIsSimulated(t *testing.T) {
	text, err := os.ReadFile("../../testdata/devices/bridge/two-gauges.toml")
	if err != nil {
		t.Fatal(err)
	}
	p, err := devices.ParseProfile("two-gauges.toml", text)
	if err != nil {
		t.Fatal(err)
	}
	g := mustOpen(t, simulate.Options{Profile: p, Channels: p.Channels()})
	l := mustListen(t, g.Path(), p)
	g.Set(mustParse(t, "-0.500 mm"))
	for _, do := range []func() error{g.Send, g.Send, func() error { return g.Gone("left") }, g.Send, func() error { return g.Gone("") }, g.Send, func() error { return g.Key("pedal") }} {
		if err := do(); err != nil {
			t.Fatal(err)
		}
	}
	l.until(t, func() bool { return len(l.samples) > 0 && l.samples[len(l.samples)-1].Key == "pedal" })
	var got []string
	for _, s := range l.samples {
		word := s.Channel + s.Key
		if s.Gone {
			word += " gone"
		}
		if s.Value.Valid() {
			word += " " + s.Value.String()
		}
		if s.Unconfirmed {
			word += "?"
		}
		got = append(got, word)
	}
	want := []string{"left -0.500 mm?", "right 0.000 mm?", "left -0.500 mm", "right 0.000 mm", "left gone", "left -0.500 mm?", "right 0.000 mm", " gone", "left -0.500 mm?", "right 0.000 mm?", "pedal"}
	if len(got) != len(want) || len(l.errs) > 0 {
		t.Fatalf("got %q, %v\nwant %q", got, l.errs, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("%d: got %q, want %q", i+1, got[i], want[i])
		}
	}
	text2, err := simulate.Open(simulate.Options{Profile: mustProfile(t, "text-signed-decimal-cr"), Dir: t.TempDir(), Name: "dial"})
	if err != nil {
		t.Fatal(err)
	}
	defer text2.Close()
	if err := text2.Gone(""); err == nil {
		t.Error("a gauge that is no bridge started as one")
	}
}
