package calc

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"thoud/calc/quantity"
)

// ringStagger: where to stand the gaps of a piston's rings, evenly round the bore and as far as can be from directions
// to avoid.
//
//	spacing = 360/rings; the first gap goes to the middle of the widest space that the directions leave, modulo spacing
//
// Degrees round the bore, from where the builder counts (thrust face 0 and 180, pin 90 and 270). least_distance is the
// exact optimum; of equally good places the smallest angle. Refused: no rings, no directions. Plane geometry; the habit
// is common practice (rings without pegs turn while running).
func ringStagger() Method {
	return Method{
		Name: "ring-stagger", Version: 1, Title: "Ring gap stagger",
		Inputs: []Input{
			{Name: "rings", Kind: quantity.Number, Positive: true, Doc: "rings on the piston"},
			{Name: "avoid", Shape: List, Kind: quantity.Angle, Doc: "directions no gap should stand in"},
		},
		Figures: []Figure{
			{Name: "spacing", Kind: quantity.Angle, Choice: true, Doc: "angle between gaps"},
			{Name: "least_distance", Kind: quantity.Angle, Doc: "nearest that a gap comes to a direction to avoid"},
			{Name: "offsets", Kind: quantity.Angle, List: true, Choice: true, Doc: "where the gap of each ring stands, top ring first"},
		},
		Formula:  "gaps at φ + k·360/rings, φ in the middle of the widest space the directions leave modulo 360/rings",
		Source:   "plane geometry; common practice",
		Cautions: []string{"Rings are sharp: fingers off the gap when the ring clamp closes.", "Pegged rings stand where their pegs are."},
		Compute:  computeRingStagger,
	}
}

func computeRingStagger(in Args, out *Out) error {
	n := in.Num("rings")
	if n != math.Trunc(n) || n < 1 || n > 8 {
		return Refuse("rings", "count the rings of one piston", "%g is no number of rings", n)
	}
	spacing := 360 / n
	avoid := in.List("avoid")
	if len(avoid) == 0 {
		return Refuse("avoid", "give the thrust faces at least, 0° and 180°", "no direction to avoid")
	}
	for i, a := range avoid {
		avoid[i] = wrap(a, spacing)
	}
	slices.Sort(avoid)
	widest, first := 0.0, math.Inf(1)
	for i, a := range avoid {
		next := avoid[0] + spacing
		if i+1 < len(avoid) {
			next = avoid[i+1]
		}
		at := wrap((a+next)/2, spacing)
		if gap := next - a; gap > widest+1e-9 || gap > widest-1e-9 && at < first {
			widest, first = gap, at
		}
	}
	offsets := make([]float64, int(n))
	var words []string
	for k := range offsets {
		offsets[k] = first + float64(k)*spacing
		words = append(words, strconv.FormatFloat(offsets[k], 'f', 0, 64)+"°")
	}
	out.Set("spacing", spacing)
	out.Set("least_distance", widest/2)
	out.SetList("offsets", offsets)
	out.Adjust(Adjustment{What: "ring gaps", Amount: first, Kind: quantity.Angle, Direction: "stand",
		Words: "{direction} the gaps at " + strings.Join(words, ", ") + ", top ring first"})
	return nil
}
