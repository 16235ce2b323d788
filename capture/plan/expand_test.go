package plan_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"thoud/calc/quantity"
	"thoud/capture/plan"
)

const head = "title = \"T\"\nversion = 1\ncylinders = [\"left\", \"right\"]\nvalves = [\"inlet\", \"exhaust\"]\n"

const step = "[[step]]\ntitle = \"S\"\ndo = \"Do.\"\nphase = \"dry\"\nkind = \"measure\"\ncapture = { role = \"bore\" }\n"

func parse(tb testing.TB, text string) *plan.Plan {
	tb.Helper()
	p, err := plan.Parse("test", []byte(text))
	if err != nil {
		tb.Fatalf("%v\nin\n%s", err, text)
	}
	return p
}

func ids(s plan.Step) []string {
	var out []string
	for _, p := range s.Points {
		out = append(out, p.ID)
	}
	return out
}

func TestPointsAreWrittenOut(t *testing.T) {
	for _, c := range []struct {
		point string
		want  []string
	}{
		{"for = \"cylinder\"\nid = \"{cylinder}\"", []string{"left", "right"}},
		{"for = \"valve\"\nid = \"{cylinder}.{valve}\"", []string{"left.inlet", "left.exhaust", "right.inlet", "right.exhaust"}},
		{"along = { angle = [\"0 deg\", \"7.5 deg\"] }\nid = \"{angle}\"", []string{"0deg", "7-5deg"}},
		{"for = \"cylinder\"\nalong = { depth = [\"10 mm\", \"7/32 in\"], axis = [\"thrust\", \"pin\"] }\nid = \"{cylinder}.{depth}.{axis}\"", []string{
			"left.10mm.thrust", "left.10mm.pin", "left.7-32in.thrust", "left.7-32in.pin",
			"right.10mm.thrust", "right.10mm.pin", "right.7-32in.thrust", "right.7-32in.pin"}},
	} {
		p := parse(t, head+step+"id = \"s\"\n[[step.point]]\n"+c.point)
		if d := cmp.Diff(c.want, ids(p.Steps[0])); d != "" {
			t.Errorf("%s\n%s", c.point, d)
		}
	}
}

func TestDepthAndAngleComeFromTheirLists(t *testing.T) {
	p := parse(t, head+step+"id = \"s\"\n[[step.point]]\nalong = { depth = [\"0.5 in\"], angle = [\"90 deg\"] }\nid = \"{depth}.{angle}\"\ntitle = \"{depth} down at {angle}\"\nleast = \"2.7 in\"")
	pt := p.Steps[0].Points[0]
	if pt.ID != "0-5in.90deg" || pt.Title != "0.5 in down at 90 deg" {
		t.Errorf("id %q, title %q", pt.ID, pt.Title)
	}
	// 0.5 in = 12.7 mm exactly.
	if pt.Angle == nil || *pt.Angle != 90 || pt.Depth == nil || pt.Depth.Float() != 12.7 || pt.Least.N != 27*quantity.PerInch/10 {
		t.Errorf("angle %v, depth %v, least %v", pt.Angle, pt.Depth, pt.Least)
	}
}

