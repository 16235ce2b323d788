package calc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"thoud/calc/quantity"
)

// Rules of assign.
const (
	ruleNearest = "nearest"
	ruleWorst   = "least-worst"
	ruleSpread  = "least-spread"
)

// assign says which part goes where: pistons to bores, rods to pistons, shims to buckets.
//
//	fit = place − part (difference: a clearance) or place + part (sum: a mass)
//	nearest       least Σ(fit − wanted)²
//	least-worst   least of the largest |fit − wanted|, then nearest
//	least-spread  least (greatest − least fit), then nearest where wanted is given
//
// Lengths or masses, all in one kind. Fits outside lower … upper are not allowed. Of equally good choices the one whose
// parts, place by place, stand first in their list. Exact: sizes are compared as whole tenths of a micrometre or hundredths
// of a gram; with both lists sorted an optimal pairing keeps their order (rearrangement inequality), so no table of all
// permutations is made. The runner-up is the best choice that differs by more than an exchange of parts of one size; where
// the rule's objective changes by no more than its uncertainty, U = k·√Σ(∂ΔQ/∂x·u)², it is too close to call and said: either
// way. Up to 24 parts. Refused: fewer parts than places, a name given twice, no complete choice within the limits.
// Selective assembly: statistics handbooks (from memory).
func assign() Method {
	sized := func(what string) []Input {
		return []Input{
			{Name: "name", Shape: Text, Doc: "the mark on the " + what},
			{Name: "size", Kind: AnyKind, Doc: "its size or mass, as measured"},
		}
	}
	return Method{
		Name: "assign", Version: 2, Title: "Which part goes where",
		Inputs: []Input{
			{Name: "parts", Shape: Records, Fields: sized("part"), Doc: "the parts to choose from"},
			{Name: "places", Shape: Records, Fields: sized("place"), Doc: "the places, each of which gets one part"},
			{Name: "fit", Shape: Text, Enum: []string{"difference", "sum"}, Optional: true, Doc: "place − part (a clearance; where not given), or place + part (a mass)"},
			{Name: "rule", Shape: Text, Enum: []string{ruleNearest, ruleWorst, ruleSpread}, Optional: true, Doc: "what is best: nearest where wanted is given, else least-spread"},
			{Name: "wanted", Kind: AnyKind, Optional: true, Doc: "fit wanted"},
			{Name: "lower", Kind: AnyKind, Optional: true, Doc: "least fit allowed, inclusive"},
			{Name: "upper", Kind: AnyKind, Optional: true, Doc: "greatest fit allowed, inclusive"},
		},
		Figures: []Figure{
			{Name: "part_number", Kind: quantity.Number, List: true, Choice: true, Doc: "number of the part that each place gets, in the order of the places, counted from 1"},
			{Name: "sizes", Kind: AnyKind, List: true, Picks: &Pick{From: "parts", Field: "size", By: "part_number"}, Doc: "size of the part that each place gets, in the order of the places"},
			{Name: "fits", Kind: AnyKind, List: true, Doc: "fit of each place"},
			{Name: "worst", Kind: AnyKind, Doc: "largest |fit − wanted|"},
			{Name: "spread", Kind: AnyKind, Doc: "greatest less least fit"},
			{Name: "rms", Kind: AnyKind, Doc: "root mean square of fit − wanted"},
			{Name: "runner_up", Text: true, Doc: "the next best choice"},
			{Name: "left_over", Text: true, List: true, Choice: true, Doc: "parts that are not used"},
		},
		Formula:  "fit = place − part or place + part; nearest: least Σ(fit − wanted)²; least-worst: least of the largest |fit − wanted|; least-spread: least (greatest − least fit)",
		Source:   "rearrangement inequality; selective assembly in statistics handbooks (from memory)",
		Cautions: []string{"Mark every part before it is moved.", "Used parts that have run together stay together."},
		Compute:  computeAssign,
	}
}

// mostParts bounds the parts and the places.
const mostParts = 24

// assignQuantum is the step in which sizes of a kind are compared.
func assignQuantum(kind quantity.Kind) float64 {
	switch kind {
	case quantity.Length:
		return 1e-4 // a tenth of a micrometre
	case quantity.Mass:
		return 0.01
	}
	return 1e-6
}

// assignJob is the request read.
type assignJob struct {
	pairing
	rule          string
	part, place   []string // names
	size, room    []float64
	uSize, uRoom  []float64
	wanted        float64
	step          float64
	unit          string
	lower, upper  float64
	hasLow, hasUp bool
}

