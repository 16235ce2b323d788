package devices_test

import (
	"strings"
	"testing"

	"thoud/devices"
)

// Every shipped profile is recognised first from frames of its own at its own line, or stands level with one that reads
// the very same values.
func TestRankFindsTheProfile(t *testing.T) {
	profiles := mustProfiles(t)
	var all []devices.Profile
	for _, p := range profiles {
		all = append(all, p)
	}
	for name, p := range profiles {
		h := devices.Heard{Line: p.Line, Asked: p.Poll.Request}
		for _, counts := range []int64{0, 1234, -486, 20_500} {
			b, err := p.Encode(goodSamples(p, counts)...)
			if err != nil {
				t.Fatal(err)
			}
			h.Bytes = append(h.Bytes, b...)
			h.Pauses = append(h.Pauses, len(h.Bytes))
		}
		guesses := devices.Rank([]devices.Heard{
			{Line: devices.Line{Baud: 300, DataBits: 8, Parity: "none", StopBits: 1}, Bytes: []byte("\x80\xfe\x00\x1c\xe0")}, h}, all)
		if len(guesses) == 0 {
			t.Errorf("%s: not recognised", name)
			continue
		}
		if guesses[0].Profile.Name != name {
			t.Errorf("%s: taken for %s first:", name, guesses[0].Profile.Name)
			for _, g := range guesses {
				t.Logf("  %-30s %6.1f %s", g.Profile.Name, g.Score, strings.Join(g.Why, "; "))
			}
		}
		if g := guesses[0]; g.Good < 4 || g.Covered < 0.999 || len(g.Samples) < 4 || len(g.Why) == 0 {
			t.Errorf("%s: %d good, %.2f covered, %d samples, %q", name, g.Good, g.Covered, len(g.Samples), g.Why)
		}
	}
}

func TestRankMakesNothingOfNothing(t *testing.T) {
	var all []devices.Profile
	for _, p := range mustProfiles(t) {
		all = append(all, p)
	}
	for _, heard := range []string{"", "\x00\x00\x00\x00", "\xff\xfe\x81\x1c\x9c\xe0\x00\xf8", "ready\r\nready\r\n"} {
		if g := devices.Rank([]devices.Heard{{Line: devices.DefaultLine(), Bytes: []byte(heard)}}, all); len(g) != 0 {
			t.Errorf("%q: taken for %s (%v)", heard, g[0].Profile.Name, g[0].Samples)
		}
	}
}
