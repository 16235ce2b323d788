package calc

import (
	"fmt"
	"math"

	"thoud/calc/quantity"
)

// uncertainty states repeated readings of one thing with their expanded uncertainty.
//
//	u_a = s/√n, ν n − 1         resolution δ: δ/√12         calibration U/k
//	temperature                 mean·α·ΔT_limits/√3 and mean·Δα_limits·|T − 20|/√3
//	extra                       |sensitivity|·u
//	u_c² = Σ u²                 ν = u_c⁴/Σ u⁴/νᵢ, truncated          U = t_p(ν)·u_c
//
// In the unit of the readings; JCGM 100:2008 (GUM) 4.2, 4.3, 5.1, G.4. The components are taken as independent. Refused:
// fewer than two readings, as one has no scatter.
func uncertainty() Method {
	return Method{
		Name: "uncertainty", Version: 1, Title: "Readings with their uncertainty",
		Inputs: []Input{
			{Name: "readings", Shape: List, Kind: AnyKind, Doc: "repeated readings of one thing"},
			{Name: "resolution", Kind: AnyKind, Positive: true, Doc: "one step of the display"},
			{Name: "calibration", Shape: Record, Optional: true, Doc: "of the gauge or master, from its certificate", Fields: []Input{
				{Name: "U", Kind: AnyKind, Doc: "expanded uncertainty"},
				{Name: "k", Kind: quantity.Number, Positive: true, Doc: "its coverage factor"},
				{Name: "dof", Kind: quantity.Number, Positive: true, Optional: true, Doc: "degrees of freedom, infinite where not given"},
			}},
			{Name: "temperature", Shape: Record, Optional: true, Doc: "how well temperature and expansion are known", Fields: []Input{
				{Name: "limits", Kind: quantity.Difference, Optional: true, Doc: "half-width of the temperature's limits"},
				{Name: "alpha", Kind: quantity.Expansion, Optional: true, Doc: "expansion that is not compensated"},
				{Name: "alpha_limits", Kind: quantity.Expansion, Optional: true, Doc: "half-width of the difference of expansion between work and master"},
				{Name: "away", Kind: quantity.Difference, Optional: true, Doc: "how far the temperature was from 20 °C"},
				{Name: "dof", Kind: quantity.Number, Positive: true, Optional: true, Doc: "degrees of freedom of both, infinite where not given"},
			}},
			{Name: "extra", Shape: Records, Optional: true, Doc: "other components", Fields: []Input{
				{Name: "name", Shape: Text, Optional: true, Doc: "what it is"},
				{Name: "u", Kind: AnyKind, Doc: "standard uncertainty"},
				{Name: "dof", Kind: quantity.Number, Positive: true, Optional: true, Doc: "degrees of freedom, infinite where not given"},
				{Name: "sensitivity", Kind: quantity.Number, Optional: true, Doc: "change of the result per unit, 1 where not given"},
			}},
			{Name: "level", Kind: quantity.Number, Positive: true, Optional: true, Doc: "coverage probability, 0.95 where not given"},
		},
		Figures: []Figure{
			{Name: "mean", Kind: AnyKind, Choice: true, Doc: "mean of the readings"},
			{Name: "u_a", Kind: AnyKind, Choice: true, Doc: "standard uncertainty of the mean from the scatter"},
			{Name: "u_resolution", Kind: AnyKind, Choice: true, Doc: "from the display's step"},
			{Name: "u_c", Kind: AnyKind, Choice: true, Doc: "combined standard uncertainty"},
			{Name: "dof", Kind: quantity.Number, Choice: true, Doc: "effective degrees of freedom, truncated; not given where infinite"},
			{Name: "k", Kind: quantity.Number, Choice: true, Doc: "coverage factor"},
			{Name: "U", Kind: AnyKind, Choice: true, Doc: "expanded uncertainty"},
		},
		Formula:  "u_c² = s²/n + δ²/12 + (U_cal/k)² + …; ν = u_c⁴/Σ(u⁴/ν), truncated; U = t(ν)·u_c",
		Source:   "JCGM 100:2008 (GUM)",
		Cautions: []string{"What is not listed is not in it: how the part was held and set up usually counts for more than the gauge."},
		Compute:  computeUncertainty,
	}
}

// budget adds independent components.
type budget struct{ uu, welch float64 }

func (b *budget) add(u, dof float64) {
	b.uu += u * u
	if dof > 0 {
		b.welch += u * u * u * u / dof
	}
}

// dof is the effective degrees of freedom, truncated; 0 where infinite.
func (b *budget) dof() float64 {
	if b.welch == 0 {
		return 0
	}
	return math.Max(1, math.Floor(b.uu*b.uu/b.welch))
}

func computeUncertainty(in Args, out *Out) error {
	x := in.List("readings")
	if len(x) < 2 {
		return Refuse("readings", "take it again at least once, better four times", "one reading has no scatter")
	}
	level := in.NumOr("level", 0.95)
	if level >= 1 {
		return &InputError{"level", fmt.Sprint(level), "a coverage probability between 0 and 1, as 0.95"}
	}
	s := summarise(x)
	var b budget
	ua := s.sd / math.Sqrt(float64(len(x)))
	b.add(ua, float64(len(x)-1))
	ur := in.Num("resolution") / math.Sqrt(12)
	b.add(ur, 0)
	if in.Has("calibration") {
		c := in.Rec("calibration")
		b.add(c.Num("U")/c.Num("k"), c.Num("dof"))
	}
	if in.Has("temperature") {
		if err := addTemperature(&b, in.Rec("temperature"), s.mean); err != nil {
			return err
		}
	}
	for _, e := range in.Recs("extra") {
		b.add(e.Num("u")*e.NumOr("sensitivity", 1), e.Num("dof"))
	}
	uc, dof := math.Sqrt(b.uu), b.dof()
	k := Coverage(level, dof)
	out.Set("mean", s.mean)
	out.Set("u_a", ua)
	out.Set("u_resolution", ur)
	out.Set("u_c", uc)
	if dof > 0 {
		out.Set("dof", dof)
	}
	out.Set("k", k)
	out.Set("U", k*uc)
	return nil
}

func addTemperature(b *budget, t Args, mean float64) error {
	switch {
	case t.Has("limits") != t.Has("alpha"):
		return Need("temperature.alpha", "limits and alpha together")
	case t.Has("alpha_limits") != t.Has("away"):
		return Need("temperature.away", "alpha_limits and away together")
	case !t.Has("limits") && !t.Has("away"):
		return Need("temperature.limits", "limits and alpha, or alpha_limits and away")
	}
	dof := t.Num("dof")
	if t.Has("limits") {
		b.add(mean*t.Num("alpha")*t.Num("limits")/math.Sqrt(3), dof)
	}
	if t.Has("away") {
		b.add(mean*t.Num("alpha_limits")*t.Num("away")/math.Sqrt(3), dof)
	}
	return nil
}
