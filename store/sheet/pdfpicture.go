package sheet

import (
	"encoding/xml"
	"fmt"
	"strconv"
	"strings"

	"thoud/calc/chart"
	"thoud/calc/drawing"
)

// drawing draws a line drawing in strokes and text, so wide in mm, its corner at x, y. It gives its height.
func (p *pdfWriter) drawing(pic drawing.Picture, x, y, wide float64) float64 {
	k := wide / drawing.Width
	high := k * drawing.Height
	at := func(q drawing.XY) (float64, float64) { return x + q.X*k, y + q.Y*k }
	inks := drawing.Colours(drawing.Print)
	p.pdf.ClipRect(x, y, wide, high, false)
	p.pdf.SetLineJoinStyle("round")
	for _, e := range pic.Elements {
		l, _ := drawing.LookOf(e.Class)
		if e.Text != "" {
			ax, ay := at(e.At)
			p.lettering(e.Text, string(e.Anchor), ax, ay, l.Size*k, l.Edge*k, l.Bold, drawing.TextWidth(e.Class, e.Text)*k, inks[l.Fill])
			continue
		}
		style := p.ink(l.Stroke != drawing.None, inks[l.Stroke], l.Fill != drawing.None, inks[l.Fill], l.Width*k)
		p.pdf.SetLineCapStyle(map[bool]string{true: "butt", false: "round"}[l.Butt])
		dash := make([]float64, len(l.Dash))
		for i, d := range l.Dash {
			dash[i] = d * k
		}
		p.pdf.SetDashPattern(dash, 0)
		for _, s := range e.Path {
			a, b := at(s.Points[0])
			switch s.Op {
			case drawing.MoveTo:
				p.pdf.MoveTo(a, b)
			case drawing.LineTo:
				p.pdf.LineTo(a, b)
			case drawing.CurveTo:
				c, d := at(s.Points[1])
				ex, ey := at(s.Points[2])
				p.pdf.CurveBezierCubicTo(a, b, c, d, ex, ey)
			case drawing.Close:
				p.pdf.ClosePath()
			}
		}
		p.pdf.DrawPath(style)
	}
	p.plainInk()
	p.pdf.ClipEnd()
	return high
}

// ink sets colours and width, and gives the style of a path that is stroked, filled or both.
func (p *pdfWriter) ink(stroked bool, stroke string, filled bool, fill string, width float64) string {
	style := ""
	if filled {
		r, g, b := rgb(fill)
		p.pdf.SetFillColor(r, g, b)
		style = "F"
	}
	if stroked {
		r, g, b := rgb(stroke)
		p.pdf.SetDrawColor(r, g, b)
		p.pdf.SetLineWidth(width)
		style = "D" + style
	}
	return style
}

// plainInk goes back to black lines and text.
func (p *pdfWriter) plainInk() {
	p.pdf.SetDashPattern(nil, 0)
	p.pdf.SetLineCapStyle("butt")
	p.pdf.SetDrawColor(0, 0, 0)
	p.pdf.SetFillColor(0, 0, 0)
	p.pdf.SetTextColor(0, 0, 0)
	p.pdf.SetLineWidth(0.2)
}

// lettering sets a text of a picture: size and edge in mm, with paper around it, never wider than the room that it has.
func (p *pdfWriter) lettering(s, anchor string, x, y, size, edge float64, bold bool, room float64, colour string) {
	s = p.text(s)
	const point = 25.4 / 72
	if large := max(size/point, leastSize); room == 0 {
		p.font(map[bool]string{true: "B"}[bold], large)
	} else {
		p.narrowed(s, map[bool]string{true: "B"}[bold], large, room*1.04*large*point/size)
	}
	w := p.pdf.GetStringWidth(s)
	switch anchor {
	case "middle":
		x -= w / 2
	case "end":
		x -= w
	}
	if edge > 0 {
		p.pdf.SetDrawColor(255, 255, 255)
		p.pdf.SetLineWidth(edge)
		p.pdf.SetDashPattern(nil, 0)
		p.pdf.SetTextRenderingMode(1)
		p.pdf.Text(x, y, s)
	}
	r, g, b := rgb(colour)
	p.pdf.SetTextRenderingMode(0)
	p.pdf.SetTextColor(r, g, b)
	p.pdf.Text(x, y, s)
}

func rgb(hex string) (r, g, b int) {
	n, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
	if err != nil {
		return 0, 0, 0
	}
	return int(n >> 16 & 255), int(n >> 8 & 255), int(n & 255)
}

// A chartLook is how a class of a chart is drawn on paper, in units of the chart.
type chartLook struct {
	stroke, fill string
	width        float64
	dash         []float64
	size         float64
}

