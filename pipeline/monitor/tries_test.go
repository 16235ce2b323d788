package monitor

import (
	"testing"
	"time"
)

// TestTriesAreForgotten keeps no more tries than there are callers of late.
func TestTriesAreForgotten(t *testing.T) {
	now := time.Unix(1_700_000_000, 0)
	a := &access{now: func() time.Time { return now }, tries: map[string][]time.Time{}}
	for i := range 1000 {
		a.mayTry(string(rune('a' + i)))
	}
	now = now.Add(triesWindow + time.Second)
	a.mayTry("me")
	if len(a.tries) != 1 {
		t.Errorf("%d callers are remembered, want 1", len(a.tries))
	}
}
