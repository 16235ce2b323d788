package plan_test

import (
	"strings"
	"testing"

	"thoud/capture/plan"
)

const contradicting = `title = "T"
version = 1
cylinders = ["left", "right"]
[variant.camshaft]
title = "Camshaft"
choice = ["one", "two"]
value = "one"
[variant.barrels]
title = "Barrels"
choice = ["one", "each"]
value = "one"
[[never]]
when = { camshaft = "two", barrels = "each" }
told = "Two camshafts lie in one casting: take barrels = one."
[[step]]
id = "look"
title = "Look"
do = "Look."
phase = "dry"
kind = "check"
confirms = [{ id = "seen", text = "Seen." }]
`

// Variants that contradict each other are refused in one sentence, with what to choose instead.
func TestVariantsThatContradict(t *testing.T) {
	p := parse(t, contradicting)
	if _, err := plan.CheckShapes("t", []byte(contradicting)); err != nil {
		t.Errorf("every shape that an engine has is sound: %v", err)
	}
	if len(p.Shapes()) != 6 {
		t.Errorf("%d shapes", len(p.Shapes()))
	}
	text, err := plan.Shape("t", p.Text, map[string]string{"camshaft": "two", "barrels": "each"})
	if err != nil {
		t.Fatal(err)
	}
	_, err = plan.Parse("t", text)
	const want = `t:13:8: never: barrels = each and camshaft = two can't stand together: Two camshafts lie in one casting: take barrels = one.`
	if err == nil || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	if _, err := plan.Choices([]string{"camshaft=two", "camshaft=one"}); err == nil || !strings.Contains(err.Error(), "camshaft is chosen twice, as two and as one") {
		t.Errorf("chosen twice: %v", err)
	}
	for _, c := range []struct{ old, new, want string }{
		{`camshaft = "two", b`, `camshafts = "two", b`, `there is no variant and no group "camshafts"; did you mean "camshaft"?`},
		{`camshaft = "two", barrels`, `barrels`, `want at least two choices that contradict each other`},
		{`barrels = "each" }`, `barrels = "ech" }`, `barrels can't be "ech"; did you mean "each"?`},
		{"told =", "tolt =", `told is missing`},
	} {
		if _, err := plan.Parse("t", []byte(strings.Replace(contradicting, c.old, c.new, 1))); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %s", c.new, err, c.want)
		}
	}
}

// One part cannot be in two places.
func TestAPartThatIsAssignedTwice(t *testing.T) {
	for _, parts := range []string{
		`[{ name = "A", size = "72.00 mm" }, { name = "A", size = "72.01 mm" }]`,
		`[{ name = "A", size = "@reading:a" }, { name = "A", size = "@reading:b" }]`,
	} {
		text := head + `
[[step]]
id = "pistons"
title = "Pistons"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { role = "micrometer" }
[[step.point]]
id = "a"
[[step.point]]
id = "b"
[step.compute]
method = "assign"
[step.compute.inputs]
parts = ` + parts + `
places = [{ name = "left", size = "72.05 mm" }, { name = "right", size = "72.06 mm" }]
`
		_, err := plan.Parse("test", []byte(text))
		if err == nil || !strings.Contains(err.Error(), `parts lists "A" twice: one part cannot be in two places; give each its own mark`) {
			t.Errorf("%s: got %v", parts, err)
		}
	}
}
