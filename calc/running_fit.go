package calc

import (
	"math"

	"thoud/calc/quantity"
)

// runningFit is the clearance of a shaft in its hole as measured, at 20 °C and hot.
//
//	clearance       = hole − shaft                                  as measured
//	at 20 °C        = hole/(1 + α_h·(T_h − 20)) − shaft/(1 + α_s·(T_s − 20))
//	hot             = hole₂₀·(1 + α_h·ΔT_h) − shaft₂₀·(1 + α_s·ΔT_s)   rises ΔT from 20 °C
//
// Diameters in mm, temperatures in °C, rises in K, α in 1/K; + = clearance, − = interference. A diameter without a
// temperature was measured at 20 °C. Refused: a temperature or rise whose coefficient is not given. ISO 1 and linear
// expansion.
func runningFit() Method {
	return Method{
		Name: "running-fit", Version: 1, Title: "Running fit, cold and hot",
		Inputs: []Input{
			{Name: "hole", Kind: quantity.Length, Positive: true, Doc: "diameter of the hole, the least that was read"},
			{Name: "shaft", Kind: quantity.Length, Positive: true, Doc: "diameter of the shaft, the greatest that was read"},
			{Name: "alpha_hole", Kind: quantity.Expansion, Optional: true, Doc: "expansion of the hole's metal"},
			{Name: "alpha_shaft", Kind: quantity.Expansion, Optional: true, Doc: "expansion of the shaft's metal"},
			{Name: "hole_temperature", Kind: quantity.Temperature, Optional: true, Doc: "of the hole when it was measured; 20 °C where not given"},
			{Name: "shaft_temperature", Kind: quantity.Temperature, Optional: true, Doc: "of the shaft when it was measured; 20 °C where not given"},
			{Name: "hole_rise", Kind: quantity.Difference, Optional: true, Doc: "rise of the hole from 20 °C when running"},
			{Name: "shaft_rise", Kind: quantity.Difference, Optional: true, Doc: "rise of the shaft from 20 °C when running"},
		},
		Figures: []Figure{
			{Name: "clearance", Kind: quantity.Length, Doc: "hole − shaft as measured"},
			{Name: "clearance_at_20", Kind: quantity.Length, Doc: "both at 20 °C"},
			{Name: "clearance_hot", Kind: quantity.Length, Doc: "running, where a rise is given"},
		},
		Formula:  "at 20 °C: D/(1 + α·(T − 20)); hot: D20·(1 + α·rise); clearance = hole − shaft",
		Source:   "ISO 1 (reference temperature); linear expansion",
		Cautions: []string{"Hot parts: gloves. Measure when hole, shaft and instrument have stood together."},
		Compute:  computeRunningFit,
	}
}

func computeRunningFit(in Args, out *Out) error {
	for _, part := range []string{"hole", "shaft"} {
		if (in.Has(part+"_temperature") || in.Has(part+"_rise")) && !in.Has("alpha_"+part) {
			return Need("alpha_"+part, "the expansion of the metal, as its temperature is given")
		}
	}
	at20 := func(part string) float64 {
		return in.Num(part) / (1 + in.Num("alpha_"+part)*(in.NumOr(part+"_temperature", 20)-20))
	}
	hole, shaft := at20("hole"), at20("shaft")
	out.Set("clearance", in.Num("hole")-in.Num("shaft"))
	out.Set("clearance_at_20", hole-shaft)
	least := hole - shaft
	if in.Has("hole_rise") || in.Has("shaft_rise") {
		hot := hole*(1+in.Num("alpha_hole")*in.Num("hole_rise")) - shaft*(1+in.Num("alpha_shaft")*in.Num("shaft_rise"))
		out.Set("clearance_hot", hot)
		least = math.Min(least, hot)
	}
	if least < 0 {
		out.Warn("clearance: an interference of %.4f mm: this shaft does not run in this hole", -least)
	}
	return nil
}