func computeAssign(in Args, out *Out) error {
	j, err := readAssign(in)
	if err != nil {
		return err
	}
	best, _ := j.least(j.rule, j.none())
	if best == nil {
		return j.impossible()
	}
	numbers, sizes, fits := make([]float64, len(best)), make([]float64, len(best)), make([]float64, len(best))
	for place, part := range best {
		numbers[place] = float64(part + 1)
		sizes[place], fits[place] = j.size[part], j.fitOf(part, place)
	}
	out.SetList("part_number", numbers)
	out.SetList("sizes", sizes)
	out.SetList("fits", fits)
	out.Set("spread", slices.Max(fits)-slices.Min(fits))
	if in.Has("wanted") {
		worst, squares := 0.0, 0.0
		for _, f := range fits {
			worst, squares = math.Max(worst, math.Abs(f-j.wanted)), squares+sq(f-j.wanted)
		}
		out.Set("worst", worst)
		out.Set("rms", math.Sqrt(squares/float64(len(fits))))
	}
	left := []string{}
	for part, name := range j.part {
		if !slices.Contains(best, part) {
			left = append(left, name)
		}
	}
	out.SetText("left_over", left...)
	if out.wantSlopes { // words count in the first computation only, and these take as long as all the rest
		j.setRunnerUp(best, out)
	}
	for place, part := range best {
		out.Adjust(Adjustment{What: j.place[place], Amount: fits[place], Kind: in.Kind("lower"), Direction: "fit",
			Words: j.part[part] + ": " + j.place[place]})
	}
	return nil
}

func (j assignJob) fitOf(part, place int) float64 {
	if j.sum {
		return j.room[place] + j.size[part]
	}
	return j.room[place] - j.size[part]
}

func readAssign(in Args) (assignJob, error) {
	kind := in.Kind("lower")
	j := assignJob{wanted: in.Num("wanted"), step: assignQuantum(kind), unit: quantity.Base(kind).Code}
	j.sum = in.TextOr("fit", "difference") == "sum"
	j.rule = in.TextOr("rule", ruleSpread)
	if in.Has("wanted") && !in.Has("rule") {
		j.rule = ruleNearest
	}
	if j.rule != ruleSpread && !in.Has("wanted") {
		return j, Need("wanted", "the fit wanted, which the rule "+j.rule+" goes by")
	}
	var err error
	if j.part, j.size, j.uSize, err = readSized(in, "parts", j.step); err != nil {
		return j, err
	}
	if j.place, j.room, j.uRoom, err = readSized(in, "places", j.step); err != nil {
		return j, err
	}
	if len(j.part) < len(j.place) {
		return j, Refuse("parts", "list at least one part for each place", "%s for %s", plurals(len(j.part), "part"), plurals(len(j.place), "place"))
	}
	for _, name := range []string{"wanted", "lower", "upper"} {
		if math.Abs(in.Num(name)/j.step) > mostCounts {
			return j, Refuse(name, "check its unit", "%g %s is no fit", in.Num(name), j.unit)
		}
	}
	count := func(x float64) int64 { return int64(math.Round(x / j.step)) }
	for _, s := range j.size {
		j.parts = append(j.parts, count(s))
	}
	for _, s := range j.room {
		j.places = append(j.places, count(s))
	}
	j.pairing.wanted, j.nearest = count(j.wanted), in.Has("wanted")
	j.pairing = j.ordered()
	j.low, j.high = -4*mostCounts, 4*mostCounts
	if j.hasLow = in.Has("lower"); j.hasLow {
		j.lower = in.Num("lower")
		j.low = count(j.lower)
	}
	if j.hasUp = in.Has("upper"); j.hasUp {
		j.upper = in.Num("upper")
		j.high = count(j.upper)
	}
	if j.low > j.high {
		return j, Refuse("lower", "give the lower limit below the upper", "%g %s is over upper, %g", in.Num("lower"), j.unit, in.Num("upper"))
	}
	return j, nil
}

// mostCounts bounds sizes, so that no sum of squares goes beyond what a whole number holds: ten metres.
const mostCounts = 100_000_000

func readSized(in Args, list string, step float64) (names []string, sizes, us []float64, err error) {
	recs := in.Recs(list)
	if len(recs) == 0 || len(recs) > mostParts {
		return nil, nil, nil, Refuse(list, "list those that matter", "%d of them, 1 to %d can be answered", len(recs), mostParts)
	}
	for i, r := range recs {
		name, size := r.Text("name"), r.Num("size")
		if slices.Contains(names, name) {
			return nil, nil, nil, Refuse(fmt.Sprintf("%s[%d].name", list, i), "give each its own mark", "%q is given twice", name)
		}
		if math.Abs(size/step) > mostCounts {
			return nil, nil, nil, Refuse(fmt.Sprintf("%s[%d].size", list, i), "check its unit", "%g is too large", size)
		}
		names, sizes, us = append(names, plainName(name)), append(sizes, size), append(us, r.U("size"))
	}
	return names, sizes, us, nil
}

