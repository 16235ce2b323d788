package plan_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/capture/plan"
)

func load(tb testing.TB, name string) *plan.Plan {
	tb.Helper()
	p, err := plan.Load(name)
	if err != nil {
		tb.Fatalf("%s:\n%v", name, err)
	}
	return p
}

func TestShippedPlansAreSound(t *testing.T) {
	names, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"first-fit", "pushrod-twin", "pushrod-two-shafts", "pushrod-v", "single-trial"}, names); d != "" {
		t.Error(d)
	}
	for _, name := range names {
		p := load(t, name)
		if p.Name != name || len(p.Cautions) == 0 {
			t.Errorf("%s: name %q, %d general cautions", name, p.Name, len(p.Cautions))
		}
		for _, d := range p.Engine {
			if !d.Confirm && d.Derived == "" {
				t.Errorf("%s: %s comes from %q and nobody confirms it", name, d.Name, d.Source)
			}
		}
		for _, s := range p.Steps {
			if !slices.Contains([]string{"twin-top", "crank", "cylinder", "valve-gear"}, s.View) {
				t.Errorf("%s: step %s has no drawing, %q", name, s.ID, s.View)
			}
			if s.Kind == plan.Measure && s.Seatings < 2 && !s.Setup.Valid() && s.Capture.Mode != plan.Bracket {
				t.Errorf("%s: step %s states no set-up repeatability and asks for one seating", name, s.ID)
			}
		}
	}
}

// shapes gives plans that ship in every shape of theirs.
func shapes(tb testing.TB, names ...string) []*plan.Plan {
	tb.Helper()
	var out []*plan.Plan
	for _, name := range names {
		p := load(tb, name)
		for _, choices := range p.Shapes() {
			text, err := plan.Shape(name, p.Text, choices)
			if err != nil {
				tb.Fatal(err)
			}
			q, err := plan.Parse(name, text)
			if err != nil {
				tb.Fatalf("%v:\n%v", choices, err)
			}
			out = append(out, q)
		}
	}
	return out
}

// Engine data that nothing uses would ask the builder for confirmations without a purpose.
func TestShippedEngineDataIsUsed(t *testing.T) {
	for _, p := range shapes(t, "first-fit", "pushrod-twin", "pushrod-v") {
		name := p.Name
		used := map[string]bool{}
		for _, s := range p.Steps {
			for _, d := range p.Uses(s) {
				used[d.Name] = true
			}
		}
		for _, d := range p.Engine {
			if !used[d.Name] {
				t.Errorf("%s: nothing uses %s", name, d.Name)
			}
		}
	}
}

// The order that decides whether the engine lives, as the trade has it (common practice).
func TestPushrodTwinOrder(t *testing.T) {
	p := load(t, "pushrod-twin")
	for _, pair := range [][2]string{
		{"crank-runout", "end-float"}, {"bores", "rings"}, {"deck", "compression"},
		// Deck and plates before the blocks: a plate chosen afterwards moves every block.
		{"compression", "block-contact"}, {"screw-hole", "block-contact"}, {"cases-dry", "block-contact"},
		{"block-contact", "block-seat"}, {"block-seat", "block-proof"}, {"block-proof", "dry-top"},
		// Wheel before chain, chain before the lobes.
		{"tdc", "timing-dry"}, {"timing-dry", "cam"}, {"cam", "head-dry"}, {"head-dry", "valve-to-piston"},
		{"strip-down", "wash-cases"}, {"block-proof", "blocks-locked"}, {"blocks-locked", "followers"},
		{"cases-closed", "pistons-on"}, {"pistons-ready-left", "pistons-on"}, {"pistons-on", "board-clamps"},
		{"followers", "board-clamps"}, {"barrels-over", "barrels-down"}, {"barrels-down", "base-bolts"},
		// Keepers out before timing gear, head and any trace.
		{"base-bolts", "keepers-out"}, {"keepers-out", "timing-gear"}, {"keepers-out", "head-on"}, {"keepers-out", "cam-proof"},
		// Top dead centre is found anew: the wheel was off since the trial.
		{"tdc-proof", "cam-proof"}, {"timing-gear", "cam-proof"}, {"cam-proof", "head-on"},
		{"head-on", "head-bolts"}, {"head-bolts", "rockers-on"}, {"rockers-on", "lash"}, {"lash", "ignition"},
		{"closing", "first-start"}, {"first-start", "retorque"}, {"retorque", "lash-again"}, {"lash-again", "leak-again"},
	} {
		before, after := p.Index(pair[0]), p.Index(pair[1])
		if before < 0 || after < 0 || before >= after {
			t.Errorf("%s (%d) must come before %s (%d)", pair[0], before, pair[1], after)
		}
		if !slices.Contains(reaches(p, pair[1]), pair[0]) {
			t.Errorf("%s does not need %s, directly or by others", pair[1], pair[0])
		}
	}
	for _, id := range []string{"cam", "strip-down", "count", "pistons-on", "base-bolts", "cam-proof", "head-bolts", "closing", "leak-again"} {
		if s, ok := p.Step(id); !ok || !s.Hold {
			t.Errorf("%s is no hold point", id)
		}
	}
}

// reaches lists the steps that a step needs, directly or by others.
func reaches(p *plan.Plan, id string) []string {
	out := []string{id}
	for i := 0; i < len(out); i++ {
		s, _ := p.Step(out[i])
		needs := slices.Clone(s.Needs)
		for _, side := range s.Sides {
			needs = append(needs, side.Step)
		}
		for _, n := range needs {
			if !slices.Contains(out, n) {
				out = append(out, n)
			}
		}
	}
	return out
}

