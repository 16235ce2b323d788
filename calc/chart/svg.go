package chart

import (
	"fmt"
	"strconv"
	"strings"

	_ "embed"
)

//go:embed chart.css
var sheet string

// svg writes the picture with classes and no styles.
func (p *picture) svg() string {
	var b strings.Builder
	b.Grow(128 * (len(p.marks) + 2))
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" class="chart" viewBox="0 0 %d %d" role="img" aria-label="%s">`, width, height, escape(p.title))
	b.WriteByte('\n')
	for _, m := range p.marks {
		switch {
		case m.text != "":
			fmt.Fprintf(&b, `<text class="%s" x="%.1f" y="%.1f" text-anchor="%s">%s</text>`, m.class, m.points[0].x, m.points[0].y, m.anchor, escape(m.text))
		case len(m.points) == 1:
			fmt.Fprintf(&b, `<circle class="%s" cx="%.1f" cy="%.1f" r="3.5"/>`, m.class, m.points[0].x, m.points[0].y)
		default:
			name := "polyline"
			if m.closed {
				name = "polygon"
			}
			fmt.Fprintf(&b, `<%s class="%s" fill="none" points="%s"/>`, name, m.class, points(m.points))
		}
		b.WriteByte('\n')
	}
	b.WriteString("</svg>\n")
	return b.String()
}

func points(ps []xy) string {
	b := make([]byte, 0, 12*len(ps))
	for i, p := range ps {
		if i > 0 {
			b = append(b, ' ')
		}
		b = strconv.AppendFloat(b, p.x, 'f', 1, 64)
		b = append(b, ',')
		b = strconv.AppendFloat(b, p.y, 'f', 1, 64)
	}
	return string(b)
}

// signs are those that mean something in SVG.
var signs = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;")

func escape(s string) string { return signs.Replace(s) }

// Standalone puts the style sheet into a picture, for a file that is looked at by itself.
func Standalone(svg string) string {
	head, rest, ok := strings.Cut(svg, ">\n")
	if !ok {
		return svg
	}
	return head + ">\n<style>\n" + sheet + "</style>\n<rect class=\"paper\" width=\"100%\" height=\"100%\"/>\n" + rest
}

// Style is the style sheet of the pictures, for a page that shows them inline.
func Style() string { return sheet }
