package monitor

import (
	"strings"
	"testing"
)

// A text of one or two signs is looked for in the newest entries, and the page says in which; a longer one, one within a
// build, and one in a short ledger are looked for everywhere.
func TestAShortTextIsLookedForInTheNewestEntries(t *testing.T) {
	for _, row := range []struct {
		f          Filter
		last, from uint64
		says       string
	}{
		{Filter{Text: "ab"}, 1_000_000, 995_001, "entries 995001 to 1000000"},
		{Filter{Text: "ä", To: 500_000}, 1_000_000, 495_001, "entries 495001 to 500000"},
		{Filter{Text: "abc"}, 1_000_000, 0, ""},
		{Filter{Text: "ab", Build: "17"}, 1_000_000, 0, ""},
		{Filter{Text: "ab"}, 4_000, 0, ""},
		{Filter{}, 1_000_000, 0, ""},
	} {
		got := row.f.shorten(row.last)
		if row.f.From != row.from || (got == "") != (row.says == "") || !strings.Contains(got, row.says) {
			t.Errorf("%+v of %d: %q", row.f, row.last, got)
		}
	}
}
