package drawing

import (
	"maps"
	"slices"
	"strconv"
	"strings"
)

// Classes lists the classes of the looks in order of their names.
func Classes() []string { return slices.Sorted(maps.Keys(looks)) }

// SVG writes the drawing as one svg element: classes alone, no style and no reference. What it shows stands in aria-label;
// each part is a group that data-part names.
func (p Picture) SVG() string { return p.svg("") }

// Standalone is SVG with its style sheet inside, for a file that is looked at by itself.
func (p Picture) Standalone() string {
	return p.svg("<style>\n" + Style() + "</style>\n<rect class=\"ground\" width=\"640\" height=\"480\"/>\n")
}

func (p Picture) svg(inside string) string {
	var b strings.Builder
	b.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" class="` + Class + `" viewBox="0 0 640 480" role="img" aria-label="` + escape(p.Says) + `" data-drawing="` + escape(p.Name) + "\">\n" + inside)
	for _, part := range p.Parts() {
		strokes := ""
		for _, e := range part.Elements {
			strokes += e.SVG(p.Live)
		}
		if part.Name != "" {
			strokes = `<g data-part="` + escape(part.Name) + "\">\n" + strokes + "</g>\n"
		}
		b.WriteString(strokes)
	}
	b.WriteString("</svg>\n")
	return b.String()
}

// Part is a run of strokes that belong together; Name is "" where they belong to nothing in particular.
type Part struct {
	Name     string
	Elements []Element
}

// Parts are the drawing's strokes from back to front, taken together by what they belong to.
func (p Picture) Parts() []Part {
	var out []Part
	for i, e := range p.Elements {
		if i == 0 || e.Part != out[len(out)-1].Name {
			out = append(out, Part{Name: e.Part})
		}
		last := &out[len(out)-1]
		last.Elements = append(last.Elements, e)
	}
	return out
}

// SVG writes a stroke or a text; within a text the figure that follows the gauge, live, stands in a tspan of its own.
func (e Element) SVG(live string) string {
	if e.Text != "" {
		words := escape(e.Text)
		if before, after, ok := strings.Cut(e.Text, live); ok && live != "" {
			words = escape(before) + "<tspan data-live=\"\">" + escape(live) + "</tspan>" + escape(after)
		}
		return `<text class="` + e.Class + `" x="` + short(e.At.X) + `" y="` + short(e.At.Y) + `" text-anchor="` + string(e.Anchor) + `">` + words + "</text>\n"
	}
	var d strings.Builder
	for _, s := range e.Path {
		d.WriteByte(byte(s.Op))
		n := map[Op]int{MoveTo: 1, LineTo: 1, CurveTo: 3}[s.Op]
		for i := range n {
			if i > 0 {
				d.WriteByte(' ')
			}
			d.WriteString(short(s.Points[i].X) + " " + short(s.Points[i].Y))
		}
	}
	return `<path class="` + e.Class + `" d="` + d.String() + "\"/>\n"
}

// short writes a coordinate to a tenth of a unit.
func short(v float64) string {
	s := strings.TrimSuffix(strconv.FormatFloat(v, 'f', 1, 64), ".0")
	if s == "-0" {
		return "0"
	}
	return s
}

// signs are those that mean something in SVG.
var signs = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;")

func escape(s string) string { return signs.Replace(s) }
