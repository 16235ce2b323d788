package calc

import (
	"slices"
	"testing"

	"thoud/calc/quantity"
)

// bare are the plain numbers that count nothing: likelihoods, shares, frictions, marks and places.
var bare = []string{"f", "p", "r2", "part_number", "factor_now", "share_of_proof", "share_of_load", "mu_thread", "mu_face", "taper_slope", "tooth", "hole_a", "hole_b",
	"tight_turn", "difference", "ratio_spread", "conformity", "greatest_at", "lag1", "k", "dof", "index", "ms_part", "ms_operator", "ms_interaction", "ms_error", "journal-clearance ratio"}

// Every figure that is a plain number has what it counts, or is one of those that count nothing.
func TestEveryNumberSaysWhatItCounts(t *testing.T) {
	for _, m := range Methods() {
		for _, f := range m.Figures {
			if f.Kind == quantity.Number && !f.Text && !f.Flag && f.Unit == "" && !slices.Contains(bare, f.Name) && !slices.Contains(bare, m.Name+" "+f.Name) {
				t.Errorf("%s, %s: give its row a Unit, or name it among those that count nothing (counted_test.go): %s", m.Name, f.Name, f.Doc)
			}
			if f.Unit != "" && f.Kind != quantity.Number {
				t.Errorf("%s, %s: a %s has its units", m.Name, f.Name, f.Kind)
			}
		}
	}
}

func TestCounted(t *testing.T) {
	for _, row := range [][3]string{{"0.05", "flats", "0.05 flats"}, {"1", "turns", "1 turn"}, {"at most 30", "s", "at most 30 s"}, {"9.4, 9.5", ": 1", "9.4, 9.5 : 1"}, {"none", "shims", "none"}, {"", "%", ""}, {"3", "", "3"}} {
		if got := (Shown{row[0], row[0]}).Counted(row[1]); got.MM != row[2] || got.Inch != row[2] {
			t.Errorf("%q of %s: %q, want %q", row[0], row[1], got.MM, row[2])
		}
	}
	for text, want := range map[string]string{
		"inside the limits by at least 20.0": "inside the limits by at least 20.0 s",
		"number 2 of 3: outside by 4":        "number 2 of 3: outside by 4 s",
		"0.5 from the limit, which is less than the uncertainty of 2.3; use a better gauge, take another seating, or make it 2 more, which is clearly inside": "0.5 s from the limit, which is less than the uncertainty of 2.3 s; use a better gauge, take another seating, or make it 2 s more, which is clearly inside",
	} {
		if got := CountedIn(text, "s"); got != want || CountedIn(text, "") != text {
			t.Errorf("%q: %q", text, got)
		}
	}
	if got := (Shown{"± 0.05", "± 0.05"}).CountedU(": 1"); got.MM != "± 0.05" {
		t.Errorf("of a ratio: %q", got.MM)
	}
}
