package plan_test

import (
	"strings"
	"testing"

	"thoud/capture/plan"
)

// A first point is judged by what is computed of the first points alone, and something must wait for it.
func TestFaultsOfFirstPoints(t *testing.T) {
	const text = head + `
[[step]]
id = "lock"
title = "Lock"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { role = "indicator" }
[[step.point]]
id = "dry"
first = true
[[step.point]]
id = "locked"
[step.compute]
method = "statistics"
inputs = { values = ["@reading:dry"] }
limits = { mean = { upper = "0.052 in", source = "a test's" } }
`
	p := parse(t, text)
	lock, _ := p.Step("lock")
	if got := p.Judges(lock, "dry", 1); len(got) != 1 {
		t.Errorf("judged by %d runs, want 1", len(got))
	}
	if got := lock.Before("locked"); len(got) != 1 || got[0].ID != "dry" || lock.Before("dry") != nil {
		t.Errorf("before locked comes %v", got)
	}
	for _, c := range []struct{ old, new, want string }{
		{`["@reading:dry"]`, `["@reading:dry", "@reading:locked"]`, `test:14:6: step "lock": point "dry" is first and must be in, but nothing says so`},
		{`limits = { mean = { upper = "0.052 in", source = "a test's" } }`, ``, `point "dry" is first and must be in, but nothing says so`},
		{"[[step.point]]\nid = \"locked\"\n", ``, `test:14:6: step "lock": point "dry" is first, but no other point waits for it`},
		{`capture =`, "seatings = 3\ncapture =", `point "dry" is first, and the step asks for 3 seatings`},
		{`first = true`, `first = "yes"`, `first is a text, want true or false`},
	} {
		_, err := plan.Parse("test", []byte(strings.Replace(text, c.old, c.new, 1)))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s:\n got %v\nwant %s", c.new, err, c.want)
		}
	}
}
