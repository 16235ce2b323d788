package calc

import (
	"math"
	"slices"

	"thoud/calc/quantity"
)

// boreMap: a table of diameters, one row a depth and one column an axis, gives the form of the bore, what is still to
// hone, and the clearance the piston has in it.
//
//	size at 20 °C  D₂₀ = D·(1 + α_s·(T_s − 20)) / (1 + α_w·(T_w − 20))         s instrument, w work
//	out of round   = greatest − least diameter at a depth
//	ovality        = 2·√(A² + B²), major axis = ½·atan2(B, A), from the least squares of
//	                 D(φ) = D₀ + A·cos 2φ + B·sin 2φ       (three axes or more)
//	taper          = mean at the top − mean at the bottom   (+ = larger at the top); slope = dD/dz by regression
//	finish bore    = piston at 20 °C + clearance            stock = finish bore − D₂₀, on diameter, + = remove
//
// Lengths in mm, everything at 20 °C (ISO 1) but finish_bore_now and finish_reading. Depths are measured down from the
// joint face, axes round the bore. Two-point gauging cannot see three-lobed form. Refused: rows of unequal length, fewer
// than two axes at one depth, repeated depths, a temperature without its expansion.
func boreMap() Method {
	return Method{
		Name: "bore-map", Version: 1, Title: "Bore map: form, clearance and what to hone",
		Inputs: []Input{
			{Name: "depths", Shape: List, Kind: quantity.Length, Doc: "depth of each row, down from the joint face"},
			{Name: "axes", Shape: List, Kind: quantity.Angle, Doc: "direction of each column (0 thrust, 90 pin)"},
			{Name: "diameters", Shape: Grid, Kind: quantity.Length, Positive: true, Doc: "diameters, one row a depth, one column an axis"},
			{Name: "cylinder_temperature", Kind: quantity.Temperature, Optional: true, Doc: "temperature of the cylinder as it was measured; 20 °C where not given"},
			{Name: "instrument_temperature", Kind: quantity.Temperature, Optional: true, Doc: "temperature of the instrument (or of the master it was set with)"},
			{Name: "alpha_cylinder", Kind: quantity.Expansion, Optional: true, Positive: true, Doc: "expansion of the cylinder (grey iron about 11e-6, aluminium 21e-6 to 25e-6)"},
			{Name: "alpha_instrument", Kind: quantity.Expansion, Optional: true, Positive: true, Doc: "expansion of the instrument (steel 11.5e-6)"},
			{Name: "piston_diameter", Kind: quantity.Length, Optional: true, Positive: true, Doc: "piston as read with the same instrument, at its gauge point"},
			{Name: "piston_temperature", Kind: quantity.Temperature, Optional: true, Doc: "temperature of the piston as it was measured; 20 °C where not given"},
			{Name: "alpha_piston", Kind: quantity.Expansion, Optional: true, Positive: true, Doc: "expansion of the piston (about 19e-6 to 23e-6)"},
			{Name: "clearance", Kind: quantity.Length, Optional: true, Positive: true, Doc: "clearance wanted, on diameter at 20 °C"},
			{Name: "clean_up", Kind: quantity.Length, Optional: true, Positive: true, Doc: "least stock, on diameter, that still cleans up"},
		},
		Figures: []Figure{
			{Name: "out_of_round", Kind: quantity.Length, List: true, Doc: "greatest less least diameter at each depth"},
			{Name: "ovality", Kind: quantity.Length, List: true, Doc: "two-lobed form at each depth, greatest less least of the fitted ellipse (three axes or more)"},
			{Name: "major_axis", Kind: quantity.Angle, List: true, Doc: "direction of the long axis at each depth, 0 to 180°"},
			{Name: "mean", Kind: quantity.Length, List: true, Doc: "mean diameter at each depth"},
			{Name: "taper", Kind: quantity.Length, Doc: "mean at the top less mean at the bottom"},
			{Name: "taper_slope", Kind: quantity.Number, Doc: "change of mean diameter a depth, mm/mm; negative = larger at the top"},
			{Name: "least_diameter", Kind: quantity.Length, Doc: "least diameter of the map"},
			{Name: "piston_at_20", Kind: quantity.Length, Doc: "piston at 20 °C"},
			{Name: "finish_bore_at_20", Kind: quantity.Length, Doc: "bore wanted at 20 °C"},
			{Name: "finish_bore_now", Kind: quantity.Length, Doc: "bore wanted at the cylinder's temperature"},
			{Name: "finish_reading", Kind: quantity.Length, Doc: "what the instrument shows at its own temperature when the bore is finished"},
			{Name: "stock", Kind: quantity.Length, Grid: true, Doc: "to remove at each place, on diameter"},
			{Name: "stock_max", Kind: quantity.Length, Doc: "most to remove, on diameter"},
			{Name: "stock_min", Kind: quantity.Length, Doc: "least to remove, on diameter; negative = already too big"},
			{Name: "clearance_min", Kind: quantity.Length, Doc: "least clearance of the piston in the bore as it is, at 20 °C"},
			{Name: "clearance_max", Kind: quantity.Length, Doc: "greatest clearance of the piston in the bore as it is, at 20 °C"},
		},
		Formula: "D20 = D·(1 + αs·(Ts − 20))/(1 + αw·(Tw − 20)); stock = piston + clearance − D20; ovality = 2·√(A² + B²) of D0 + A·cos 2φ + B·sin 2φ",
		Source:  "ISO 1 (20 °C); plane geometry and least squares",
		Cautions: []string{
			"Hone with coolant, guards and glasses; never reach in while anything turns.",
			"Let the cylinder cool before the last readings; wash it twice, never with petrol.",
			"Two-point gauging cannot see a three-lobed bore.",
		},
		Compute: computeBoreMap,
	}
}