func TestPushrodTwinTally(t *testing.T) {
	p := load(t, "pushrod-twin")
	type stay struct {
		In, KeepUntil, Out, OutBefore string
		Count                         int
	}
	got := map[string]stay{}
	for _, s := range p.Steps {
		for _, it := range s.Items {
			got[it.Name] = stay{s.ID, it.KeepUntil, "", it.OutBefore, it.Count}
		}
		for _, name := range s.Out {
			x := got[name]
			x.Out = s.ID
			got[name] = x
		}
	}
	want := map[string]stay{
		"trial-clips":         {"barrels-dry", "", "strip-down", "wash-cases", 4},
		"keepers-trial":       {"dry-top", "", "dry-top", "", 4},
		"keepers-strip":       {"strip-down", "", "strip-down", "", 4},
		"light-springs":       {"head-dry", "", "strip-down", "wash-cases", 4},
		"old-gasket":          {"head-dry", "", "strip-down", "wash-cases", 1},
		"mouth-covers":        {"cases-closed", "", "board-clamps", "barrels-over", 2},
		"follower-keepers":    {"followers", "base-bolts", "keepers-out", "timing-gear", 4},
		"board":               {"board-clamps", "barrels-over", "barrels-down", "base-bolts", 1},
		"ring-clamps":         {"board-clamps", "", "barrels-over", "barrels-down", 2},
		"plug-hole-indicator": {"ignition", "", "ignition", "", 1},
		"leak-adapter":        {"leak-down", "", "leak-down", "", 1},
		"leak-adapter-again":  {"leak-again", "", "leak-again", "", 1},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("tally (-want +got):\n%s", d)
	}
	loose := map[string]string{}
	for _, s := range p.Steps {
		for _, l := range s.Loose {
			loose[l.Name] = l.Ends
			if end, ok := p.Step(l.Ends); !ok || !slices.Contains(end.Ends, l.Name) {
				t.Errorf("%s ends in %q, which does not say so", l.Name, l.Ends)
			}
		}
	}
	wantLoose := map[string]string{"trial-case-bolts": "strip-down", "trial-base-bolts": "block-contact", "trial-bolts-again": "strip-down",
		"trial-cam-nut": "cam", "trial-tensioner": "strip-down", "trial-head-bolts": "strip-down",
		"base-bolts": "base-bolts", "cam-nut": "cam-proof", "head-bolts": "head-bolts"}
	if d := cmp.Diff(wantLoose, loose); d != "" {
		t.Errorf("left loose (-want +got):\n%s", d)
	}
}

// A proof is measured like the step it proves.
func TestProofsRepeatTheirStep(t *testing.T) {
	p := load(t, "pushrod-twin")
	proofs := map[string]string{}
	for _, s := range p.Steps {
		if s.Again == "" {
			continue
		}
		proofs[s.ID] = s.Again
		base, _ := p.Step(s.Again)
		if d := cmp.Diff(base.Points, s.Points); d != "" {
			t.Errorf("%s: points\n%s", s.ID, d)
		}
		if d := cmp.Diff(base.Compute, s.Compute); d != "" {
			t.Errorf("%s: computation\n%s", s.ID, d)
		}
		if !base.Proof || s.Phase != plan.Final && s.Phase != plan.Heat {
			t.Errorf("%s: proof %v, phase %s", s.ID, base.Proof, s.Phase)
		}
	}
	want := map[string]string{"deck-proof": "deck", "tdc-proof": "tdc", "cam-proof": "cam", "lash-again": "lash"}
	if d := cmp.Diff(want, proofs); d != "" {
		t.Errorf("proofs (-want +got):\n%s", d)
	}
}

// The single is the twin with a few lines changed.
func TestSingleIsTheTwinWithFewLinesChanged(t *testing.T) {
	twin, single := load(t, "pushrod-twin"), load(t, "single-trial")
	a, b := strings.Split(string(twin.Text), "\n"), strings.Split(string(single.Text), "\n")
	if len(a) != len(b) {
		t.Fatalf("%d lines and %d", len(a), len(b))
	}
	changed := 0
	for i := range a {
		if a[i] != b[i] {
			changed++
		}
	}
	if changed == 0 || changed > 16 {
		t.Errorf("%d lines differ, want a few", changed)
	}
	if s, ok := single.Step("block-contact"); !ok || len(s.Points) != 3 || s.Points[0].ID != "single.start" {
		t.Errorf("points of the single's guide block: %+v", s.Points)
	}
	if s, _ := single.Step("cases-closed"); s.Items[0].Count != 1 {
		t.Errorf("a single has %d mouth covers", s.Items[0].Count)
	}
}

// A triple is the twin with one line changed.
func TestTripleByOneLine(t *testing.T) {
	text, err := plan.ShippedText("pushrod-twin")
	if err != nil {
		t.Fatal(err)
	}
	triple := strings.Replace(string(text), `["left", "right"] `, `["left", "middle", "right"] `, 1)
	p, err := plan.Parse("triple", []byte(triple))
	if err != nil {
		t.Fatal(err)
	}
	if s, ok := p.Step("ignition"); !ok || len(s.Points) != 3 || s.Points[1].ID != "middle" {
		t.Errorf("points of the triple's ignition: %+v", s.Points)
	}
	// What is counted into the engine follows the cylinders: a third mouth has a third cover.
	for step, want := range map[string]int{"cases-closed": 3, "followers": 6, "barrels-dry": 6} {
		if s, _ := p.Step(step); s.Items[0].Count != want {
			t.Errorf("%s: a triple has %d of %s, want %d", step, s.Items[0].Count, s.Items[0].Name, want)
		}
	}
}

func BenchmarkParse(b *testing.B) {
	text, err := plan.ShippedText("pushrod-twin")
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := plan.Parse("pushrod-twin", text); err != nil {
			b.Fatal(err)
		}
	}
}
