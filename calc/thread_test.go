package calc

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestThreadTables(t *testing.T) {
	const in = 25.4
	for _, c := range []struct {
		name, figure string
		want, tol    float64
		source       string
	}{
		{"M6", "stress_area", 20.1, 0.05, "ISO 898-1"},
		{"M8", "stress_area", 36.6, 0.05, "ISO 898-1"},
		{"M10", "stress_area", 58.0, 0.05, "ISO 898-1"},
		{"M12", "stress_area", 84.3, 0.05, "ISO 898-1"},
		{"M10x1.25", "stress_area", 61.2, 0.05, "ISO 898-1, from memory"},
		{"M12x1.25", "stress_area", 92.1, 0.05, "ISO 898-1, from memory"},
		{"1/4-28 UNF", "stress_area", 0.0364 * in * in, 0.00005 * in * in, "ASME B1.1"},
		{"5/16-24 UNF", "stress_area", 0.0580 * in * in, 0.00015 * in * in, "ASME B1.1 (computed 0.0581)"},
		{"3/8-24 UNF", "stress_area", 0.0878 * in * in, 0.00005 * in * in, "ASME B1.1"},
		{"7/16-20 UNF", "stress_area", 0.1187 * in * in, 0.00005 * in * in, "ASME B1.1"},
		{"3/8-24 UNF", "pitch_diameter", 0.3479 * in, 0.00005 * in, "ASME B1.1"},
		{"3/8-24 UNF", "minor_diameter", 0.3299 * in, 0.00005 * in, "ASME B1.1"},
		{"1/4-20 BSW", "minor_diameter", 0.1860 * in, 0.00005 * in, "BS 84"},
		{"1/4-20 BSW", "pitch_diameter", 0.2180 * in, 0.00005 * in, "BS 84"},
		{"5/16-22 BSF", "minor_diameter", 0.2543 * in, 0.00005 * in, "BS 84"},
		{"1/4-26 BSC", "minor_diameter", 0.209, 0.0005, "BS 811"},
		{"5/16-26 BSC", "minor_diameter", 0.272, 0.00055, "BS 811"},
		{"3/8-26 BSC", "minor_diameter", 0.334, 0.0005, "BS 811"},
		{"7/16-26 CEI", "minor_diameter", 0.397, 0.00055, "BS 811"},
		{"1/4-20 UNC", "tap_drill", 0.2010 * in, 1e-9, "ASME B94.11M, No. 7"},
		{"1/4-28 UNF", "tap_drill", 0.2130 * in, 1e-9, "ASME B94.11M, No. 3"},
		{"5/16-18 UNC", "tap_drill", 0.2570 * in, 1e-9, "ASME B94.11M, F"},
		{"5/16-24 UNF", "tap_drill", 0.265625 * in, 1e-9, "ASME B94.11M, 17/64"},
		{"3/8-24 UNF", "tap_drill", 0.3320 * in, 1e-9, "ASME B94.11M, Q"},
		{"M8", "tap_drill", 6.75, 1e-9, "common practice, d − P"},
		{"M10 x 1.25", "pitch", 1.25, 0, "as named"},
		{"0 BA", "pitch", 1.00, 0, "BS 93, from memory"},
		{"0BA", "pitch_diameter", 5.40, 1e-9, "BS 93, from memory"},
		{"0 BA", "minor_diameter", 4.80, 1e-9, "BS 93, from memory"},
		{"0 BA", "stress_area", 20.43, 0.005, "computed independently, no published example"},
		{"2 BA", "pitch", 0.81, 0, "BS 93, from memory"},
		{"2ba", "pitch_diameter", 4.215, 0.0011, "BS 93, from memory (computed 4.214)"},
		{"2 BA", "minor_diameter", 3.73, 0.0021, "BS 93, from memory (computed 3.728)"},
		{"4 BA", "pitch_diameter", 3.204, 1e-9, "computed independently, no published example"},
		{"4 BA", "minor_diameter", 2.808, 1e-9, "computed independently, no published example"},
		{"6 BA", "pitch_diameter", 2.482, 1e-9, "computed independently, no published example"},
		{"6 BA", "minor_diameter", 2.164, 1e-9, "computed independently, no published example"},
		{"16 BA", "pitch", 0.19, 1e-12, "BS 93, from memory"},
		{"0 BA", "tap_drill", 5.1, 0, "trade table, from memory"},
		{"2 BA", "tap_drill", 4.0, 0, "trade table, from memory"},
		{"4 BA", "tap_drill", 3.0, 0, "trade table, from memory"},
		{"6 BA", "tap_drill", 2.3, 0, "trade table, from memory"},
		{"0.25-20 UNC", "tap_drill", 0.2010 * in, 1e-9, "ASME B94.11M, No. 7; 0.25 is 1/4"},
		{"0.312-24 UNF", "tap_drill", 0.265625 * in, 1e-9, "ASME B94.11M, 17/64; 0.312 is 5/16"},
		{"2/8-28.0 UNF", "tap_drill", 0.2130 * in, 1e-9, "ASME B94.11M, No. 3; 2/8 is 1/4"},
		{"0.19-32 UNF", "pitch", in / 32, 1e-12, "ASME B1.1: 0.190 is number 10"},
		{"#10-32 UNF", "pitch", in / 32, 1e-12, "as named"},
		{"1 1/8-12 UNF", "pitch_diameter", 1.0709 * in, 0.00005 * in, "ASME B1.1, from memory"},
	} {
		want := c.want
		if c.source == "BS 811" {
			want, c.tol = want*in, c.tol*in
		}
		got := figuresOf(t, "thread", given{"thread": c.name}).nums[c.figure]
		if math.Abs(got-want) > c.tol {
			t.Errorf("%s %s = %.5f, want %.5f ± %g (%s)", c.name, c.figure, got, want, c.tol, c.source)
		}
	}
}

