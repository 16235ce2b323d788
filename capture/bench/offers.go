package bench

import (
	"slices"
)

// Offer is a verb that would be accepted now. It is ready to be asked but for what a person Gives with it.
type Offer struct {
	Verb    Verb    `json:"verb"`
	Primary bool    `json:"primary,omitempty"` // what the bench waits for
	Gives   []Given `json:"gives,omitempty"`
}

// Offers lists the verbs that would be accepted now, one row a verb, what the bench waits for first. It asks Decide, so
// it cannot differ from what is done. Where a question is open each of its choices is a row.
func Offers(sc Scene) []Offer {
	sp := SpotOf(sc)
	_, first := nowAt(sc, sp)
	var out []Offer
	if first != nil {
		row, _ := VerbOf(first.Name)
		out = offersOf(sc, row, append([]Verb{*first}, row.drawn(sc, sp)...))
		if len(out) > 0 {
			out[0].Primary = true
		}
	}
	for _, row := range verbRows() {
		if first == nil || row.Name != first.Name {
			out = append(out, offersOf(sc, row, row.drawn(sc, sp))...)
		}
	}
	return out
}

// offersOf gives the first of some arguments that is accepted; of answers, every one that is.
func offersOf(sc Scene, row VerbRow, drawn []Verb) []Offer {
	var out []Offer
	for _, v := range drawn {
		v.Name = row.Name
		if _, err := row.decide(sc, v); err != nil {
			continue
		}
		o := Offer{Verb: bare(v), Gives: row.Gives}
		if v.Reason != "" && len(row.Gives) == 0 {
			o.Gives = []Given{GivesReason} // wanted here, though not always
		}
		if row.Name != DoAnswer {
			return []Offer{o}
		}
		if !slices.ContainsFunc(out, func(p Offer) bool { return p.Verb.Choice == v.Choice }) {
			out = append(out, o)
		}
	}
	return out
}

// bare takes out what a person gives: it was made up to ask with.
func bare(v Verb) Verb {
	b := Verb{Name: v.Name, Gauge: v.Gauge, Place: v.Place, Choice: v.Choice}
	if v.Name != DoDropped {
		b.Item = v.Item
	}
	return b
}

// Offered reports whether a verb would be accepted now, and gives its row.
func Offered(offers []Offer, verb string) (Offer, bool) {
	for _, o := range offers {
		if o.Verb.Name == verb {
			return o, true
		}
	}
	return Offer{}, false
}
