package chart_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"thoud/calc"
	"thoud/calc/chart"
	"thoud/calc/form"
	"thoud/calc/quantity"
)

// requests are invented examples of every method with a picture.
func requests(t *testing.T) map[string]calc.Request {
	t.Helper()
	lobe := func(centre, half, height float64) string {
		var b strings.Builder
		for a := 0.0; a < 720; a += 5 {
			u := (math.Mod(a-centre+1080, 720) - 360) / half
			l := 0.0
			if math.Abs(u) < 1 {
				l = height * math.Pow(1-u*u, 3)
			}
			fmt.Fprintf(&b, "%.4f, ", l)
		}
		return strings.TrimSuffix(b.String(), ", ")
	}
	var angles []string
	for a := 0; a < 720; a += 5 {
		angles = append(angles, fmt.Sprint(a))
	}
	angle := strings.Join(angles, ", ")
	out := map[string]calc.Request{}
	for method, asked := range map[string]string{
		"bore-map": `{"depths": ["10 mm", "40 mm", "75 mm"], "axes": {"value": [0, 90], "unit": "deg"}, "diameters": {"value": [[72.062, 72.048], [72.050, 72.044], [72.041, 72.039]], "unit": "mm"}}`,
		"cam-timing": `{"crank_angle": {"value": [` + angle + `], "unit": "deg"}, "inlet_lift": {"value": [` + lobe(105, 150, 8.5) + `], "unit": "mm"},
			"exhaust_lift": {"value": [` + lobe(612, 155, 8.2) + `], "unit": "mm"}, "checking_height": "1 mm"}`,
		"valve-to-piston": `{"stroke": "80 mm", "rod": "160 mm", "valve_angle": "20 deg", "crank_angle": {"value": [` + angle + `], "unit": "deg"}, "lift": {"value": [` + lobe(105, 150, 8.5) + `], "unit": "mm"},
			"static_clearance": "3.8 mm", "required": "0.080 in", "valve": "inlet"}`,
		"chain-slack": `{"angle": {"value": [0,30,60,90,120,150,180,210,240,270,300,330], "unit": "deg"}, "slack": {"value": [36.9, 33.4, 29.0, 24.9, 22.5, 23.0, 26.2, 30.5, 34.7, 37.8, 39.3, 39.0], "unit": "mm"},
			"straight_run": "600 mm", "radius_front": "34 mm", "radius_rear": "76 mm", "min_slack": "25 mm"}`,
		"circle-fit": `{"points": {"value": [[36.0314, 0], [0, 36.0253], [-36.0232, 0.001], [0.002, -36.0201], [25.47, 25.475]], "unit": "mm"}}`,
		"runout":     `{"angle": {"value": [0,45,90,135,180,225,270,315], "unit": "deg"}, "reading": {"value": [0.0, 0.012, 0.021, 0.022, 0.014, 0.003, -0.007, -0.008], "unit": "mm"}}`,
	} {
		m, ok := calc.Find(method)
		if !ok {
			t.Fatalf("no method %s", method)
		}
		req, err := form.Read(m, []byte(asked))
		if err != nil {
			t.Fatalf("%s: %v", method, err)
		}
		out[method] = req
	}
	return out
}

// wellFormed checks an SVG: it parses, has no style of its own and no coordinate that is not a number.
func wellFormed(t *testing.T, svg string) {
	t.Helper()
	dec := xml.NewDecoder(strings.NewReader(svg))
	shapes := 0
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("%v in\n%s", err, svg)
		}
		if e, ok := tok.(xml.StartElement); ok {
			shapes++
			for _, a := range e.Attr {
				if a.Name.Local == "style" || strings.HasPrefix(a.Name.Local, "on") || strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
					t.Errorf("%s: attribute %s=%q", e.Name.Local, a.Name.Local, a.Value)
				}
			}
		}
	}
	if shapes < 20 {
		t.Errorf("only %d shapes", shapes)
	}
}