func TestThreadRefuses(t *testing.T) {
	for _, s := range []string{"", "M", "Mx1", "M10x", "M10x-1.25", "M11", "M10x12", "1/4", "1/4-20", "1/4-28", "1/4-26 UNF", "1/4-26 BSW", "1/0-20 BSW", "0/4-20 BSW", "x-20 BSW", "1/4-20 XYZ", "1/4-0 BSC", "#99-2 UNF", "1/4-1e3 BSC", "M1e1x1",
		// Sizes in decimals are held to their series too: 5/16 UNF has 24 threads, 7/16 BSF 18 (ASME B1.1, BS 84), number 10 UNF 32.
		"0.3125-18 UNF", "0.4375-14 BSF", "0.190-24 UNF", "4/16-26 UNF",
		"17 BA", "-1 BA", "2.5 BA", "BA", "2 BA-32", "02 BA", "+2 BA", "1e1 BA"} {
		refused(t, "thread", given{"thread": s}, "thread")
	}
}

// No text makes the reader panic or give a thread without a core.
func TestThreadAnyText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.OneOf(rapid.String(), rapid.StringMatching(`M?[0-9/#. ]{0,5}[-xX][0-9.]{0,4} ?(UNF|BSW|BSC|BSF|UN)?`)).Draw(t, "name")
		if th, err := parseThread("thread", s); err == nil && !(th.minorDiameter() > 0 && th.stressArea() > 0 && th.pitch > 0) {
			t.Fatalf("%q gives %+v", s, th)
		}
	})
}

func TestProofLoads(t *testing.T) {
	// ISO 898-1 proof loads: proof stress 580 (8.8 up to M16) and 830 N/mm² (10.9) times stress area.
	for _, c := range []struct {
		thread string
		proof  float64
		load   float64
	}{{"M8", 580, 21200}, {"M10", 580, 33700}, {"M10", 830, 48100}} {
		got := c.proof * figuresOf(t, "thread", given{"thread": c.thread}).nums["stress_area"]
		if math.Abs(got-c.load) > 0.0025*c.load {
			t.Errorf("%s at %g: %.0f N, ISO 898-1 prints %.0f", c.thread, c.proof, got, c.load)
		}
	}
	// Unified: clamp load of 75 % of 55 ksi as printed in a trade table, lbf.
	for thread, want := range map[string]float64{"1/4-28 UNF": 1502, "5/16-24 UNF": 2397, "3/8-24 UNF": 3622} {
		area := figuresOf(t, "thread", given{"thread": thread}).nums["stress_area"] / (25.4 * 25.4)
		if got := 0.75 * 55000 * area; math.Abs(got-want) > 2.5 {
			t.Errorf("%s: %.0f lbf, table %.0f", thread, got, want)
		}
	}
}
