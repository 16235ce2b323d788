package sheet

import (
	"fmt"
	"strings"
	"testing"

	"thoud/calc"
	"thoud/calc/quantity"
)

// figure is one with a value and, where a limit is given, a verdict on it.
func figure(name, limit string, v float64, large bool) Figure {
	f := Figure{Name: name, Value: &v, Large: large, Shown: calc.Shown{MM: fmt.Sprintf("%.2f mm", v), Inch: fmt.Sprintf("%.4f in", v/25.4)}}
	if limit != "" {
		f.Limit, f.Verdict = &Limit{Shown: calc.Shown{MM: limit, Inch: limit}}, calc.VerdictIn
	}
	return f
}

// A line stands for figures of one limit: a wider limit of another place beside it would say that a figure is wanted where it
// is not. Inlet and exhaust, piston boss and rod eye have limits of their own.
func TestALineHasOneLimit(t *testing.T) {
	st := Step{Number: 1, ID: "valve-to-piston", Title: "Valves to pistons", Runs: []Run{
		{Key: "left.inlet", Figures: []Figure{figure("min-clearance", "at least 2", 2.7, true)}},
		{Key: "right.inlet", Figures: []Figure{figure("min-clearance", "at least 2", 2.6, true)}},
		{Key: "left.exhaust", Figures: []Figure{figure("min-clearance", "at least 2.5", 3.6, true)}},
		{Key: "right.exhaust", Figures: []Figure{figure("min-clearance", "at least 2.5", 3.7, true)}},
		{Key: "told", Figures: []Figure{figure("min-clearance", "", 0.1, true)}},
	}}
	var got []string
	for _, l := range linesOf(st) {
		got = append(got, strings.Join([]string{l.keys(), l.values(quantity.Metric), l.wanted(quantity.Metric)}, "; "))
	}
	want := []string{"left, inlet / right, inlet; 2.70 / 2.60 mm; at least 2", "left, exhaust / right, exhaust; 3.60 / 3.70 mm; at least 2.5", "told; 0.10 mm; "}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// The first page has room for twenty figures: every step says its first before any says its second, the latest steps, which
// are what leaves the shop, before the earlier ones; a figure that is not in comes before all.
func TestTheFirstPageHasTheFinishedFigures(t *testing.T) {
	var g group
	g.part = parts[2]
	for i := 1; i <= 30; i++ {
		st := Step{Number: i, ID: fmt.Sprintf("block-%d", i), Title: fmt.Sprintf("Step %d", i), Method: fmt.Sprintf("method-%d", i),
			Runs: []Run{{Figures: []Figure{figure("first", "at most 9", 1, true), figure("second", "at most 9", 1, true)}}}}
		g.Steps, g.Lines = append(g.Steps, st), append(g.Lines, linesOf(st)...)
	}
	g.Lines[3].Figures[0].Figure.Verdict = calc.VerdictOut
	var got []string
	for _, l := range onFront([]group{g})[0].Lines {
		got = append(got, fmt.Sprint(l.Step.Number, l.Name))
	}
	want := []string{"2second"}
	for i := 12; i <= 30; i++ {
		want = append(want, fmt.Sprint(i, "first"))
	}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got  %v\nwant %v", got, want)
	}
}
