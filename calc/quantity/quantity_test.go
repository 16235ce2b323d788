package quantity

import (
	"encoding/json"
	"errors"
	"math"
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Exact by definition: 1 in = 25.4 mm (international yard and pound agreement, UCUM [in_i]).
func TestLengthsAreExact(t *testing.T) {
	for _, tc := range []struct {
		text string
		n    int64 // tenths of a nanometre
	}{
		{"0.050 in", 12_700_000}, {"1/32 in", 7_937_500}, {"0.0005 in", 127_000}, {"1.2345 in", 313_563_000}, // 1.27, 0.79375, 0.0127, 31.3563 mm
		{"1/128 in", 1_984_375}, {"0.000001 in", 254}, {"0.0001 mm", 1_000}, {"0.1 um", 1_000}, {"7/32 in", 55_562_500},
		{"5/64 in", 19_843_750}, {"9/64 in", 35_718_750}, {"5/16 in", 79_375_000}, {"1 thou", 254_000}, {"-0.0012 in", -304_800}, {"25.4 mm", 254_000_000}, {"1 in", 254_000_000}, {"0.0001 um", 1},
	} {
		v, err := Parse(tc.text)
		if err != nil || v.N != tc.n {
			t.Errorf("%s: got %d, %v, want %d", tc.text, v.N, err, tc.n)
		}
	}
	v, err := Parse("1 um")
	if err != nil {
		t.Fatal(err)
	}
	if got := mustUnit("in").FromBase(v.Float()); math.Abs(got-3.937007874015748e-05) > 1e-20 {
		t.Errorf("1 um is %.16g in, want 3.937007874015748e-05", got)
	}
}

// Sizes of the other units, exact by definition (CGPM 1901 for standard gravity; UCUM).
func TestUnitSizes(t *testing.T) {
	for _, tc := range []struct {
		text string
		kind Kind
		want float64
	}{
		{"1 lb", Mass, 453.59237}, {"1 oz", Mass, 28.349523125}, {"1 lbf", Force, 4.4482216152605}, {"1 lbf.ft", Torque, 1.3558179483314003},
		{"1 in3", Volume, 16.387064}, {"1 lbf/in", Stiffness, 0.175126835}, {"26 tpi", Pitch, 25.4 / 26}, {"1 mm", Pitch, 1}, {"20 degC", Temperature, 20}, {"5 degC", Difference, 5},
		{"1000 psi", Stress, 6.894757293168}, {"206 GPa", Stress, 206000}, {"0.0000115 1/K", Expansion, 11.5e-6}, {"12 lbf.in", Torque, 1.3558179483314003}, {"23e-6 1/K", Expansion, 23e-6}, {"1.15E-5 1/K", Expansion, 11.5e-6}, {"2e3 N", Force, 2000}, {"1 1/2 in", Length, 38.1}, {"0.5\"", Length, 12.7}, {"1/4″", Length, 6.35},
		{"0,5 mm", Length, 0.5}, {"0,125 in", Length, 3.175}, {"12,25 g", Mass, 12.25}, {"25 N·m", Torque, 25}, {"30 cm³", Volume, 30}, {"45°", Angle, 45}, {"5 µm", Length, 0.005}, {"1 in/deg", Slope, 25.4},
	} {
		v, err := ParseAs(tc.kind, tc.text)
		if err != nil || math.Abs(v.Float()-tc.want) > 2e-9*tc.want {
			t.Errorf("%s: got %.12g, %v, want %.12g", tc.text, v.Float(), err, tc.want)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, tc := range []struct {
		kind Kind
		text string
	}{
		{Length, ""}, {Length, "mm"}, {Length, "1"}, {Length, "1 deg"}, {Length, "NaN mm"}, {Length, "Inf mm"}, {Length, "1e3 mm"}, {Length, "1,234 mm"}, {Length, "1,2,3 mm"}, {Length, "1,2.3 mm"}, {Length, "1 3/2 in"}, {Length, "1 -1/2 in"}, {Length, "1e3 in"}, {Expansion, "e-6 1/K"}, {Expansion, "1e400 1/K"}, {Length, "1.2.3 mm"}, {Length, "--1 mm"}, {Length, "1 parsec"},
		{Length, "1/0 in"}, {Length, "1/-2 in"}, {Length, "/2 in"}, {Length, "1/2/3 in"}, {Length, "1.5/2 in"}, {Length, "0x10 mm"}, {Angle, "1/2 deg"}, {Angle, "1 mm"}, {Number, "1 mm"}, {Length, "1/3 in"}, {Length, "0.00000001 mm"},
		{Length, "99999999999999999999 mm"}, {Length, "9999999999999 m"}, {"", "5 widgets"}, {Temperature, "5 K"}, {Length, "١ mm"},
	} {
		if v, err := ParseAs(tc.kind, tc.text); err == nil || v.Valid() {
			t.Errorf("%q as %s: got %v, want an error", tc.text, tc.kind, v)
		} else if tc.text != "" && !strings.Contains(err.Error(), tc.text) && !strings.Contains(err.Error(), `"`) {
			t.Errorf("%q: the error does not show it: %v", tc.text, err)
		}
	}
	for text, want := range map[string]error{"1/3 in": ErrNotExact, "0.00000001 mm": ErrNotExact, "9999999999999 m": ErrRange, "99999999999999999999 mm": ErrRange} {
		if _, err := ParseAs(Length, text); !errors.Is(err, want) {
			t.Errorf("%q: got %v, want %v", text, err, want)
		}
	}
}

// drawValue is any quantity a gauge may send.
func drawValue(t *rapid.T) Value {
	u := rapid.SampledFrom(Units()).Draw(t, "unit")
	v, err := Make(rapid.Int64Range(-99_999_999, 99_999_999).Draw(t, "digits"), rapid.IntRange(0, 6).Draw(t, "places"), u)
	if err != nil {
		t.Skip()
	}
	return v
}

// What is printed is read back as the same value in the same digits.
func TestParsePrintIdentity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := drawValue(t)
		got, err := ParseAs(v.Kind(), v.String())
		if err != nil || got.N != v.N || got.Places != v.Places || got.Unit.Code != v.Unit.Code {
			t.Fatalf("%+v prints as %q, read as %+v, %v", v, v.String(), got, err)
		}
	})
}

