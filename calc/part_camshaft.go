package calc

import (
	"fmt"
	"math"
	"slices"

	"thoud/calc/quantity"
)

// mostLobes bounds the lobes of one camshaft.
const mostLobes = 32

// Rules for one answer to several lobes.
const (
	ruleMean = "mean"
	// ruleWorst as in assign: the largest that is left is made least.
)

// lobeInputs are how a correction is asked of one lobe, or of several on one camshaft.
func lobeInputs() []Input {
	return []Input{
		{Name: "lobes", Shape: Records, Optional: true, Doc: "the lobes of one camshaft, for one answer to all of them", Fields: []Input{
			{Name: "name", Shape: Text, Doc: "which lobe"},
			{Name: "kind", Shape: Text, Enum: []string{"inlet", "exhaust"}, Doc: "inlet or exhaust"},
			{Name: "centre_now", Kind: quantity.Angle, Doc: "its centre as measured, crank degrees: inlet after, exhaust before top dead centre"},
			{Name: "centre_wanted", Kind: quantity.Angle, Doc: "its centre wanted, likewise"},
		}},
		{Name: "rule", Shape: Text, Enum: []string{ruleMean, ruleWorst}, Optional: true, Doc: "of several lobes: the mean, weighted by how well each is known (where not given), or the least of the largest that is left"},
		{Name: "most_advance", Kind: quantity.Angle, Optional: true, Doc: "most the camshaft may be advanced from where it stands, crank degrees (from valve-to-piston)"},
		{Name: "most_retard", Kind: quantity.Angle, Optional: true, Doc: "most it may be retarded, likewise"},
	}
}

func lobeFigures() []Figure {
	return []Figure{
		{Name: "residuals", Kind: quantity.Angle, List: true, Doc: "of several lobes: what each is left with, crank degrees, + = still wants advance"},
		{Name: "span", Kind: quantity.Angle, Doc: "of several lobes: by how much their wants differ, which no key cures, crank degrees"},
	}
}

// lobesAsk is what the lobes of a camshaft ask for: crank degrees, + = advance.
type lobesAsk struct {
	wants []float64
	crank float64 // the one answer
}

// readLobes works out what each lobe wants, + for an inlet that is late, − for an exhaust before the top, and the one answer.
func readLobes(in Args) (lobesAsk, error) {
	recs := in.Recs("lobes")
	if len(recs) > mostLobes {
		return lobesAsk{}, Refuse("lobes", "give the lobes of one camshaft", "%d lobes, at most %d are taken", len(recs), mostLobes)
	}
	var a lobesAsk
	weights, known := make([]float64, len(recs)), true
	var names []string
	for i, r := range recs {
		field := fmt.Sprintf("lobes[%d].centre_now", i)
		d, err := turnedFrom(field, r.Num("centre_now"), r.Num("centre_wanted"))
		if err != nil {
			return a, err
		}
		if r.Text("kind") == "exhaust" {
			d = -d
		}
		if slices.Contains(names, r.Text("name")) {
			return a, Refuse(fmt.Sprintf("lobes[%d].name", i), "give each lobe its own name", "%q is given twice", r.Text("name"))
		}
		names = append(names, r.Text("name"))
		u := math.Hypot(r.U("centre_now"), r.U("centre_wanted"))
		known = known && u > 0
		weights[i] = 1 / (u * u)
		a.wants = append(a.wants, d)
	}
	if in.TextOr("rule", ruleMean) == ruleWorst {
		a.crank = (slices.Max(a.wants) + slices.Min(a.wants)) / 2
		return a, nil
	}
	sum := 0.0
	for i, d := range a.wants {
		w := 1.0
		if known {
			w = weights[i]
		}
		a.crank += w * d
		sum += w
	}
	a.crank /= sum
	return a, nil
}

// turnedFrom is how far a centre lies from where it is wanted, in whichever turn of the cycle the two are written.
func turnedFrom(field string, now, wanted float64) (float64, error) {
	d := signed(now-wanted, cycle)
	if math.Abs(d) >= 180 {
		return 0, Refuse(field, "check whether one of the two is counted from the other top dead centre", "%.1f° and %.1f° are %.0f° apart", now, wanted, math.Abs(d))
	}
	return d, nil
}

// askedOf is the correction asked for, of one lobe or of several, in crank degrees.
func askedOf(in Args, single func() (float64, error), singles ...string) (lobesAsk, error) {
	if in.Has("lobes") {
		for _, name := range singles {
			if in.Has(name) {
				return lobesAsk{}, Refuse(name, "give the one lobe, or lobes", "it is given beside lobes")
			}
		}
		return readLobes(in)
	}
	for _, name := range singles {
		if !in.Has(name) {
			return lobesAsk{}, Need(name, "it, or lobes")
		}
	}
	crank, err := single()
	return lobesAsk{crank: crank}, err
}

// setFigures sets what several lobes are left with after a change, crank degrees.
func (a lobesAsk) setFigures(out *Out, change float64) {
	if len(a.wants) == 0 {
		return
	}
	left := make([]float64, len(a.wants))
	for i, d := range a.wants {
		left[i] = d - change
	}
	out.SetList("residuals", left)
	span := slices.Max(a.wants) - slices.Min(a.wants)
	out.Set("span", span)
	if span > 3 {
		out.Warn("the lobes differ by %.1f° of crank in what they want: that is lobe separation, and no key cures it", span)
	}
}

// allowed is the range of change allowed, crank degrees; infinite where not given.
func allowedTurn(in Args) (least, most float64, err error) {
	least, most = math.Inf(-1), math.Inf(1)
	if in.Has("most_advance") {
		most = in.Num("most_advance")
	}
	if in.Has("most_retard") {
		least = -in.Num("most_retard")
	}
	if least > most {
		return 0, 0, Refuse("most_advance", "make more room for the valves first", "at most %.1f° of advance and at most %.1f° of retard leave nothing that is allowed", most, -least)
	}
	return least, most, nil
}
