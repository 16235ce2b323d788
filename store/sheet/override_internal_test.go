package sheet

import (
	"strings"
	"testing"

	"thoud/capture/bench"
)

// TestOverridesAreToldByTitles: what was changed or passed over is called as the builder knows it, whatever kind it is of.
func TestOverridesAreToldByTitles(t *testing.T) {
	s := Sheet{Steps: []Step{{ID: "cam", Title: "Cam timing"}}, Data: []Datum{{Name: "bore_most", Title: "Bore, most"}}}
	for what, c := range map[string]struct{ name, want string }{
		bench.OverEngine:  {"bore_most", "Bore, most"},
		bench.OverLimit:   {"cam.inlet_centre", "limit of inlet centre, Cam timing"},
		bench.OverNeeds:   {"cam", "Cam timing, begun before what it needs"},
		bench.OverHold:    {"cam", "Cam timing, gone on from unsigned"},
		bench.OverVerdict: {"cam", "Cam timing, gone on in spite of the verdict"},
		bench.OverSetup:   {"cam", "Cam timing, how well it is seated"},
		bench.OverTally:   {"light-springs", "light springs, left where it is"},
		bench.OverCure:    {"compound-grip", "compound grip, not waited for"},
		"plan":            {"step added: Weigh the rods", "plan step added: Weigh the rods"},
	} {
		got := overrideWords(s, Override{What: what, Name: c.name})
		if got != c.want || strings.ContainsAny(got, "_") {
			t.Errorf("%s %s: %q, want %q", what, c.name, got, c.want)
		}
	}
}