// plainName takes the braces out of a name, which mean something in a sentence.
func plainName(s string) string {
	return strings.ReplaceAll(strings.ReplaceAll(s, "{", "("), "}", ")")
}

// impossible names the places that go empty and the sizes that would serve them.
func (j assignJob) impossible() error {
	var why []string
	for _, place := range j.empty() {
		low, high := j.room[place]-j.upper, j.room[place]-j.lower
		if j.sum {
			low, high = j.lower-j.room[place], j.upper-j.room[place]
		}
		s := j.place[place]
		switch {
		case j.hasLow && j.hasUp:
			s += fmt.Sprintf(" wants %.4f to %.4f %s", low, high, j.unit)
		case j.hasUp != j.sum:
			s += fmt.Sprintf(" wants %.4f %s or more", low, j.unit)
		default:
			s += fmt.Sprintf(" wants %.4f %s or less", high, j.unit)
		}
		why = append(why, s)
	}
	return Refuse("parts", "add parts of these sizes, or widen the limits", "no choice keeps every fit within its limits: %s", strings.Join(why, "; "))
}

// setRunnerUp finds the next best choice: with each place given each other part in turn, the best that is left.
func (j assignJob) setRunnerUp(best choice, out *Out) {
	var next choice
	objective, second := int64(unpaired), int64(unpaired)
	for place := range best {
		for part := range j.parts {
			if j.parts[part] == j.parts[best[place]] {
				continue
			}
			given := j.none()
			given[place] = part
			c, q := j.leastUnder(given, objective)
			if c == nil {
				continue
			}
			s := j.squares(c)
			if q < objective || q == objective && (s < second || s == second && slices.Compare(c, next) < 0) {
				next, objective, second = c, q, s
			}
		}
	}
	if next == nil {
		return
	}
	var words []string
	for place, part := range next {
		words = append(words, j.part[part]+" to "+j.place[place])
	}
	s := strings.Join(words, ", ")
	if change, u := j.change(best, next); change <= u {
		out.Warn("too close to call: %s would do as well, either way", s)
		s += " (too close to call)"
	}
	out.SetText("runner_up", s)
}

// leastUnder is least, where more than the best objective so far is of no interest.
func (j assignJob) leastUnder(given []int, objective int64) (choice, int64) {
	if j.rule == ruleSpread {
		return j.leastSpread(given, objective)
	}
	return j.least(j.rule, given)
}

// squares is the second criterion, 0 where nothing is wanted.
func (j assignJob) squares(c choice) int64 {
	total := int64(0)
	if j.nearest {
		for _, f := range j.fits(c) {
			total += (f - j.pairing.wanted) * (f - j.pairing.wanted)
		}
	}
	return total
}

// change is by how much the objective is worse with the other choice, and how well that is known.
func (j assignJob) change(best, other choice) (change, uncertainty float64) {
	byPart, byPlace := make([]float64, len(j.size)), make([]float64, len(j.room))
	for i, c := range []choice{best, other} {
		sign := float64(2*i - 1)
		q, slopes := j.objective(c)
		change += sign * q
		for place, s := range slopes {
			byPlace[place] += sign * s
			if j.sum {
				byPart[c[place]] += sign * s
			} else {
				byPart[c[place]] -= sign * s
			}
		}
	}
	uu := 0.0
	for i, s := range byPart {
		uu += sq(s * j.uSize[i])
	}
	for i, s := range byPlace {
		uu += sq(s * j.uRoom[i])
	}
	return change, coverage95 * math.Sqrt(uu)
}

// objective is what the rule makes least, and how it follows the fit of each place.
func (j assignJob) objective(c choice) (q float64, slopes []float64) {
	slopes = make([]float64, len(c))
	low, high, worst := 0, 0, 0
	f := make([]float64, len(c))
	for place, part := range c {
		f[place] = j.fitOf(part, place)
		if f[place] < f[low] {
			low = place
		}
		if f[place] > f[high] {
			high = place
		}
		if math.Abs(f[place]-j.wanted) > math.Abs(f[worst]-j.wanted) {
			worst = place
		}
	}
	switch j.rule {
	case ruleSpread:
		slopes[high]++
		slopes[low]--
		return f[high] - f[low], slopes
	case ruleWorst:
		slopes[worst] = math.Copysign(1, f[worst]-j.wanted)
		return math.Abs(f[worst] - j.wanted), slopes
	}
	for place := range f {
		slopes[place] = 2 * (f[place] - j.wanted)
		q += sq(f[place] - j.wanted)
	}
	return q, slopes
}
