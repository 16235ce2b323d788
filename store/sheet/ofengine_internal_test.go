package sheet

import (
	"testing"

	"thoud/calc/quantity"
)

// TestNoDrawingOfAnotherEngineStandsOnTheSheet: of the drawings of a group those of a parallel twin stand on the sheet of one alone.
func TestNoDrawingOfAnotherEngineStandsOnTheSheet(t *testing.T) {
	g := group{part: part{Drawings: []string{"block-read", "bolts", "cone-seat"}}, Steps: []Step{{ID: "block-contact", Runs: []Run{{Key: "inlet"}}}, {ID: "head-bolts", Runs: []Run{{}}}, {ID: "block-seat", Runs: []Run{{Key: "inlet"}}}}}
	both := []string{"left", "right"}
	for _, row := range []struct {
		name              string
		cylinders, blocks []string
		want              int
	}{{"a twin", both, both, 3}, {"a twin with two camshafts", both, []string{"inlet", "exhaust"}, 2}, {"a single", []string{"single"}, []string{"single"}, 1}, {"not known", nil, nil, 3}} {
		if got := (Sheet{cylinders: row.cylinders, blocks: row.blocks}).drawingsOf(g, quantity.Inch); len(got) != row.want {
			t.Errorf("%s: %d drawings, want %d", row.name, len(got), row.want)
		}
	}
}
