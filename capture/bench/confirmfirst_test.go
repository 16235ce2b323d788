package bench_test

import (
	"testing"

	"thoud/capture/bench"
)

const startPlan = head + `
[[step]]
id = "spark"
title = "Spark"
do = "Read where the spark falls."
phase = "dry"
kind = "measure"
capture = { role = "indicator" }
confirms = [{ id = "earthed", text = "Plug leads are earthed.", first = true }, { id = "capped", text = "The caps are on again." }]
[[step.point]]
id = "left"
`

// What must hold before a hand goes near is asked before the first reading; the rest is asked when all is read.
func TestSomeIsConfirmedBeforeTheFirstReading(t *testing.T) {
	p := newPlay(t, startPlan, dial("dial-1", "indicator"))
	waits := func(now bench.Now, item string) {
		t.Helper()
		got, v := bench.NowOf(p.sc)
		if got != now || v == nil || v.Item != item {
			t.Fatalf("the bench waits for %s %+v, want %s %s", got, v, now, item)
		}
	}
	waits(bench.NowConfirm, "earthed")
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "earthed"})
	waits(bench.NowReading, "")
	p.take("dial-1", "0.0500 in")
	waits(bench.NowConfirm, "capped")
	p.ok(bench.Verb{Name: bench.DoConfirm, Item: "capped"})
	if got, _ := bench.NowOf(p.sc); got != bench.NowLast {
		t.Errorf("the bench waits for %s, want the end", got)
	}
}
