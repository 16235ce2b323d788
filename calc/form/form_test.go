package form

import (
	"encoding/json"
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/calc"
	"thoud/calc/quantity"
)

// trial is a method with an input of every shape.
func trial() calc.Method {
	return calc.Method{Name: "trial", Inputs: []calc.Input{
		{Name: "gap", Kind: quantity.Length, Optional: true}, {Name: "gaps", Shape: calc.List, Kind: quantity.Length, Optional: true},
		{Name: "table", Shape: calc.Grid, Kind: quantity.Length, Optional: true}, {Name: "ratio", Kind: quantity.Number, Optional: true},
		{Name: "pitch", Kind: quantity.Pitch, Optional: true}, {Name: "any", Kind: calc.AnyKind, Optional: true}, {Name: "anys", Shape: calc.List, Kind: calc.AnyKind, Optional: true},
		{Name: "side", Shape: calc.Text, Enum: []string{"left", "right"}, Optional: true}, {Name: "words", Shape: calc.TextList, Optional: true},
		{Name: "dry", Shape: calc.Flag, Optional: true}, {Name: "rod", Shape: calc.Record, Optional: true, Fields: []calc.Input{{Name: "big", Kind: quantity.Mass}}},
		{Name: "parts", Shape: calc.Records, Optional: true, Fields: []calc.Input{{Name: "big", Kind: quantity.Mass}}},
		{Name: "groups", Shape: calc.Record, Optional: true, Fields: []calc.Input{{Name: calc.AnyName, Shape: calc.List, Kind: quantity.Number}}},
		{Name: "readings", Shape: calc.Cube, Kind: quantity.Length, Optional: true}, {Name: "heat", Kind: quantity.Temperature, Optional: true},
	}, Figures: []calc.Figure{{Name: "width", Kind: quantity.Length}, {Name: "which", Text: true}},
		Compute: func(in calc.Args, out *calc.Out) error { out.Set("width", in.Num("gap")); return nil }}
}

func TestReadForm(t *testing.T) {
	req, err := Read(trial(), []byte(`{"gap": {"value": 0.0375, "unit": "[in_i]", "U": 0.0005, "k": 2, "dof": 9, "shared": "zero"},
		"gaps": ["7/32 in", {"value": "1.27 mm", "u": "0.0001 in"}, {"value": 3, "unit": "um", "u": 1}],
		"table": {"value": [[1, 2], [3, 4]], "unit": "mm", "u": 0.01}, "ratio": 0.004, "pitch": {"value": 26, "unit": "/[in_i]", "u": 0.1},
		"any": "5 deg", "anys": {"value": [1, 2], "unit": "deg", "u": [0.1, 0.2]}, "side": "left", "dry": true, "rod": {"big": "1 lb"},
		"parts": [{"big": "2 g"}], "groups": {"a": [1, 2]}, "readings": [[["1 mm"]]], "heat": {"value": 20, "unit": "Cel", "u": "0.5 K"},
		"words": ["x"], "limits": {"width": {"lower": "0.006 in", "source": "common practice"}}, "guard": 0.8, "level": 0.99, "digits": "0.0005 in", "gauge_only": true}`))
	if err != nil {
		t.Fatal(err)
	}
	in := req.Inputs
	near(t, "gap", in["gap"].Num.X, 0.9525, 1e-12)
	near(t, "u", in["gap"].Num.Us[0].U, 0.00025*25.4, 1e-15)
	if c := in["gap"].Num.Us[0]; c.Dof != 9 || c.Shared != "zero" {
		t.Errorf("got %+v", c)
	}
	near(t, "7/32 in", in["gaps"].List[0].X, 5.55625, 0) // exact
	near(t, "u in inches", in["gaps"].List[1].Us[0].U, 0.00254, 1e-15)
	near(t, "3 um", in["gaps"].List[2].X, 0.003, 1e-15)
	near(t, "grid", in["table"].Grid[1][0].X, 3, 0)
	near(t, "grid u", in["table"].Grid[1][1].Us[0].U, 0.01, 0)
	near(t, "26 tpi", in["pitch"].Num.X, 25.4/26, 1e-15)
	near(t, "u of 26 ± 0.1 tpi", in["pitch"].Num.Us[0].U, (25.4/25.9-25.4/26.1)/2, 1e-6)
	near(t, "u of a list", in["anys"].List[1].Us[0].U, 0.2, 0)
	near(t, "pound", in["rod"].Rec["big"].Num.X, 453.59237, 0)
	near(t, "cube", in["readings"].Cube[0][0][0].X, 1, 0)
	near(t, "u of a temperature", in["heat"].Num.Us[0].U, 0.5, 0)
	near(t, "limit", *req.Limits["width"].Lower, 0.1524, 1e-15)
	near(t, "digits", req.Digits, 0.0127, 1e-15)
	if req.Kind != quantity.Angle || req.Guard != 0.8 || req.Level != 0.99 || !req.GaugeOnly {
		t.Errorf("got %+v", req)
	}
}

