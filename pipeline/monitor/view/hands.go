package view

import (
	"fmt"
	"strings"

	"thoud/capture/bench"
)

// HandRow is how well one kind of step is seated with one gauge.
type HandRow struct{ Sort, Gauge, Scatter, Between, Dof, Jobs string }

// HandRows puts the own hands into lines.
func HandRows(hands []bench.Hand) []HandRow {
	var out []HandRow
	for _, h := range hands {
		s, least, most := h.Shown()
		out = append(out, HandRow{strings.ReplaceAll(h.Sort, "-", " "), h.Gauge, s, least + " and " + most, fmt.Sprintf("%.0f", h.Scatter.Dof), strings.Join(h.Jobs, ", ")})
	}
	return out
}

// HandOffer is a step for which the own hands can be taken.
type HandOffer struct {
	Step, Words string
	Taken       bool
}

// HandOffers puts what is offered into lines.
func HandOffers(all []bench.HandOffer) []HandOffer {
	var out []HandOffer
	for _, o := range all {
		out = append(out, HandOffer{o.Step.ID, o.Words(), o.Taken})
	}
	return out
}
