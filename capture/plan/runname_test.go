package plan_test

import (
	"testing"

	"thoud/capture/plan"
)

// People read words, not names of tables.
func TestRunNamesAreWords(t *testing.T) {
	for key, want := range map[string]string{
		"": "", "left": "left", "right.inlet": "right inlet", "lobes-apart": "lobes apart", "mean-spread": "apart",
		"clearance-now-spread": "clearance now apart", "left.mean-spread": "left apart", "clearance-min-spread": "least clearance apart",
	} {
		if got := plan.RunName(key); got != want {
			t.Errorf("%q is called %q, want %q", key, got, want)
		}
	}
}
