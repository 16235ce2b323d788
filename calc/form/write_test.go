package form

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thoud/calc"
	"thoud/calc/quantity"
)

// Whatever number stands in a result: what is printed reads back as the very same one.
func TestNumbersReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64().Draw(t, "x")
		kind := rapid.SampledFrom([]quantity.Kind{quantity.Angle, quantity.Number, quantity.Length}).Draw(t, "kind")
		w := writer{sys: quantity.Metric}
		var got float64
		if err := json.Unmarshal([]byte(w.number(kind, x)), &got); err != nil || got != x {
			t.Fatalf("%v as %s: %v, %v", x, w.number(kind, x), got, err)
		}
	})
	// In inches the shortest that gives the same length: written as a builder wrote it.
	w := writer{sys: quantity.Inch}
	for _, s := range []string{"0.262", "0.0005", "1.2345", "2.8365"} {
		v, err := quantity.Parse(s + " in")
		if err != nil {
			t.Fatal(err)
		}
		if got := w.number(quantity.Length, v.Float()); got != s {
			t.Errorf("%s in is written as %s", s, got)
		}
	}
}

// A refusal comes in its parts, with the lengths of its sentence in the units asked for.
func TestRefusalIsAnObject(t *testing.T) {
	m := mustFind(t, "contact-clearance")
	req, err := Read(m, []byte(`{"protrusion": "5.08 mm", "clearance": "1 mm", "start": "5.08 mm"}`))
	if err != nil {
		t.Fatal(err)
	}
	res, err := calc.Run(req)
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Method  string
		Refused struct{ Field, Reason, Remedy, Words string }
	}
	for sys, length := range map[quantity.System]string{quantity.Metric: "5.0800 mm", quantity.Inch: "0.20000 in"} {
		if err := json.Unmarshal(Write(res, sys), &got); err != nil {
			t.Fatal(err)
		}
		r := got.Refused
		if got.Method != m.Name || r.Field != "start" || !strings.Contains(r.Reason, length) || !strings.HasPrefix(r.Remedy, "stand the block prouder") || !strings.Contains(r.Words, length) || !strings.HasPrefix(r.Words, "start: ") {
			t.Errorf("%s: got %+v", sys, got)
		}
	}
}

// The reason of a verdict and the warnings follow the units too.
func TestWordsFollowTheUnits(t *testing.T) {
	req, err := Read(mustFind(t, "compression"), []byte(`{"bore": "72 mm", "stroke": "80 mm", "deck": "-0.5 mm", "chamber": "34 cm3", "limits": {"squish": {"lower": "1 mm"}}}`))
	if err != nil {
		t.Fatal(err)
	}
	res, err := calc.Run(req)
	if err != nil {
		t.Fatal(err)
	}
	inch, metric := string(Write(res, quantity.Inch)), string(Write(res, quantity.Metric))
	if strings.Contains(inch, " mm") || !strings.Contains(inch, "outside by 0.0591 in") || !strings.Contains(inch, "squish is -0.020 in") {
		t.Errorf("in inches: %s", inch)
	}
	if strings.Contains(metric, " in ") || !strings.Contains(metric, "outside by 1.500 mm") || !strings.Contains(metric, "squish is -0.50 mm") {
		t.Errorf("in millimetres: %s", metric)
	}
}

// What is wrong with an input comes in its parts too.
func TestMalformedIsAnObject(t *testing.T) {
	_, err := Read(mustFind(t, "contact-clearance"), []byte(`{"protrusion": "5 mm", "clearance": "1 N"}`))
	var got struct {
		Method    string
		Malformed struct{ Field, Reason, Remedy, Words string }
	}
	if e := json.Unmarshal(Malformed("contact-clearance", err), &got); e != nil || got.Malformed.Field != "clearance" || got.Malformed.Reason != `got "1 N"` ||
		!strings.Contains(got.Malformed.Remedy, "units that fit: mm, in, thou, um, m") || got.Malformed.Words != err.Error() {
		t.Errorf("%v: %+v", e, got)
	}
	if e := json.Unmarshal(Malformed("", errors.New("no file")), &got); e != nil || got.Malformed.Field != "input" || got.Malformed.Words != "no file" {
		t.Errorf("%v: %+v", e, got)
	}
}
