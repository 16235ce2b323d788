package chart_test

import (
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"thoud/calc/chart"
	"thoud/calc/quantity"
)

var dots = regexp.MustCompile(`<circle class="[^"]*" cx="([0-9.]+)"`)

// TestBuildsOfOneDayStandBesideOneAnother: where builds lie so close in time that what is known of one stands on the other's, they are
// drawn in their order and their day is said; builds of different years keep their scale of years.
func TestBuildsOfOneDayStandBesideOneAnother(t *testing.T) {
	day := time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC)
	for _, row := range []struct {
		name string
		at   []time.Time
		want string
		none string
	}{
		{"one day", []time.Time{day, day.Add(2 * time.Hour), day.Add(3 * time.Hour)}, "build, in order, all of 2026-11-26", "|2026|"},
		{"two of three in a week", []time.Time{day.AddDate(-6, 0, 0), day, day.AddDate(0, 0, 3)}, "build, in order", "|2026|"},
		{"years apart", []time.Time{day.AddDate(-4, 0, 0), day.AddDate(-2, 0, 0), day}, "|year|", "in order"},
	} {
		s := chart.Series{Title: "Deck", Kind: quantity.Length}
		for i, at := range row.at {
			s.Values = append(s.Values, chart.Value{Label: "job " + strconv.Itoa(17+i), At: at, Value: -0.02 + 0.001*float64(i), U: 0.003})
		}
		svg, ok := chart.History(s, quantity.Inch)
		if !ok {
			t.Fatal(row.name)
		}
		texts, _ := textsAndLines(t, svg)
		said := "|"
		for _, x := range texts {
			said += x.words + "|"
		}
		if !strings.Contains(said, row.want) || strings.Contains(said, row.none) {
			t.Errorf("%s: %s", row.name, said)
		}
		if row.name == "two of three in a week" && !strings.Contains(said, "job 18, 2026-11-26: −0.0") {
			t.Errorf("%s: no day beside a build, or a hyphen for a minus: %s", row.name, said)
		}
		last := 0.0
		for _, m := range dots.FindAllStringSubmatch(svg, -1) {
			x, _ := strconv.ParseFloat(m[1], 64)
			if x-last < 20 {
				t.Errorf("%s: a build stands %.1f beside the one before", row.name, x-last)
			}
			last = x
		}
	}
}
