package monitor

import (
	"strings"
	"testing"

	"thoud/capture/plan"
)

// What is remembered of a plan goes with its text: one that was changed is shown as it is now, and one that cannot be read is
// told each time.
func TestAListedPlanIsTheOneThatIsThere(t *testing.T) {
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Parse("first-fit", text)
	if err != nil {
		t.Fatal(err)
	}
	other := strings.Replace(string(text), p.Title, "Another title", 1)
	var known knownPlans
	for range 2 {
		for want, text := range map[string]string{p.Title: string(text), "Another title": other} {
			row, err := known.row("mine", []byte(text), true)
			if err != nil || row.Title != want || !row.Own {
				t.Errorf("row %+v, %v; want the title %q, of the shop's own", row, err, want)
			}
		}
		if _, err := known.row("mine", []byte("title = 3"), true); err == nil {
			t.Error("a text that is no plan is listed as one")
		}
	}
	if len(known.rows) != 2 {
		t.Errorf("%d plans are remembered, want 2", len(known.rows))
	}
	if row, err := known.row("mine", text, false); err != nil || row.Own {
		t.Errorf("row %+v, %v; want one that ships", row, err)
	}
}
