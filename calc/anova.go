package calc

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"thoud/calc/quantity"
)

// anova is the one-way analysis of variance: do groups differ by more than their own scatter?
//
//	f = MS_between/MS_within    residual_sd = √MS_within    r2 = SS_between/SS_total
//	between_sd = √max(0, (MS_between − MS_within)/n₀),  n₀ = (N − Σn²/N)/(k − 1)
//
// In the unit of the values. Refused: fewer than two groups, no group with two values, no scatter within the groups.
// Searle, Casella and McCulloch, Variance Components (from memory).
func anova() Method {
	return Method{
		Name: "anova", Version: 2, Title: "Do groups of readings differ?",
		Inputs: []Input{{Name: "groups", Shape: Record, Doc: "values by the name of the group: seatings, people, days",
			Fields: []Input{{Name: AnyName, Shape: List, Kind: AnyKind, Doc: "values of one group"}}}},
		Figures: []Figure{
			{Name: "f", Kind: quantity.Number, Doc: "variance ratio"},
			{Name: "p", Kind: quantity.Number, Scatter: true, Doc: "how likely a ratio as large is by chance alone"},
			{Name: "residual_sd", Kind: AnyKind, Doc: "scatter within the groups"},
			{Name: "r2", Kind: quantity.Number, Doc: "share of the scatter that lies between the groups"},
			{Name: "between_sd", Kind: AnyKind, Doc: "scatter of the groups themselves"},
		},
		Formula:  "F = MS_between/MS_within; between_sd = √max(0, (MS_between − MS_within)/n0)",
		Source:   "one-way analysis of variance; NIST StRD SiRstv as the check",
		Cautions: []string{"Groups that do not differ here may still share one error: a zero, a master."},
		Compute:  computeAnova,
	}
}

func computeAnova(in Args, out *Out) error {
	groups := in.Rec("groups")
	var all []float64
	var lists [][]float64
	for _, name := range groups.Names() {
		lists = append(lists, groups.List(name))
		all = append(all, groups.List(name)...)
	}
	k, n := float64(len(lists)), float64(len(all))
	if len(lists) < 2 || n <= k {
		return Refuse("groups", "give two groups or more, and two values or more in at least one of them", "%s with %g values", plurals(len(lists), "group"), n)
	}
	// About the first value: the sums of squares of 196.3052 ± 0.1 would lose half of their digits.
	grand := summarise(all)
	var between, within sum
	squares := 0.0
	for _, l := range lists {
		s := summarise(l)
		m := float64(len(l))
		d := s.mean - grand.mean
		between.add(m * d * d)
		within.add(s.sd * s.sd * (m - 1))
		squares += m * m
	}
	msb, msw := between.total()/(k-1), within.total()/(n-k)
	if msw <= 0 {
		return Refuse("groups", "give readings with more digits", "the values within each group are all the same, so there is no scatter to compare with")
	}
	f := msb / msw
	n0 := (n - squares/n) / (k - 1)
	out.Set("f", f)
	out.Set("p", distuv.F{D1: k - 1, D2: n - k}.Survival(f))
	out.Set("residual_sd", math.Sqrt(msw))
	out.Set("r2", between.total()/(between.total()+within.total()))
	out.Set("between_sd", math.Sqrt(math.Max(0, (msb-msw)/n0)))
	return nil
}

func plurals(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