func TestDraw(t *testing.T) {
	for method, req := range requests(t) {
		t.Run(method, func(t *testing.T) {
			res, err := calc.Run(req)
			if err != nil || res.Refused != "" {
				t.Fatalf("%v %s", err, res.Refused)
			}
			for _, sys := range []quantity.System{quantity.Metric, quantity.Inch} {
				svg, ok := chart.DrawIn(res, req, sys)
				if !ok {
					t.Fatal("no picture")
				}
				wellFormed(t, svg)
				if again, _ := chart.DrawIn(res, req, sys); again != svg {
					t.Error("drawn twice, two pictures")
				}
			}
			svg, _ := chart.Draw(res, req)
			alone := chart.Standalone(svg)
			if strings.Count(alone, "<style>") != 1 || !strings.Contains(alone, chart.Style()) {
				t.Error("the file by itself has no style sheet")
			}
			b, ok, err := chart.PNG(res, req, quantity.Metric)
			if err != nil || !ok {
				t.Fatalf("png: %v, %v", ok, err)
			}
			img, err := png.Decode(bytes.NewReader(b))
			if err != nil {
				t.Fatal(err)
			}
			if s := img.Bounds().Size(); s.X != 1440 || s.Y != 840 {
				t.Errorf("size %v, want 1440 by 840", s)
			}
			if dir := os.Getenv("THOUD_PICTURES"); dir != "" {
				if err := os.WriteFile(filepath.Join(dir, method+".png"), b, 0o644); err != nil {
					t.Fatal(err)
				}
			}
		})
	}
}

// The tight spot is marked where the result says it is: 130° of a turn drawn from about −20° to 350°.
func TestEventStandsAtItsAngle(t *testing.T) {
	req := requests(t)["chain-slack"]
	res, err := calc.Run(req)
	if err != nil {
		t.Fatal(err)
	}
	f, _ := res.Figure("tight_at")
	lo, hi := -0.06*330, 330*1.06
	want := fmt.Sprintf(`points="%.1f,`, 78+(*f.Value-lo)/(hi-lo)*(720-24-78))
	svg, _ := chart.Draw(res, req)
	found := false
	for _, line := range strings.Split(svg, "\n") {
		found = found || strings.Contains(line, `class="event"`) && strings.Contains(line, want)
	}
	if !found {
		t.Errorf("no event at %s (tight at %.1f°)", want, *f.Value)
	}
}

func TestNoPicture(t *testing.T) {
	if _, ok := chart.Draw(calc.Result{Method: "decide"}, calc.Request{Method: "decide"}); ok {
		t.Error("a picture of a decision")
	}
	if _, ok := chart.Draw(calc.Result{Method: "bore-map", Refused: "x"}, calc.Request{Method: "bore-map"}); ok {
		t.Error("a picture of a refusal")
	}
	for _, m := range calc.Methods() { // no inputs at all: no panic
		chart.Draw(calc.Result{Method: m.Name}, calc.Request{Method: m.Name})
	}
	if _, ok := chart.Convergence(chart.Series{}, quantity.Metric); ok {
		t.Error("a picture of no pass")
	}
	if _, ok := chart.History(chart.Series{}, quantity.Metric); ok {
		t.Error("a picture of no history")
	}
}

func TestPassesAndHistory(t *testing.T) {
	lower, upper := 0.15, 0.25
	s := chart.Series{Title: "End float <left>", Kind: quantity.Length, Limit: calc.Limit{Lower: &lower, Upper: &upper}}
	for i, v := range []float64{0.72, 0.31, 0.216} {
		s.Values = append(s.Values, chart.Value{Label: fmt.Sprintf("pass %d", i+1), Value: v, U: 0.01, At: time.Date(2020+i, 3, 1, 0, 0, 0, 0, time.UTC)})
	}
	for name, draw := range map[string]func(chart.Series, quantity.System) (string, bool){"passes": chart.Convergence, "history": chart.History} {
		svg, ok := draw(s, quantity.Inch)
		if !ok {
			t.Fatalf("%s: no picture", name)
		}
		wellFormed(t, svg)
		if !strings.Contains(svg, "lower limit 0.005906") || !strings.Contains(svg, "&lt;left&gt;") {
			t.Errorf("%s: limits or title missing in\n%s", name, svg)
		}
		one := s
		one.Values = s.Values[:1]
		if svg, ok := draw(one, quantity.Metric); !ok || strings.Contains(svg, "NaN") {
			t.Errorf("%s of one value: %v", name, ok)
		}
	}
}