func TestReadFormRefuses(t *testing.T) {
	for form, field := range map[string]string{
		``: "input", `[]`: "input", `{`: "input", `{} {}`: "input", `{"gap": "1 mm", "gap": "2 mm"}`: "gap",
		`{"gap": 1}`: "gap", `{"gap": "0.050 deg"}`: "gap", `{"gap": "NaN mm"}`: "gap", `{"gap": null}`: "gap", `{"gap": "1"}`: "gap", `{"gap": "1e3 mm"}`: "gap",
		`{"gap": {"value": 1}}`: "gap.unit", `{"gap": {"value": 1, "unit": "deg"}}`: "gap.unit", `{"gap": {"value": 1, "unit": "mm", "uu": 1}}`: "gap.uu",
		`{"gap": {"value": 1, "unit": "mm", "U": 1}}`: "gap", `{"gap": {"value": 1, "unit": "mm", "u": 1, "k": 2}}`: "gap", `{"gap": {"value": 1, "unit": "mm", "u": -1}}`: "gap.u",
		`{"gap": {"value": 1, "unit": "mm", "dof": 5}}`: "gap.dof", `{"gap": {"value": 1, "unit": "mm", "u": 1, "dof": 0}}`: "gap.dof", `{"gap": {"value": 1, "unit": "mm", "U": 1, "k": 0}}`: "gap.k",
		`{"gap": {"value": "1 mm", "unit": "mm"}}`: "gap.unit", `{"gap": {"value": "1 mm", "u": 1}}`: "gap.u", `{"gap": {"value": 1e999, "unit": "mm"}}`: "gap",
		`{"gaps": []}`: "gaps", `{"gaps": [1]}`: "gaps[0]", `{"gaps": {"value": [1, "2 mm"], "unit": "mm"}}`: "gaps[1]", `{"gaps": {"value": [1, 2], "unit": "mm", "u": [1]}}`: "gaps.u",
		`{"gaps": "1 deg"}`: "gaps", `{"table": {"value": [1], "unit": "mm"}}`: "table[0]", `{"table": [[]]}`: "table[0]", `{"ratio": "1 mm"}`: "ratio", `{"ratio": true}`: "ratio",
		`{"any": "5 deg", "anys": ["1 mm"]}`: "anys[0]", `{"any": "5 deg", "anys": [1]}`: "anys[0]", `{"any": 5, "anys": {"value": [1], "unit": "mm"}}`: "anys.unit",
		`{"side": "up"}`: "side", `{"side": 1}`: "side", `{"words": [1]}`: "words[0]", `{"dry": "yes"}`: "dry", `{"rod": {"bog": "1 g"}}`: "rod.bog", `{"rod": {}}`: "rod.big", `{"rod": []}`: "rod",
		`{"parts": [{"big": "1 mm"}]}`: "parts[0].big", `{"parts": [1]}`: "parts[0]", `{"parts": []}`: "parts", `{"groups": {}}`: "groups", `{"groups": {"a": ["1 mm"]}}`: "groups.a[0]",
		`{"pitch": "0 tpi"}`: "pitch", `{"gauge_only": 1}`: "gauge_only", `{"level": 2}`: "level", `{"level": "high"}`: "level", `{"guard": -1}`: "guard", `{"colour": 1}`: "colour",
		`{"limits": {"width": {"lower": "1 deg"}}}`: "limits.width.lower", `{"limits": {"which": {"lower": 1}}}`: "limits.which", `{"limits": {"width": {}}}`: "limits.width", `{"limits": {"width": {"low": 1}}}`: "limits.width.low",
		`{"limits": {"width": {"lower": {"value": 1, "unit": "mm", "u": 1}}}}`: "limits.width.lower", `{"limits": 5}`: "limits",
	} {
		_, err := Read(trial(), []byte(form))
		var in *calc.InputError
		if !errors.As(err, &in) || in.Field != field || in.Want == "" || in.Value == "" {
			t.Errorf("%s: got %v, want an error at %s", form, err, field)
		}
	}
}