// Stored and read, a value is the same.
func TestJSONIdentity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := drawValue(t)
		if v.Kind() == Pitch && v.Unit.Code == "mm/rev" {
			v.Unit, _ = UnitFor(Pitch, "mm")
		}
		b, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		var got Value
		if err := json.Unmarshal(b, &got); err != nil || got.N != v.N || got.Places != v.Places || got.Unit.Kind != v.Unit.Kind || got.Float() != v.Float() {
			t.Fatalf("%+v stored as %s, read as %+v, %v", v, b, got, err)
		}
	})
	for _, v := range []Value{{}, must(t, Pitch, "1 in"), must(t, Pitch, "26 tpi"), must(t, Difference, "5 degC"), must(t, Pitch, "1.25 mm/rev")} {
		b, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		var got Value
		if err := json.Unmarshal(b, &got); err != nil || got.Unit.Kind != v.Unit.Kind || got.N != v.N {
			t.Errorf("%+v stored as %s, read as %+v, %v", v, b, got, err)
		}
	}
	for _, s := range []string{`{"n": 1, "places": 0, "unit": "parsec"}`, `{"n": 1.5, "places": 0, "unit": "mm"}`, `[]`, `{"n": 1, "places": -1, "unit": "mm"}`, `{"n": 1, "places": 99, "unit": "g"}`} {
		var v Value
		if err := json.Unmarshal([]byte(s), &v); err == nil {
			t.Errorf("%s: read as %v", s, v)
		}
	}
}

func must(t *testing.T, kind Kind, s string) Value {
	t.Helper()
	v, err := ParseAs(kind, s)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Sum and difference are those of exact rational arithmetic, or an error.
func TestAddSubExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawValue(t), drawValue(t)
		sum, err := a.Add(b)
		if err != nil {
			if !errors.Is(err, ErrKind) && !errors.Is(err, ErrRange) {
				t.Fatalf("%v", err)
			}
			return
		}
		if want := new(big.Rat).Add(rat(a), rat(b)); rat(sum).Cmp(want) != 0 {
			t.Fatalf("%s + %s = %s, want %s", a, b, sum, want.FloatString(12))
		}
		back, err := sum.Sub(b)
		if err != nil || rat(back).Cmp(rat(a)) != 0 {
			t.Fatalf("%s + %s − %s = %s, %v", a, b, b, back, err)
		}
	})
	big1 := Value{N: math.MaxInt64, Unit: mustUnit("mm")}
	for name, f := range map[string]func() (Value, error){
		"overflow":  func() (Value, error) { return big1.Add(Value{N: 1, Unit: mustUnit("mm")}) },
		"underflow": func() (Value, error) { return Value{N: math.MinInt64, Unit: mustUnit("mm")}.Sub(big1) },
		"minus the least": func() (Value, error) {
			return Value{N: 0, Unit: mustUnit("mm")}.Sub(Value{N: math.MinInt64, Unit: mustUnit("mm")})
		},
		"other kind overflow": func() (Value, error) {
			return Value{N: math.MaxInt64, Unit: mustUnit("g")}.Add(Value{N: 1, Places: 3, Unit: mustUnit("g")})
		},
	} {
		if v, err := f(); !errors.Is(err, ErrRange) {
			t.Errorf("%s: got %v, %v, want ErrRange", name, v, err)
		}
	}
	if _, err := big1.Add(Value{N: 1, Unit: mustUnit("g")}); !errors.Is(err, ErrKind) {
		t.Errorf("millimetres and grams: %v", err)
	}
	if _, err := (Value{}).Add(Value{}); !errors.Is(err, ErrKind) {
		t.Errorf("nothing and nothing: %v", err)
	}
}

