package view

import (
	"fmt"
	"slices"
	"strings"

	"thoud/capture/bench"
)

// HandRow is how well one kind of step is seated with one gauge.
type HandRow struct{ Sort, Gauge, Scatter, Between, Dof, Jobs string }

// HandRows puts the own hands into lines. A kind of step is called by the steps of it that the build on the bench has; here is nil
// where there is none.
func HandRows(hands []bench.Hand, here *bench.Build) []HandRow {
	var out []HandRow
	for _, h := range hands {
		s, least, most := h.Shown()
		out = append(out, HandRow{sortWords(h.Sort, here), h.Gauge, s, least + " and " + most, fmt.Sprintf("%.0f", h.Scatter.Dof), strings.Join(h.Jobs, ", ")})
	}
	return out
}

// sortWords calls a kind of step by the titles of the steps of it, else by its name.
func sortWords(sort string, here *bench.Build) string {
	var titles []string
	if here != nil {
		for _, step := range here.Plan.Steps {
			if bench.SortOf(step) == sort && !slices.Contains(titles, step.Title) {
				titles = append(titles, step.Title)
			}
		}
	}
	if len(titles) == 0 {
		return strings.ReplaceAll(sort, "-", " ")
	}
	return strings.Join(titles, "; ")
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