// A length with more digits than a tenth of a nanometre is read as it stands.
func TestReadFormInexact(t *testing.T) {
	req, err := Read(trial(), []byte(`{"gap": "1/3 in", "gaps": ["1.23456789 in"]}`))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "third", req.Inputs["gap"].Num.X, 25.4/3, 1e-14)
	near(t, "decimal", req.Inputs["gaps"].List[0].X, 1.23456789*25.4, 1e-14)
}

func TestWriteForm(t *testing.T) {
	req, err := Read(mustFind(t, "contact-clearance"), []byte(`{"protrusion": {"value": 0.212, "unit": "[in_i]", "u": 0.0002}, "clearance": "0.050 in", "side": "outside", "now": "0.240 in",
		"limits": {"clearance_now": {"lower": "0.0278 in"}}}`))
	if err != nil {
		t.Fatal(err)
	}
	res, err := calc.Run(req)
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Method  string
		Version int
		Figures map[string]struct {
			Value, U, K float64
			Unit        string
			Verdict     string
		}
		Adjustment []struct {
			What, Unit, Direction, Words string
			Amount                       float64
		}
		Verdict  string
		Warnings []string
	}
	if err := json.Unmarshal(Write(res, quantity.Inch), &got); err != nil {
		t.Fatalf("%v in %s", err, Write(res, quantity.Inch))
	}
	f := got.Figures["target"]
	near(t, "target", f.Value, 0.262, 0)
	near(t, "U", f.U, 0.0002*f.K, 1e-15)
	near(t, "k", f.K, 1.959964, 1e-6) // normal distribution, 95 %
	if f.Unit != "in" || got.Version != res.Version || got.Warnings == nil || got.Verdict != "too close to call" || got.Figures["clearance_now"].Verdict != got.Verdict {
		t.Errorf("got %+v", got)
	}
	if a := got.Adjustment[0]; a.What != "block" || a.Unit != "in" || a.Direction != "away" || a.Words == "" {
		t.Errorf("got %+v", a)
	}
	refused := Write(calc.Result{Method: "x", Refused: "gap: is 3; measure again"}, quantity.Metric)
	var old struct {
		Refused struct{ Field, Reason, Remedy, Words string }
	}
	if err := json.Unmarshal(refused, &old); err != nil || old.Refused.Field != "x" || old.Refused.Words != "gap: is 3; measure again" {
		t.Errorf("got %s", refused)
	}
}

