package hub

import (
	"strings"
	"time"
	"unicode"
)

// Trouble is what is wrong at a bench, as it says itself. It is in no ledger: it comes with each answer, and the newest answer
// counts.
type Trouble struct {
	Words string `json:"words"`
	Since int64  `json:"since"` // µs since 1970: in an answer by the bench's clock, in a report by the hub's
}

// What a bench may say of its troubles: more would be no help to anybody, and a page must stay within a message.
const (
	MostTroubles = 8
	mostSaid     = 300 // letters of one
)

// boundedTroubles are the first few troubles, each cut short and without signs that act on a screen.
func boundedTroubles(all []Trouble) []Trouble {
	if len(all) > MostTroubles {
		all = all[:MostTroubles]
	}
	out := make([]Trouble, 0, len(all))
	for _, t := range all {
		words := strings.Map(func(r rune) rune {
			if !unicode.IsPrint(r) {
				return ' '
			}
			return r
		}, t.Words)
		if letters := []rune(words); len(letters) > mostSaid {
			words = string(letters[:mostSaid]) + " …"
		}
		if words = strings.TrimSpace(words); words != "" {
			out = append(out, Trouble{words, t.Since})
		}
	}
	return out
}

// heardTroubles are a bench's troubles with the time by the hub's own clock: a bench whose clock is wrong, which may be the
// trouble, is not told to have it since some other year. old are those of the answer before: the same trouble keeps its time.
func heardTroubles(h Head, now time.Time, old []Trouble) []Trouble {
	out := boundedTroubles(h.Troubles)
	for i, t := range out {
		out[i].Since = now.UnixMicro() - max(0, h.Now-t.Since)
		for _, o := range old {
			if o.Words == t.Words && o.Since <= out[i].Since {
				out[i].Since = o.Since
			}
		}
	}
	return out
}
