package monitor

import (
	"testing"
	"time"
)

// TestTriesAreForgotten keeps no more tries than there are callers of late.
func TestTriesAreForgotten(t *testing.T) {
	now := time.Unix(1_700_000_000, 0)
	var list tries
	for i := range 1000 {
		list.fail(string(rune('a'+i)), now)
	}
	now = now.Add(triesWindow + time.Second)
	list.mayTry("me", now)
	list.fail("me", now)
	if len(list.failed) != 1 || len(list.all) != 1 {
		t.Errorf("%d callers and %d tries are remembered, want 1", len(list.failed), len(list.all))
	}
}