// chartLooks are the chart's own looks in black and white, with larger letters: a chart is half a page wide here.
var chartLooks = map[string]chartLook{
	"frame": {stroke: "#000000", width: 1.4}, "grid": {stroke: "#cccccc", width: 0.8},
	"curve": {stroke: "#000000", width: 2.6}, "curve other": {stroke: "#000000", width: 2.6, dash: []float64{9, 5}}, "curve third": {stroke: "#000000", width: 2.6, dash: []float64{2, 4}},
	"point": {stroke: "#000000", fill: "#ffffff", width: 1.6}, "event": {stroke: "#555555", width: 1.2, dash: []float64{3, 3}},
	"limit": {stroke: "#000000", width: 1.4, dash: []float64{14, 4, 2, 4}},
	"title": {size: 20}, "label": {size: 18.4}, "note": {size: 18.4},
}

func lookOfChart(class string) chartLook {
	if l, ok := chartLooks[class]; ok {
		return l
	}
	first, _, _ := strings.Cut(class, " ")
	if l, ok := chartLooks[first]; ok {
		return l
	}
	return chartLook{stroke: "#000000", width: 1.2, size: 18.4}
}

// chart draws a chart of this program from its SVG, in strokes and text, its height pressed by so much. It gives its height; 0
// and an error where the SVG has something that it does not know.
func (p *pdfWriter) chart(svg string, x, y, wide, press float64) (float64, error) {
	var doc struct {
		ViewBox string    `xml:"viewBox,attr"`
		Marks   []svgMark `xml:",any"`
	}
	if err := xml.Unmarshal([]byte(svg), &doc); err != nil {
		return 0, fmt.Errorf("a chart: %w", err)
	}
	box := numbers(doc.ViewBox)
	if len(box) != 4 || box[2] <= 0 {
		return 0, fmt.Errorf("a chart with the box %q", doc.ViewBox)
	}
	for _, m := range doc.Marks {
		if !m.known() {
			return 0, fmt.Errorf("a chart with a %s", m.XMLName.Local)
		}
	}
	k := wide / box[2]
	down := func(v float64) float64 { return y + pressed(v, press)*k }
	p.pdf.ClipRect(x, y, wide, pressed(box[3], press)*k, false)
	p.pdf.SetLineJoinStyle("round")
	for _, m := range doc.Marks {
		p.chartMark(m, x, k, down)
	}
	p.plainInk()
	p.pdf.ClipEnd()
	return pressed(box[3], press) * k, nil
}

// What stands above and below the frame of a chart, title, numbers and the name of its scale, are letters of full height: they
// are pressed no flatter than this.
const (
	headPress = 0.7
	footPress = 1.05
)

// pressed is where a height of a chart comes to lie when it is pressed flat; a press of 1 leaves it as it is.
func pressed(v, press float64) float64 {
	if press == 1 {
		return v
	}
	head, body := min(v, chart.Ceiling), max(0, min(v, chart.Floor)-chart.Ceiling)
	return head*headPress + body*press + max(0, v-chart.Floor)*footPress
}

// svgMark is one element of a chart.
type svgMark struct {
	XMLName xml.Name
	Class   string  `xml:"class,attr"`
	Points  string  `xml:"points,attr"`
	X       float64 `xml:"x,attr"`
	Y       float64 `xml:"y,attr"`
	CX      float64 `xml:"cx,attr"`
	CY      float64 `xml:"cy,attr"`
	R       float64 `xml:"r,attr"`
	Anchor  string  `xml:"text-anchor,attr"`
	Text    string  `xml:",chardata"`
}

func (m svgMark) known() bool {
	switch m.XMLName.Local {
	case "text", "circle", "polyline", "polygon":
		return true
	}
	return false
}

func (p *pdfWriter) chartMark(m svgMark, x, k float64, down func(float64) float64) {
	l := lookOfChart(m.Class)
	if m.XMLName.Local == "text" {
		p.lettering(m.Text, m.Anchor, x+m.X*k, down(m.Y), l.size*k, l.size*k*0.3, m.Class == "title", 0, "#000000")
		return
	}
	style := p.ink(l.stroke != "", l.stroke, l.fill != "", l.fill, l.width*k)
	dash := make([]float64, len(l.dash))
	for i, d := range l.dash {
		dash[i] = d * k
	}
	p.pdf.SetDashPattern(dash, 0)
	if m.XMLName.Local == "circle" {
		p.pdf.Circle(x+m.CX*k, down(m.CY), m.R*k, style)
		return
	}
	at := numbers(m.Points)
	for i := 0; i+1 < len(at); i += 2 {
		if i == 0 {
			p.pdf.MoveTo(x+at[0]*k, down(at[1]))
			continue
		}
		p.pdf.LineTo(x+at[i]*k, down(at[i+1]))
	}
	if m.XMLName.Local == "polygon" {
		p.pdf.ClosePath()
	}
	p.pdf.DrawPath(style)
}

// numbers reads the numbers of an attribute, parted by commas and spaces.
func numbers(s string) []float64 {
	var out []float64
	for _, f := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ' ' }) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			return nil
		}
		out = append(out, v)
	}
	return out
}