func computeBoreMap(in Args, out *Out) error {
	depths, axes, d := in.List("depths"), in.List("axes"), in.Grid("diameters")
	if err := boreShape(depths, axes, d); err != nil {
		return err
	}
	instrument, err := growth(in, "instrument_temperature", "alpha_instrument")
	if err != nil {
		return err
	}
	cylinder, err := growth(in, "cylinder_temperature", "alpha_cylinder")
	if err != nil {
		return err
	}
	if in.Has("cylinder_temperature") && !in.Has("instrument_temperature") {
		out.Warn("no temperature of the instrument given: taken as 20 °C")
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, row := range d {
		for j := range row {
			row[j] *= instrument / cylinder
			low, high = math.Min(low, row[j]), math.Max(high, row[j])
		}
	}
	boreForm(depths, axes, d, out)
	out.Set("least_diameter", low)
	if !in.Has("piston_diameter") {
		if in.Has("clearance") {
			return Refuse("piston_diameter", "measure the piston at its gauge point", "a clearance is wanted but no piston is given")
		}
		return nil
	}
	return boreFinish(in, out, d, instrument, cylinder, low, high)
}

func boreShape(depths, axes []float64, d [][]float64) error {
	if len(depths) == 0 || len(d) != len(depths) {
		return Refuse("diameters", "give one row of diameters for each depth", "%d rows for %d depths", len(d), len(depths))
	}
	if len(axes) < 2 {
		return Refuse("axes", "measure each depth along the thrust axis and along the pin at least", "%d axes", len(axes))
	}
	for i, row := range d {
		if len(row) != len(axes) {
			return Refuse("diameters", "give one diameter for each axis", "%d diameters for %d axes at depth %.2f mm", len(row), len(axes), depths[i])
		}
		if slices.Contains(depths[:i], depths[i]) {
			return Refuse("depths", "give each depth once", "%.3f mm is there twice", depths[i])
		}
	}
	return nil
}

// growth is 1 + α·(T − 20), 1 where no temperature is given.
func growth(in Args, temperature, alpha string) (float64, error) {
	if !in.Has(temperature) {
		return 1, nil
	}
	t := in.Num(temperature)
	if t < -20 || t > 120 {
		return 0, Refuse(temperature, "measure when everything has come to the temperature of the shop", "%.1f °C is no temperature to measure at", t)
	}
	if !in.Has(alpha) {
		return 0, Refuse(alpha, "give the expansion of its metal, or leave the temperature out", "%s is %.1f °C but no expansion is given", temperature, t)
	}
	return 1 + in.Num(alpha)*(t-20), nil
}

// boreForm sets what the map says of the bore's form.
func boreForm(depths, axes []float64, d [][]float64, out *Out) {
	n := len(depths)
	round, mean := make([]float64, n), make([]float64, n)
	for i, row := range d {
		round[i] = slices.Max(row) - slices.Min(row)
		for _, x := range row {
			mean[i] += x / float64(len(row))
		}
	}
	out.SetList("out_of_round", round)
	out.SetList("mean", mean)
	boreOvality(axes, d, out)
	if n < 2 {
		return
	}
	top, bottom := 0, 0
	for i := range depths {
		if depths[i] < depths[top] {
			top = i
		}
		if depths[i] > depths[bottom] {
			bottom = i
		}
	}
	out.Set("taper", mean[top]-mean[bottom])
	out.Set("taper_slope", slope(depths, mean))
}

// boreOvality fits the second harmonic at each depth. It stays unset, with a warning, where the axes do not fix it.
func boreOvality(axes []float64, d [][]float64, out *Out) {
	if len(axes) < 3 {
		return
	}
	if gap := widestGap(axes, 180); gap > 100 {
		out.Warn("the axes leave %.0f° unseen: ovality needs three axes with no more than 100° between neighbours", gap)
		return
	}
	basis, err := newHarmonicBasis(axes, 2)
	if err != nil {
		out.Warn("ovality needs three different axes")
		return
	}
	ovality, major := make([]float64, len(d)), make([]float64, len(d))
	for i, row := range d {
		f := basis.fit(row)
		ovality[i] = 2 * f.amplitude(0)
		major[i] = f.peak(0)
	}
	out.SetList("ovality", ovality)
	out.SetList("major_axis", major)
}

// boreFinish sets what the piston asks of the bore.
func boreFinish(in Args, out *Out, d [][]float64, instrument, cylinder, low, high float64) error {
	grown, err := growth(in, "piston_temperature", "alpha_piston")
	if err != nil {
		return err
	}
	piston := in.Num("piston_diameter") * instrument / grown
	out.Set("piston_at_20", piston)
	out.Set("clearance_min", low-piston)
	out.Set("clearance_max", high-piston)
	if low < piston {
		out.Warn("the piston is larger than the bore at its least place, by %.4f mm at 20 °C", piston-low)
	}
	if !in.Has("clearance") {
		return nil
	}
	finish := piston + in.Num("clearance")
	if finish-high > 0.05*finish || high-finish > 0.05*finish {
		return Refuse("piston_diameter", "check that bore and piston are of the same engine and in the same unit", "the piston asks for a bore of %.3f mm, the bore is %.3f mm", finish, high)
	}
	out.Set("finish_bore_at_20", finish)
	out.Set("finish_bore_now", finish*cylinder)
	out.Set("finish_reading", finish*cylinder/instrument)
	stock := make([][]float64, len(d))
	for i, row := range d {
		stock[i] = make([]float64, len(row))
		for j, x := range row {
			stock[i][j] = finish - x
		}
	}
	out.SetGrid("stock", stock)
	out.Set("stock_max", finish-low)
	out.Set("stock_min", finish-high)
	boreHone(in, out, finish-low, finish-high)
	return nil
}

func boreHone(in Args, out *Out, most, least float64) {
	a := Adjustment{What: "bore", Amount: most, Kind: quantity.Length, Direction: "hone", Answers: []string{"clearance_min", "clearance_max", "stock_max", "stock_min"},
		Words: "{direction} the bore to read {figure:finish_reading}: {amount} on diameter at its narrowest, {figure:stock_min} at its widest"}
	switch {
	case least < -1e-9:
		a.Direction, a.Amount = "oversize", 0
		a.Words = "do not hone: the bore is already too big for this piston at its widest place ({figure:stock_min} of stock); go to the next oversize"
	case most <= 1e-9:
		a.Direction, a.Amount = "none", 0
		a.Words = "leave the bore: it is at its finish size of {figure:finish_bore_at_20}"
	case least < in.Num("clean_up"):
		a.warn("only %.4f mm of stock at the widest place, less than the %.4f mm that cleans up: marks may stay", least, in.Num("clean_up"))
	}
	out.Adjust(a)
}
