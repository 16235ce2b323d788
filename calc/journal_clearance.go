package calc

import (
	"math"
	"slices"

	"thoud/calc/quantity"
)

// journalClearance: the running clearance of a plain bearing, from bore and journal or from a crushed strip.
//
//	clearance_min = smallest bore − largest journal      clearance_max = largest bore − smallest journal
//	ratio = clearance_min/mean journal                   taper = first place of the journal − last
//	strip: w₀·c₀ = w·c, a crushed strip keeps its cross-section; w₀ and c₀ one mark of its printed scale
//
// Lengths in mm at 20 °C; the bore with the shells in and the nuts at their torque (a housing less two shells is smaller by
// their crush, so it is a check at best), not read within 30° of the joint. Journal readings stand in order along the journal,
// axes of them at each place; ovality is the most that the axes of one place differ. A strip that is wider at one end than at
// the other is a taper: give both widths; taper is then first clearance − last. Refused: bore and strip together or neither, a
// strip without a mark of its scale. 0.00075 to 0.001 of the journal is common practice (from memory), the maker's figure goes
// before it. Plane geometry; the strip computed independently, no published example.
func journalClearance() Method {
	list := func(name, doc string) Input {
		return Input{Name: name, Shape: List, Kind: quantity.Length, Positive: true, Optional: true, Doc: doc}
	}
	return Method{
		Name: "journal-clearance", Version: 1, Title: "Plain bearing clearance",
		Inputs: []Input{
			list("bore", "bore with the shells in, nuts at their torque, at several places and axes"),
			list("journal", "journal diameter, in order along it, axes readings at each place"),
			{Name: "axes", Kind: quantity.Number, Positive: true, Optional: true, Doc: "readings at each place of the journal, 1 where not given"},
			list("strip_width", "width of the crushed strip; from one end to the other where it differs"),
			{Name: "scale_width", Kind: quantity.Length, Positive: true, Optional: true, Doc: "width of one mark of the strip's printed scale"},
			{Name: "scale_clearance", Kind: quantity.Length, Positive: true, Optional: true, Doc: "clearance printed beside that mark"},
		},
		Figures: []Figure{
			{Name: "clearance_min", Kind: quantity.Length, Doc: "least clearance"},
			{Name: "clearance_max", Kind: quantity.Length, Doc: "greatest clearance"},
			{Name: "ratio", Kind: quantity.Number, Doc: "least clearance as a share of the journal"},
			{Name: "taper", Kind: quantity.Length, Doc: "journal at the first place less at the last; of a strip first clearance less last"},
			{Name: "ovality", Kind: quantity.Length, Doc: "most that the journal's axes differ at one place"},
		},
		Formula: "least clearance = smallest bore − largest journal; strip: clearance = scale width·scale clearance/width",
		Source:  "arithmetic; the strip's constant cross-section computed independently; 0.00075 to 0.001 of the journal is common practice (from memory)",
		Cautions: []string{
			"Plain bearings only. Never turn the shaft on a strip; take the strip off before assembly.",
			"Shells and housing clean and dry; oil under a shell reads as clearance lost.",
		},
		Compute: computeJournalClearance,
	}
}

// The share of the journal that is common practice.
const (
	usualLeastRatio = 0.00075
	usualMostRatio  = 0.001
)

func computeJournalClearance(in Args, out *Out) error {
	byBore, byStrip := in.Has("bore"), in.Has("strip_width")
	journal := in.List("journal")
	var least, most float64
	switch {
	case byBore && byStrip:
		return Refuse("strip_width", "give bore and journal, or the strip, and compare the two answers", "bore and strip are both given")
	case byBore:
		if len(journal) == 0 {
			return Need("journal", "the journal's diameters, beside the bore's")
		}
		bore := in.List("bore")
		least, most = slices.Min(bore)-slices.Max(journal), slices.Max(bore)-slices.Min(journal)
	case byStrip:
		for _, name := range []string{"scale_width", "scale_clearance"} {
			if !in.Has(name) {
				return Need(name, "one mark of the strip's printed scale, width and clearance")
			}
		}
		area := in.Num("scale_width") * in.Num("scale_clearance")
		width := in.List("strip_width")
		least, most = area/slices.Max(width), area/slices.Min(width)
		if len(width) > 1 {
			out.Set("taper", area/width[0]-area/width[len(width)-1])
		}
	default:
		return Need("bore", "bore and journal, or strip_width with a mark of its scale")
	}
	out.Set("clearance_min", least)
	out.Set("clearance_max", most)
	if least <= 0 {
		out.Warn("the journal is %.4f mm larger than the bore: it will seize", -least)
	}
	if len(journal) == 0 {
		return nil
	}
	if err := journalForm(in, journal, byBore, out); err != nil {
		return err
	}
	ratio := least / mean(journal)
	out.Set("ratio", ratio)
	if least > 0 && (ratio < usualLeastRatio || ratio > usualMostRatio) {
		out.Warn("the least clearance is %.5f of the journal, where %.5f to %.3f is common practice; the maker's figure goes before it", ratio, usualLeastRatio, usualMostRatio)
	}
	return nil
}

// journalForm sets taper and ovality of the journal.
func journalForm(in Args, journal []float64, taper bool, out *Out) error {
	axes := in.NumOr("axes", 1)
	n := int(math.Min(axes, 1000))
	if axes != math.Trunc(axes) || len(journal)%n != 0 {
		return Refuse("axes", "take the same number of readings at each place", "%s do not make places of %g each", plurals(len(journal), "reading"), axes)
	}
	if first, last := mean(journal[:n]), mean(journal[len(journal)-n:]); taper && len(journal) > n {
		out.Set("taper", first-last)
	}
	if n < 2 {
		return nil
	}
	ovality := 0.0
	for at := 0; at < len(journal); at += n {
		place := journal[at : at+n]
		ovality = math.Max(ovality, slices.Max(place)-slices.Min(place))
	}
	out.Set("ovality", ovality)
	return nil
}
