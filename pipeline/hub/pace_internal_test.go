package hub

import (
	"context"
	"errors"
	"testing"
	"time"
)

// However slow a link is, and however large the entries, a page gets through it, within some tries; where it is quick, full
// pages are asked for soon.
func TestPaceFindsAPageThatGetsThrough(t *testing.T) {
	for _, c := range []struct {
		name           string
		bytesPerSecond float64
		entry          float64 // bytes
		tries          int     // until 2,000 entries are there, at most
	}{
		{"quick", 50e6, 700, 8},
		{"60 kB/s", 60e3, 700, 40},
		{"12 kB/s", 12e3, 700, 130},
		{"3 kB/s", 3e3, 700, 500},
		{"24 kB/s, photographs", 24e3, 700e3, 2200},
	} {
		var p pace
		left, tries := 2000, 0
		for ; left > 0 && tries < 10_000; tries++ {
			most, wait := p.asked()
			got := min(most, left)
			if got > 1 && float64(got)*c.entry > MostBytes {
				got = max(1, int(MostBytes/c.entry))
			}
			took := time.Duration(float64(got) * c.entry / c.bytesPerSecond * float64(time.Second))
			if took > wait {
				p.came(wait, most, 0, context.DeadlineExceeded)
				continue
			}
			p.came(took, most, got, nil)
			left -= got
		}
		if left > 0 || tries > c.tries {
			t.Errorf("%s: %d entries left after %d tries, want none after %d", c.name, left, tries, c.tries)
		}
	}
}

// A bench that is not there is asked as before: what is known at once says nothing of the link.
func TestPaceOfABenchThatIsAway(t *testing.T) {
	var p pace
	for range 20 {
		p.came(0, firstAsk, 0, errors.New("nobody"))
	}
	if most, wait := p.asked(); most != firstAsk || wait != askWait {
		t.Errorf("%d entries, %s", most, wait)
	}
}
