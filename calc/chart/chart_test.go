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
	"strconv"
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
		"tdc-fit":    `{"stroke": "80 mm", "rod": "160 mm", "crank_angle": {"value": [325, 332, 339, 346, 14, 21, 28, 35], "unit": "deg"}, "reading": {"value": [-8.9, -5.75, -3.26, -1.44, -1.52, -3.4, -5.95, -9.15], "unit": "mm"}}`,
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

// textOf is a text of a chart with its room: letters of 12 units, as on the page.
type textOf struct {
	class, words             string
	left, top, right, bottom float64
}

// textsAndLines reads a chart's texts, and its lines and points that a text must keep clear of: all but the grid's.
func textsAndLines(t *testing.T, svg string) (texts []textOf, lines [][4]float64) {
	t.Helper()
	var doc struct {
		Marks []struct {
			XMLName xml.Name
			Class   string  `xml:"class,attr"`
			Points  string  `xml:"points,attr"`
			X       float64 `xml:"x,attr"`
			Y       float64 `xml:"y,attr"`
			Anchor  string  `xml:"text-anchor,attr"`
			Text    string  `xml:",chardata"`
		} `xml:",any"`
	}
	if err := xml.Unmarshal([]byte(svg), &doc); err != nil {
		t.Fatal(err)
	}
	for _, m := range doc.Marks {
		if m.XMLName.Local == "text" {
			w := 6.2 * float64(len([]rune(m.Text)))
			x := m.X - map[string]float64{"start": 0, "middle": w / 2, "end": w}[m.Anchor]
			texts = append(texts, textOf{m.Class, m.Text, x, m.Y - 9, x + w, m.Y + 3})
			continue
		}
		if m.Class == "grid" || m.Class == "leader" || m.Points == "" {
			continue
		}
		var at []float64
		for _, f := range strings.FieldsFunc(m.Points, func(r rune) bool { return r == ' ' || r == ',' }) {
			v, err := strconv.ParseFloat(f, 64)
			if err != nil {
				t.Fatal(err)
			}
			at = append(at, v)
		}
		if m.XMLName.Local == "polygon" {
			at = append(at, at[0], at[1])
		}
		for i := 2; i+1 < len(at); i += 2 {
			lines = append(lines, [4]float64{at[i-2], at[i-1], at[i], at[i+1]})
		}
	}
	return texts, lines
}

// strikes reports whether a line goes through a text, looked for at a hundred points of it.
func (x textOf) strikes(l [4]float64) bool {
	for k := range 101 {
		f := float64(k) / 100
		px, py := l[0]+f*(l[2]-l[0]), l[1]+f*(l[3]-l[1])
		if px > x.left && px < x.right && py > x.top && py < x.bottom {
			return true
		}
	}
	return false
}

// TestNothingStrikesALabelThrough looks at every picture in both systems: no curve, limit or event goes through a text, no two
// texts touch, and none leaves the picture.
func TestNothingStrikesALabelThrough(t *testing.T) {
	for name, svg := range pictures(t) {
		texts, lines := textsAndLines(t, svg)
		for i, x := range texts {
			if x.left < 0 || x.right > 720 || x.top < 0 || x.bottom > 420 {
				t.Errorf("%s: %q leaves the picture: %.0f to %.0f, %.0f to %.0f", name, x.words, x.left, x.right, x.top, x.bottom)
			}
			for _, l := range lines {
				if x.strikes(l) {
					t.Errorf("%s: a line from %.0f, %.0f to %.0f, %.0f strikes %q through", name, l[0], l[1], l[2], l[3], x.words)
				}
			}
			for _, y := range texts[i+1:] {
				if x.left < y.right && y.left < x.right && x.top < y.bottom && y.top < x.bottom {
					t.Errorf("%s: %q and %q touch", name, x.words, y.words)
				}
			}
		}
	}
}

// pictures are all of them, by what they show.
func pictures(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{}
	lower, upper, target := 1.219, 1.321, 1.27
	s := chart.Series{Title: "Guide block, left", Kind: quantity.Length, Limit: calc.Limit{Lower: &lower, Upper: &upper}, Target: &target}
	for i, v := range []float64{0.02, 1.19, 1.25, 1.262} {
		s.Values = append(s.Values, chart.Value{Label: fmt.Sprintf("job %d", 17+i), Value: v, U: 0.01, At: time.Date(2020+i, 3, 1, 0, 0, 0, 0, time.UTC)})
	}
	for _, sys := range []quantity.System{quantity.Metric, quantity.Inch} {
		for method, req := range requests(t) {
			res, err := calc.Run(req)
			if err != nil || res.Refused != "" {
				t.Fatalf("%s: %v %s", method, err, res.Refused)
			}
			svg, ok := chart.DrawIn(res, req, sys)
			if !ok {
				t.Fatalf("%s: no picture", method)
			}
			out[method+" "+string(sys)] = svg
		}
		out["passes "+string(sys)], _ = chart.Convergence(s, sys)
		out["history "+string(sys)], _ = chart.History(s, sys)
	}
	return out
}

// TestTicksAreTrue: passes are counted 1, 2, 3, and nothing between them; years are whole; the directions of a bore bear the
// trade's names; what is wanted stands beside the limits; angles of a shaft begin at the top and go with the clock.
func TestTicksAreTrue(t *testing.T) {
	all := pictures(t)
	labels := func(svg string) string {
		texts, _ := textsAndLines(t, svg)
		var out []string
		for _, x := range texts {
			out = append(out, x.words)
		}
		return "|" + strings.Join(out, "|") + "|"
	}
	for name, wants := range map[string][]string{
		"passes inch": {"|1|", "|2|", "|3|", "|4|", "wanted 0.05|", "lower limit", "upper limit"}, "history mm": {"|2020|", "|2021|", "|2022|", "|2023|", "job 17: "},
		"bore-map mm": {"|thrust|", "|pin|"}, "runout mm": {"|0° mark|", "|90°|", "high point"}, "tdc-fit mm": {"|fitted|"},
	} {
		for _, want := range wants {
			if got := labels(all[name]); !strings.Contains(got, want) {
				t.Errorf("%s lacks %q: %s", name, want, got)
			}
		}
	}
	if got := labels(all["passes mm"]); strings.Contains(got, "1.5") || strings.Contains(got, "|2.0") {
		t.Errorf("a pass between passes: %s", got)
	}
	texts, _ := textsAndLines(t, all["runout mm"])
	at := map[string][2]float64{}
	for _, x := range texts {
		at[x.words] = [2]float64{(x.left + x.right) / 2, (x.top + x.bottom) / 2}
	}
	if !(at["0° mark"][1] < at["90°"][1] && at["90°"][0] > at["180°"][0] && at["180°"][1] > at["90°"][1] && at["270°"][0] < at["180°"][0]) {
		t.Errorf("the angles do not go with the clock from the top: %v", at)
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
		if !strings.Contains(svg, "lower limit 0.00591") || !strings.Contains(svg, "&lt;left&gt;") {
			t.Errorf("%s: limits or title missing in\n%s", name, svg)
		}
		one := s
		one.Values = s.Values[:1]
		if svg, ok := draw(one, quantity.Metric); !ok || strings.Contains(svg, "NaN") {
			t.Errorf("%s of one value: %v", name, ok)
		}
	}
}