// Whatever bytes come in: no panic, and what is read can be run.
func FuzzRead(f *testing.F) {
	f.Add([]byte(`{"gap": {"value": 0.0375, "unit": "[in_i]", "U": 0.0005, "k": 2}, "gaps": ["7/32 in"]}`))
	f.Add([]byte(`{"groups": {"a": [1]}, "limits": {"width": {"lower": "0.006 in"}}}`))
	f.Add([]byte(`{"any": "1/3 in", "table": [["1 mm"]], "readings": {"value": [[[1]]], "unit": "mm", "u": 0.1}}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		m := trial()
		req, err := Read(m, b)
		var in *calc.InputError
		if err != nil {
			if !errors.As(err, &in) {
				t.Fatalf("an error of another type: %v", err)
			}
			return
		}
		res, err := m.Run(req)
		if err != nil {
			t.Fatalf("read but not run: %v", err)
		}
		if !json.Valid(Write(res, quantity.Inch)) {
			t.Fatalf("no JSON: %s", Write(res, quantity.Inch))
		}
	})
}

func TestReadFormWords(t *testing.T) {
	req, err := Read(trial(), []byte(`{"gap": "1 mm", "words": ["up", "down"]}`))
	if err != nil || len(req.Inputs["words"].Texts) != 2 {
		t.Errorf("an input of that name is meant: got %+v, %v", req, err)
	}
	req, err = Read(mustFind(t, "contact-clearance"), []byte(`{"protrusion": "1 mm", "clearance": "1 mm", "words": {"away": "into the cylinder"}}`))
	if err != nil || req.Words["away"] != "into the cylinder" {
		t.Errorf("got %v, %v", req.Words, err)
	}
	for _, form := range []string{`{"protrusion": "1 mm", "clearance": "1 mm", "words": []}`, `{"protrusion": "1 mm", "clearance": "1 mm", "words": {"away": 1}}`} {
		if _, err := Read(mustFind(t, "contact-clearance"), []byte(form)); err == nil {
			t.Errorf("%s: no error", form)
		}
	}
}

// Every shape of a figure is written as JSON has it.
func TestWriteFormShapes(t *testing.T) {
	yes := true
	res := calc.Result{Method: "shapes", Version: 2, Figures: []calc.FigureResult{
		{Name: "list", Kind: quantity.Length, List: []float64{25.4, 0.262 * 25.4}, U: 0.254, K: 2, Dof: 7, ULists: []float64{0.254, 0.127}},
		{Name: "none", Kind: quantity.Length, List: []float64{}},
		{Name: "grid", Kind: quantity.Length, Grid: [][]float64{{25.4}, {50.8}}},
		{Name: "word", Text: []string{"both <ends>"}},
		{Name: "words", Text: []string{"one"}, Several: true},
		{Name: "flag", Text: []string{"yes"}, Flag: &yes},
		{Name: "angle", Kind: quantity.Angle, Value: ptr(1.0 / 3)},
	}, Adjustment: []calc.AdjustmentResult{{What: "shims", Amount: 25.4, Kind: quantity.Length, Direction: "fit", Pieces: []float64{25.4}, Words: calc.Shown{MM: "mm", Inch: "inches"}}}, Warnings: []string{"mind"}, GaugeOnly: true}
	var got any
	if err := json.Unmarshal(Write(res, quantity.Inch), &got); err != nil {
		t.Fatal(err)
	}
	var want any
	if err := json.Unmarshal([]byte(`{"method": "shapes", "version": 2, "figures": {
		"list": {"value": [1, 0.262], "unit": "in", "U": [0.01, 0.005], "k": 2, "dof": 7}, "none": {"value": [], "unit": "in"}, "grid": {"value": [[1], [2]], "unit": "in"},
		"word": {"value": "both <ends>"}, "words": {"value": ["one"]}, "flag": {"value": true}, "angle": {"value": 0.3333333333333333, "unit": "deg"}},
		"adjustment": [{"what": "shims", "amount": 1, "unit": "in", "direction": "fit", "pieces": [1], "words": "inches"}], "gauge_only": true, "warnings": ["mind"]}`), &want); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("written (-want +got):\n%s", diff)
	}
}

func TestInputErrorIsASentence(t *testing.T) {
	_, err := Read(mustFind(t, "contact-clearance"), []byte(`{"protrusion": "1 mm", "clearance": "0.050 deg"}`))
	if want := `clearance: got "0.050 deg", want a length, as "0.0375 in", more than zero; units that fit: mm, in, thou, um, m`; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}