// rat is a value as a rational: lengths in tenths of a nanometre, others in their unit.
func rat(v Value) *big.Rat {
	if v.Kind() == Length {
		return new(big.Rat).SetInt64(v.N)
	}
	return new(big.Rat).SetFrac(big.NewInt(v.N), new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(v.Places)), nil))
}

func TestShow(t *testing.T) {
	v := must(t, Length, "0.0375 in")
	if got := v.In(mustUnit("mm"), 3).String(); got != "0.9525 mm" {
		t.Errorf("got %q: a length shown elsewhere keeps all its digits", got)
	}
	if got := v.Round(mustUnit("mm"), 3); got != "0.953" && got != "0.952" {
		t.Errorf("rounded: got %q", got)
	}
	for text, want := range map[string]string{"-0.0001 mm": "0.000", "-0.0006 mm": "-0.001", "0.0005 mm": "0.001", "-0.1 mm": "-0.100", "-10.0004 mm": "-10.000", "0.0125 mm": "0.013"} {
		if got := must(t, Length, text).Round(mustUnit("mm"), 3); got != want {
			t.Errorf("%s: got %q, want %q", text, got, want)
		}
	}
	if got := must(t, Length, "1/32 in").String(); got != "0.03125 in" {
		t.Errorf("got %q", got)
	}
	if got := (Value{}).String(); got != "none" {
		t.Errorf("got %q", got)
	}
	if got := must(t, Length, "0.001 in").Resolution(); math.Abs(got-0.0254) > 1e-15 {
		t.Errorf("resolution: %g", got)
	}
}

// Every unit is found by its code and its UCUM code, and converts there and back.
func TestUnits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom(Units()).Draw(t, "unit")
		x := rapid.Float64Range(1e-3, 1e6).Draw(t, "x")
		if got := u.FromBase(u.ToBase(x)); math.Abs(got-x) > 1e-12*x {
			t.Fatalf("%g %s comes back as %g", x, u.Code, got)
		}
		for _, code := range []string{u.Code, u.UCUM} {
			if got, err := UnitFor(u.Kind, code); err != nil || got.Kind != u.Kind || got.Size != u.Size && u.Kind != Pitch {
				t.Fatalf("%s %q: got %+v, %v", u.Kind, code, got, err)
			}
		}
	})
	for _, kind := range []Kind{Length, Angle, Mass, Force, Torque, Stiffness, Stress, Volume, Area, Temperature, Difference, Expansion, Density, Pitch, Slope, Number} {
		if u := Base(kind); u.Kind != kind || u.Size != 1 {
			t.Errorf("base unit of %s: %+v", kind, u)
		}
		for _, sys := range []System{Metric, Inch} {
			if u := sys.For(kind); u.Kind != kind {
				t.Errorf("%s in %s: %+v", kind, sys, u)
			}
		}
	}
}

// No text makes the parser panic, and what it accepts prints and reads again.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"0.0375 in", "7/32 in", "28 deg", "26 tpi", "-1", "1/3 in", "99999999999999 m", ".5 mm", "5. mm", "+1 um"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, err := Parse(s)
		if err != nil {
			return
		}
		again, err := ParseAs(v.Kind(), v.String())
		if err != nil || again.N != v.N && v.Kind() == Length || again.Float() != v.Float() {
			t.Fatalf("%q is %+v, printed %q, read %+v, %v", s, v, v.String(), again, err)
		}
	})
}
