package calc

import (
	"cmp"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"thoud/calc/quantity"
)

const mostExtensions = 16 // every subset is tried: 65,536 of them

// indicatorExtension chooses the extensions with which an indicator follows the piston through the plug hole.
//
//	window_low  = depth − reach + drop + min_compression
//	window_high = depth − reach + travel − margin
//	compression at TDC = reach + ΣE − depth
//
// mm. Of the sets whose sum lies in the window (both ends inclusive, compared in tenths of a nanometre) the one with the
// fewest pieces is chosen, then the one nearest the middle of the window, then the thickest first. Extensions change the
// zero, never the movement. Refused: an indicator whose travel is too short for the drop; no set that fits. Arithmetic.
func indicatorExtension() Method {
	return Method{
		Name: "indicator-extension", Version: 1, Title: "Extensions for an indicator in the plug hole",
		Inputs: []Input{
			{Name: "depth_to_crown", Kind: quantity.Length, Positive: true, Doc: "from the indicator's seat to the crown at TDC"},
			{Name: "reach", Kind: quantity.Length, Positive: true, Doc: "from the indicator's seat to its contact, extended, without extensions"},
			{Name: "travel", Kind: quantity.Length, Positive: true, Doc: "travel of the indicator"},
			{Name: "drop", Kind: quantity.Length, Positive: true, Doc: "piston drop to be followed"},
			{Name: "min_compression", Kind: quantity.Length, Doc: "least compression to keep at the end of the drop"},
			{Name: "margin", Kind: quantity.Length, Doc: "travel to keep in hand at TDC"},
			{Name: "available", Shape: List, Kind: quantity.Length, Positive: true, Doc: "the extensions in the box, one entry a piece"},
			{Name: "max_pieces", Kind: quantity.Number, Optional: true, Doc: "most pieces to screw together"},
		},
		Figures: []Figure{
			{Name: "window_low", Kind: quantity.Length, Doc: "least sum of extensions"},
			{Name: "window_high", Kind: quantity.Length, Doc: "greatest sum of extensions"},
			{Name: "chosen", Kind: quantity.Length, List: true, Choice: true, Doc: "the pieces to screw on, longest first"},
			{Name: "total", Kind: quantity.Length, Doc: "their sum"},
			{Name: "compression_at_tdc", Kind: quantity.Length, Doc: "compression of the plunger at TDC"},
			{Name: "valid_sets", Kind: quantity.Number, Choice: true, Unit: "sets", Doc: "how many sets of lengths would do"},
		},
		Formula:  "depth − reach + drop + min_compression ≤ ΣE ≤ depth − reach + travel − margin",
		Source:   "plane geometry, computed independently",
		Cautions: []string{"Turn by hand, plugs out.", "An extension that works loose falls into the engine: nip each one, count them out again."},
		Compute:  computeIndicatorExtension,
	}
}

func computeIndicatorExtension(in Args, out *Out) error {
	base := in.Num("depth_to_crown") - in.Num("reach")
	low, high := base+in.Num("drop")+in.Num("min_compression"), base+in.Num("travel")-in.Num("margin")
	stock := in.List("available")
	if len(stock) > mostExtensions {
		return &InputError{"available", fmt.Sprintf("%d pieces", len(stock)), fmt.Sprintf("at most %d", mostExtensions)}
	}
	most := in.NumOr("max_pieces", float64(len(stock)))
	if most < 0 || most != math.Trunc(most) {
		return &InputError{"max_pieces", fmt.Sprint(most), "a whole number of pieces"}
	}
	if tenths(low) > tenths(high) {
		return Refuse("travel", "use an indicator with more travel or follow less of the drop",
			"%.3f mm is too short for a drop of %.3f mm with the compression and margin asked for", in.Num("travel"), in.Num("drop"))
	}
	best, sets := chooseExtensions(stock, low, high, int(most))
	if best == nil {
		return Refuse("available", "add a piece that brings the sum into the window", "no set of these pieces adds up to between %.3f and %.3f mm", low, high)
	}
	total := 0.0
	for _, e := range best {
		total += e
	}
	out.Set("window_low", low)
	out.Set("window_high", high)
	out.SetList("chosen", best)
	out.Set("total", total)
	out.Set("compression_at_tdc", in.Num("reach")+total-in.Num("depth_to_crown"))
	out.Set("valid_sets", float64(sets))
	a := Adjustment{What: "extensions", Amount: total, Kind: quantity.Length, Direction: "fit", Pieces: best, Words: "screw on {amount} of extensions: {pieces}"}
	if len(best) == 0 {
		a.Words, a.Direction = "no extension needed", "none"
	}
	out.Adjust(a)
	return nil
}

// chooseExtensions tries every subset; sets counts those of different lengths that fit.
func chooseExtensions(stock []float64, low, high float64, most int) (best []float64, sets int) {
	pieces := slices.Clone(stock)
	slices.SortFunc(pieces, func(a, b float64) int { return cmp.Compare(b, a) })
	seen := map[string]bool{}
	bestMiss := int64(0)
	lo, hi := tenths(low), tenths(high)
	for mask := range 1 << len(pieces) {
		if bits.OnesCount(uint(mask)) > most {
			continue
		}
		sum := int64(0)
		set := []float64{}
		for i, e := range pieces {
			if mask>>i&1 == 1 {
				sum += tenths(e)
				set = append(set, e)
			}
		}
		if sum < lo || sum > hi {
			continue
		}
		key := fmt.Sprint(set)
		if seen[key] {
			continue
		}
		seen[key] = true
		miss := 2*sum - lo - hi
		if miss < 0 {
			miss = -miss
		}
		better := cmp.Or(cmp.Compare(len(best), len(set)), cmp.Compare(bestMiss, miss), slices.Compare(set, best)) > 0
		if best == nil || better {
			best, bestMiss = set, miss
		}
	}
	return best, len(seen)
}

// tenths is a length in whole tenths of a nanometre.
func tenths(mm float64) int64 { return int64(math.Round(mm * quantity.PerMillimetre)) }
