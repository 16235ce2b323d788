package store

import (
	"fmt"
	"math"
	"slices"

	"thoud/calc"
)

// How far a figure computed again may be from the stored one: as a share of itself, or of its uncertainty; and how far
// an uncertainty may be, as a share of itself. Processors fuse multiply and add differently, so equality to the last bit
// cannot be asked for, and where a figure is worse conditioned a millionth of its uncertainty means nothing to anybody.
const (
	agreeWithin  = 1e-9
	agreeOfU     = 1e-6
	agreeUWithin = 1e-6
	nothingOfU   = 1e-15
)

// differs says where a result computed again is another than the stored one; "" where it agrees.
func differs(stored, again calc.Result) string {
	if (stored.Refused == "") != (again.Refused == "") {
		return fmt.Sprintf("stored as refused %q, computed again refused %q", stored.Refused, again.Refused)
	}
	if len(stored.Figures) != len(again.Figures) {
		return fmt.Sprintf("%d figures are stored, computed again there are %d", len(stored.Figures), len(again.Figures))
	}
	for i, f := range stored.Figures {
		if what := figureDiffers(f, again.Figures[i]); what != "" {
			return what
		}
	}
	if len(stored.Adjustment) != len(again.Adjustment) {
		return fmt.Sprintf("%d adjustments are stored, computed again there are %d", len(stored.Adjustment), len(again.Adjustment))
	}
	for i, a := range stored.Adjustment {
		b := again.Adjustment[i]
		if a.What != b.What || a.Direction != b.Direction || a.Kind != b.Kind || !near(a.Amount, b.Amount, largestU(stored)) || !nearAll(a.Pieces, b.Pieces, 0) {
			return fmt.Sprintf("adjustment of %s: %s %.12g is stored, computed again it is %s %.12g", a.What, a.Direction, a.Amount, b.Direction, b.Amount)
		}
	}
	if stored.Verdict != again.Verdict {
		return fmt.Sprintf("verdict %q is stored, computed again it is %q", stored.Verdict, again.Verdict)
	}
	return ""
}

func figureDiffers(a, b calc.FigureResult) string {
	if a.Name != b.Name || a.Kind != b.Kind {
		return fmt.Sprintf("figure %s is stored, computed again there is %s", a.Name, b.Name)
	}
	if (a.Value == nil) != (b.Value == nil) {
		return a.Name + ": stored with another shape than computed again"
	}
	if a.Value != nil && !near(*a.Value, *b.Value, a.U) {
		return fmt.Sprintf("%s: %.12g is stored, computed again it is %.12g", a.Name, *a.Value, *b.Value)
	}
	if !nearAll(a.List, b.List, a.U) {
		return fmt.Sprintf("%s: %.12g is stored, computed again it is %.12g", a.Name, a.List, b.List)
	}
	if !slices.EqualFunc(a.Grid, b.Grid, func(x, y []float64) bool { return nearAll(x, y, a.U) }) {
		return fmt.Sprintf("%s: the table stored is another than the one computed again", a.Name)
	}
	if !slices.Equal(a.Text, b.Text) {
		return fmt.Sprintf("%s: %q is stored, computed again it is %q", a.Name, a.Text, b.Text)
	}
	if !nearU(a.U, b.U) || !slices.EqualFunc(a.ULists, b.ULists, nearU) || !nearU(a.K, b.K) {
		return fmt.Sprintf("%s: U %.12g is stored, computed again it is %.12g", a.Name, a.U, b.U)
	}
	if !slices.EqualFunc(a.Common, b.Common, func(x, y calc.Component) bool { return x.Shared == y.Shared && nearU(x.U, y.U) }) {
		return a.Name + ": what it has in common with other figures is stored otherwise than it is computed again"
	}
	if a.Verdict != b.Verdict {
		return fmt.Sprintf("%s: verdict %q is stored, computed again it is %q", a.Name, a.Verdict, b.Verdict)
	}
	return ""
}

// near holds two numbers against each other; u is the uncertainty to measure by, 0 for none.
func near(a, b, u float64) bool {
	if a == b || math.IsNaN(a) && math.IsNaN(b) {
		return true
	}
	return math.Abs(a-b) <= max(agreeWithin*max(math.Abs(a), math.Abs(b)), agreeOfU*u)
}

// nearU holds two uncertainties, or what belongs to them, against each other.
func nearU(a, b float64) bool {
	// Of a figure that nothing moves only the rounding of the processor is left: no uncertainty at all, in any unit.
	return math.Abs(a-b) <= max(agreeUWithin*max(math.Abs(a), math.Abs(b)), nothingOfU)
}

func nearAll(a, b []float64, u float64) bool {
	return slices.EqualFunc(a, b, func(x, y float64) bool { return near(x, y, u) })
}

func largestU(r calc.Result) float64 {
	u := 0.0
	for _, f := range r.Figures {
		u = max(u, f.U)
	}
	return u
}
