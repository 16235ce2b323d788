package calc

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func threeDepths() topIn {
	return topIn{}.list("depths", 10, 40, 75).list("axes", 0, 90).
		grid("diameters", []float64{72.062, 72.048}, []float64{72.050, 72.044}, []float64{72.041, 72.039})
}

func TestBoreMap(t *testing.T) {
	const source = "computed independently"
	f := threeDepths().num("piston_diameter", 71.980).num("clearance", 0.090).compute(t, boreMap())
	f.wantList("out_of_round", []float64{0.014, 0.006, 0.002}, 1e-9, source)
	f.wantList("mean", []float64{72.055, 72.047, 72.040}, 1e-9, source)
	f.want("taper", 0.015, 1e-9, source)
	f.want("taper_slope", -0.2299e-3, 5e-8, source)
	f.want("finish_bore_at_20", 72.070, 1e-9, source)
	f.want("stock_min", 0.008, 1e-9, source)
	f.want("stock_max", 0.031, 1e-9, source)
	f.want("clearance_min", 0.059, 1e-9, source)
	f.want("clearance_max", 0.082, 1e-9, source)
	f.unset("ovality", "major_axis")
	f.quiet()
	if a := f.adjustment(); a.Direction != "hone" || math.Abs(a.Amount-0.031) > 1e-9 {
		t.Errorf("adjustment %+v", a)
	}
	if g := f.out.grids["stock"]; math.Abs(g[0][0]-0.008) > 1e-9 || math.Abs(g[2][1]-0.031) > 1e-9 {
		t.Errorf("stock %v", g)
	}
	four := topIn{}.list("depths", 10).list("axes", 0, 45, 90, 135).grid("diameters", []float64{72.062, 72.050, 72.048, 72.060}).compute(t, boreMap())
	four.wantList("mean", []float64{72.055}, 1e-9, source)
	four.wantList("ovality", []float64{0.01720}, 5e-6, source)
	four.wantList("major_axis", []float64{162.23}, 5e-3, source)
	four.wantList("out_of_round", []float64{0.014}, 1e-9, source)
	four.unset("taper", "taper_slope", "finish_bore_at_20")
}

func TestBoreMapTemperature(t *testing.T) {
	const source = "computed independently"
	g := topIn{}.list("depths", 10).list("axes", 0, 90).grid("diameters", []float64{72.050, 72.050}).
		num("cylinder_temperature", 27).num("alpha_cylinder", 10.5e-6).num("instrument_temperature", 24).num("alpha_instrument", 11.5e-6).
		num("piston_diameter", 71.980).num("piston_temperature", 27).num("alpha_piston", 20e-6)
	f := g.compute(t, boreMap())
	f.want("least_diameter", 72.04802, 5e-6, source)
	f.want("piston_at_20", 71.97323, 5e-6, source)
	f.want("clearance_min", 0.0748, 5e-5, source)
	// What the warm instrument is to show is where its own correction gives back the finish size.
	f = g.num("clearance", 0.090).compute(t, boreMap())
	shown := f.num("finish_reading")
	again := g.grid("diameters", []float64{shown, shown}).num("clearance", 0.090).compute(t, boreMap())
	again.want("clearance_min", 0.090, 1e-9, "the clearance asked for")
	again.want("stock_max", 0, 1e-9, "nothing left to hone")
	if a := again.adjustment(); a.Direction != "none" {
		t.Errorf("adjustment %+v", a)
	}
	g.without("instrument_temperature").compute(t, boreMap()).warns("instrument")
}

func TestBoreMapRefuses(t *testing.T) {
	g := threeDepths()
	g.list("depths", 10, 40).refused(t, boreMap(), "diameters", "3 rows")
	g.list("depths", 10, 40, 40).refused(t, boreMap(), "depths", "40")
	g.list("axes", 0).refused(t, boreMap(), "axes")
	g.list("axes", 0, 45, 90).refused(t, boreMap(), "diameters")
	g.num("cylinder_temperature", 27).refused(t, boreMap(), "alpha_cylinder", "27")
	g.num("cylinder_temperature", 300).num("alpha_cylinder", 1e-5).refused(t, boreMap(), "cylinder_temperature", "300")
	g.num("clearance", 0.09).refused(t, boreMap(), "piston_diameter")
	g.num("clearance", 0.09).num("piston_diameter", 2.834).refused(t, boreMap(), "piston_diameter", "same unit")
	neverPanics(t, boreMap(), g.num("piston_diameter", 71.98).num("clearance", 0.09))
}

func TestBoreMapTooBig(t *testing.T) {
	f := threeDepths().num("piston_diameter", 71.960).num("clearance", 0.090).compute(t, boreMap())
	f.want("stock_min", -0.012, 1e-9, "arithmetic")
	if a := f.adjustment(); a.Direction != "oversize" || a.Amount != 0 {
		t.Errorf("a bore that is too big is not honed: %+v", a)
	}
	threeDepths().num("piston_diameter", 71.980).num("clearance", 0.090).num("clean_up", 0.015).compute(t, boreMap()).warns("cleans up")
}

// An elliptical, tapered bore made up from its form gives the form back, whatever the order of rows and columns; in
// inches it is the same bore.
func TestBoreMapForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.Float64Range(50, 110).Draw(t, "size")
		oval := rapid.Float64Range(0.002, 0.05).Draw(t, "oval")
		major := rapid.Float64Range(5, 175).Draw(t, "major")
		taper := rapid.Float64Range(-0.05, 0.05).Draw(t, "taper")
		rows := rapid.Permutation([]float64{10, 30, 50, 80}).Draw(t, "rows")
		cols := rapid.Permutation([]float64{0, 45, 90, 135}).Draw(t, "cols")
		var d [][]float64
		for _, z := range rows {
			var row []float64
			for _, phi := range cols {
				row = append(row, size+oval/2*math.Cos(2*radians(phi-major))-taper*(z-10)/70)
			}
			d = append(d, row)
		}
		out, err := topIn{}.list("depths", rows...).list("axes", cols...).grid("diameters", d...).try(boreMap())
		if err != nil {
			t.Fatal(err)
		}
		if got := out.nums["taper"]; math.Abs(got-taper) > 1e-9 {
			t.Fatalf("taper %v, made with %v", got, taper)
		}
		if got := out.nums["taper_slope"]; math.Abs(got+taper/70) > 1e-10 {
			t.Fatalf("slope %v, made with %v", got, -taper/70)
		}
		for i := range rows {
			if got := out.lists["ovality"][i]; math.Abs(got-oval) > 1e-9 {
				t.Fatalf("ovality %v, made with %v", got, oval)
			}
			if got := out.lists["major_axis"][i]; math.Abs(got-major) > 1e-5 {
				t.Fatalf("major axis %v, made with %v", got, major)
			}
			if want := slices.Max(d[i]) - slices.Min(d[i]); math.Abs(out.lists["out_of_round"][i]-want) > 1e-12 {
				t.Fatalf("out of round %v, want %v", out.lists["out_of_round"][i], want)
			}
		}
	})
}
