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
	if d := cmp.Diff([]string{"first-fit", "pushrod-twin", "single-trial"}, names); d != "" {
		t.Error(d)
	}
	for _, name := range names {
		p := load(t, name)
		if p.Name != name || len(p.Cautions) == 0 {
			t.Errorf("%s: name %q, %d general cautions", name, p.Name, len(p.Cautions))
		}
		for _, d := range p.Engine {
			if !d.Confirm && !strings.Contains(d.Source, "JCGM") {
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

// Engine data that nothing uses would ask the builder for confirmations without a purpose.
func TestShippedEngineDataIsUsed(t *testing.T) {
	for _, name := range []string{"first-fit", "pushrod-twin"} {
		p := load(t, name)
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
		{"crank-runout", "float-gap"}, {"float-gap", "end-float"},
		{"screw-hole", "guide-clearance"}, {"guide-clearance", "guide-mark"}, {"guide-mark", "cone-seat"}, {"cone-seat", "guide-cone"},
		{"bore-map", "ring-gap-top"}, {"deck", "compression"}, {"chain", "cam-inlet-left"}, {"cam-correction", "cam-key"},
		{"cam-key", "cam-nut-dry"}, {"timing-gear-dry", "head-dry"}, {"strip-down", "wash-cases"},
		{"inner-clips", "piston-on-left"}, {"piston-on-right", "outer-clips"}, {"rings-on-left", "barrels-over"},
		{"mouths-open", "barrels-over"}, {"followers", "barrels-over"}, {"board-out", "barrels-down"}, {"barrels-down", "base-bolts"},
		{"base-bolts", "keepers-out"}, {"keepers-out", "pushrods"}, {"cam-nut", "timing-closed"}, {"timing-closed", "head-on"},
		{"head-on", "head-bolts"}, {"lash-positions-left", "lash-inlet"}, {"lash-exhaust", "ignition"},
	} {
		before, after := p.Index(pair[0]), p.Index(pair[1])
		if before < 0 || after < 0 || before >= after {
			t.Errorf("%s (%d) must come before %s (%d)", pair[0], before, pair[1], after)
		}
		if !slices.Contains(reaches(p, pair[1]), pair[0]) {
			t.Errorf("%s does not need %s, directly or by others", pair[1], pair[0])
		}
	}
	for _, id := range []string{"cam-nut", "timing-closed", "outer-clips", "head-bolts", "closing"} {
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
		for _, n := range s.Needs {
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
		"positive-stop":       {"tdc", "", "stop-out", "tdc-fit-left", 1},
		"checking-springs":    {"head-dry", "", "strip-down", "wash-cases", 4},
		"mouth-covers":        {"mouths-covered", "", "mouths-open", "barrels-over", 2},
		"follower-keepers":    {"followers", "base-bolts", "keepers-out", "pushrods", 4},
		"support-board":       {"mouths-open", "compressors-off", "board-out", "barrels-down", 1},
		"ring-compressors":    {"mouths-open", "barrels-over", "compressors-off", "board-out", 2},
		"plug-hole-indicator": {"ignition", "", "gauges-off", "closing", 1},
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
	wantLoose := map[string]string{"guide-screws": "guide-cone", "dry-base-bolts": "strip-down", "cam-nut-dry": "cam-nut-dry",
		"dry-head-bolts": "strip-down", "base-bolts": "base-bolts", "cam-nut": "cam-nut", "head-bolts": "head-bolts"}
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
		if !base.Proof || s.Phase != plan.Final {
			t.Errorf("%s: proof %v, phase %s", s.ID, base.Proof, s.Phase)
		}
	}
	want := map[string]string{"end-float-final": "end-float", "guide-final": "guide-cone", "bore-final": "bore-map", "deck-final": "deck",
		"cam-final-left": "cam-inlet-left", "cam-final-right": "cam-inlet-right"}
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
	if changed == 0 || changed > 12 {
		t.Errorf("%d lines differ, want a few", changed)
	}
	if s, ok := single.Step("guide-clearance"); !ok || len(s.Points) != 3 || s.Points[0].ID != "single.start" {
		t.Errorf("points of the single's guide block: %+v", s.Points)
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
	if s, ok := p.Step("lash-inlet"); !ok || len(s.Points) != 3 || s.Points[1].ID != "middle" {
		t.Errorf("points of the triple's inlet lash: %+v", s.Points)
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
