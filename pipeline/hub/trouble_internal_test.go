package hub

import (
	"strings"
	"testing"
	"time"
)

// What a bench says of its troubles is bounded on both ends, and their age is by the hub's clock: here the bench's clock is a
// year behind, and the trouble two hours old.
func TestTroublesHeard(t *testing.T) {
	now := time.Date(2027, 3, 1, 14, 0, 0, 0, time.UTC)
	theirs := now.AddDate(-1, 0, 0)
	h := Head{Now: theirs.UnixMicro(), Troubles: []Trouble{{"the disk is\x1b[2J full\u202e", theirs.Add(-2 * time.Hour).UnixMicro()}, {"", 0}, {strings.Repeat("ä", 1000), theirs.Add(time.Minute).UnixMicro()}}}
	got := heardTroubles(h, now, nil)
	if len(got) != 2 || got[0].Words != "the disk is [2J full" || got[0].Since != now.Add(-2*time.Hour).UnixMicro() {
		t.Fatalf("%+v", got)
	}
	if n := len([]rune(got[1].Words)); n != mostSaid+2 || got[1].Since != now.UnixMicro() {
		t.Errorf("%d letters since %v; one of the future is of now", n, time.UnixMicro(got[1].Since))
	}
	// Said again with another time, it keeps the older one; one that is not said any more is over.
	h.Troubles = []Trouble{{"the disk is\x1b[2J full", h.Now}}
	again := heardTroubles(h, now.Add(time.Minute), got)
	if len(again) != 1 || again[0].Since != got[0].Since {
		t.Errorf("%+v", again)
	}
	h.Troubles = make([]Trouble, 50)
	for i := range h.Troubles {
		h.Troubles[i].Words = "x"
	}
	if got := heardTroubles(h, now, nil); len(got) != MostTroubles {
		t.Errorf("%d are told", len(got))
	}
}