func TestStepsAreWrittenOut(t *testing.T) {
	p := parse(t, head+
		step+"id = \"bore\"\nfor = \"cylinder\"\n[[step.point]]\nid = \"{cylinder}.top\"\n"+
		step+"id = \"{cylinder}-rings\"\nfor = \"cylinder\"\nneeds = [\"bore-{cylinder}\"]\n[[step.point]]\nid = \"gap\"\n"+
		step+"id = \"seat\"\nfor = \"valve\"\nneeds = [\"bore\"]\n[[step.point]]\nid = \"x\"\n")
	type row struct {
		ID     string
		Needs  []string
		Points []string
	}
	var got []row
	for _, s := range p.Steps {
		got = append(got, row{s.ID, s.Needs, ids(s)})
	}
	both := []string{"bore-left", "bore-right"}
	want := []row{
		{"bore-left", nil, []string{"left.top"}}, {"bore-right", nil, []string{"right.top"}},
		{"left-rings", []string{"bore-left"}, []string{"gap"}}, {"right-rings", []string{"bore-right"}, []string{"gap"}},
		{"seat-left-inlet", both, []string{"x"}}, {"seat-left-exhaust", both, []string{"x"}},
		{"seat-right-inlet", both, []string{"x"}}, {"seat-right-exhaust", both, []string{"x"}},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// Any cylinders, valves and lists: as many points as the product, each id once and in the order written.
func TestWrittenOutCompletely(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringMatching(`[a-z][a-z0-9]{0,5}`)
		list := func(label string, most int) []string {
			return rapid.SliceOfNDistinct(name, 1, most, rapid.ID).Draw(t, label)
		}
		cylinders, valves, a, b := list("cylinders", 4), list("valves", 3), list("a", 4), list("b", 4)
		toml := func(l []string) string { return `["` + strings.Join(l, `", "`) + `"]` }
		text := fmt.Sprintf("title = \"T\"\nversion = 1\ncylinders = %s\nvalves = %s\n", toml(cylinders), toml(valves)) + step +
			fmt.Sprintf("id = \"s\"\n[[step.point]]\nfor = \"valve\"\nalong = { a = %s, b = %s }\nid = \"{cylinder}.{valve}.{a}.{b}\"\n", toml(a), toml(b))
		p, err := plan.Parse("test", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		var want []string
		for _, c := range cylinders {
			for _, v := range valves {
				for _, x := range a {
					for _, y := range b {
						want = append(want, strings.Join([]string{c, v, x, y}, "."))
					}
				}
			}
		}
		if got := ids(p.Steps[0]); !slices.Equal(got, want) {
			t.Fatalf("got %v\nwant %v", got, want)
		}
		stars := 0
		for _, id := range want {
			if got, ok := plan.Match(cylinders[0]+".*."+a[0]+".*", id); ok {
				stars++
				if parts := strings.Split(id, "."); got[0] != parts[1] || got[1] != parts[3] {
					t.Fatalf("stars of %s: %v", id, got)
				}
			}
		}
		if stars != len(valves)*len(b) {
			t.Fatalf("%d points fit the pattern, want %d", stars, len(valves)*len(b))
		}
	})
}

func TestMatch(t *testing.T) {
	for _, c := range []struct {
		pattern, id string
		ok          bool
		stars       []string
	}{
		{"left.*", "left.start", true, []string{"start"}},
		{"left.*", "left.10mm.pin", false, nil},
		{"left.*", "left", false, nil},
		{"left.*.*", "left.10mm.pin", true, []string{"10mm", "pin"}},
		{"*", "45deg", true, []string{"45deg"}},
		{"*", "left.now", false, nil},
		{"left.now", "left.now", true, nil},
		{"lef*", "left", false, nil},
		{"*.inlet", "left.inlet", true, []string{"left"}},
		{"*.inlet", "left.exhaust", false, nil},
	} {
		stars, ok := plan.Match(c.pattern, c.id)
		if ok != c.ok || ok && !slices.Equal(stars, c.stars) {
			t.Errorf("Match(%q, %q) = %v, %v", c.pattern, c.id, stars, ok)
		}
	}
}

func TestParseRef(t *testing.T) {
	for s, want := range map[string]plan.Ref{
		"@reading":                    {Kind: plan.RefReading},
		"@reading:left.now":           {Kind: plan.RefReading, Point: "left.now"},
		"@reading:guide/left.now":     {Kind: plan.RefReading, Step: "guide", Point: "left.now"},
		"@readings:left.*.*":          {Kind: plan.RefReadings, Point: "left.*.*"},
		"@angles:*":                   {Kind: plan.RefAngles, Point: "*"},
		"@depths:left.*":              {Kind: plan.RefDepths, Point: "left.*"},
		"@samples.angle:lift":         {Kind: plan.RefSampleAngle, Point: "lift"},
		"@samples.value:cam-in/lift":  {Kind: plan.RefSampleValue, Step: "cam-in", Point: "lift"},
		"@engine.pin_offset":          {Kind: plan.RefEngine, Name: "pin_offset"},
		"@figure:deck.deck":           {Kind: plan.RefFigure, Step: "deck", Name: "deck"},
		"@figure:deck.left.inlet.gap": {Kind: plan.RefFigure, Step: "deck", Run: "left.inlet", Name: "gap"},
		"@prior:left.now":             {Kind: plan.RefPrior, Point: "left.now"},
	} {
		got, err := plan.ParseRef(s)
		want.Text = s
		if err != nil || got != want {
			t.Errorf("%s: %+v, %v", s, got, err)
		}
	}
	for _, s := range []string{"", "@", "reading", "@reading:", "@reading:*", "@readings:", "@readings:a..b", "@engine.", "@engine.A", "@figure:deck", "@figure:.deck", "@figure:deck.", "@samples:lift", "@reading:a/b/c", "@reading:A", "@reading:{side}.now"} {
		if got, err := plan.ParseRef(s); err == nil {
			t.Errorf("%q is taken for %+v", s, got)
		}
	}
}
