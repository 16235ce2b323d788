package chart

import (
	"bytes"
	"image/color"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"

	"thoud/calc"
	"thoud/calc/quantity"
)

// PNG draws a result as a bitmap of twice the picture's size in pixels; false where there is no picture for it.
func PNG(res calc.Result, req calc.Request, sys quantity.System) ([]byte, bool, error) {
	p, ok := build(res, req, sys)
	if !ok {
		return nil, false, nil
	}
	c := vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(vg.Points(width), vg.Points(height)), vgimg.UseDPI(144))}
	faces := text.Plain{Fonts: font.DefaultCache}
	for _, m := range p.marks {
		pen(c, m.class)
		if m.text != "" {
			letter(c, faces, m)
			continue
		}
		var path vg.Path
		if len(m.points) == 1 {
			path.Move(vg.Point{X: vg.Points(m.points[0].x + 3.5), Y: flip(m.points[0].y)})
			path.Arc(vg.Point{X: vg.Points(m.points[0].x), Y: flip(m.points[0].y)}, 3.5, 0, 6.283185307179586)
			path.Close()
		} else {
			for i, q := range m.points {
				at := vg.Point{X: vg.Points(q.x), Y: flip(q.y)}
				if i == 0 {
					path.Move(at)
				} else {
					path.Line(at)
				}
			}
			if m.closed {
				path.Close()
			}
		}
		c.Stroke(path)
	}
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return nil, false, err
	}
	return b.Bytes(), true, nil
}

func flip(y float64) vg.Length { return vg.Points(height - y) }

// pen sets line width and dashes of a class, as chart.css has them.
func pen(c vg.Canvas, class string) {
	c.SetColor(color.Gray{0x11})
	c.SetLineDash(nil, 0)
	switch class {
	case classGrid:
		c.SetColor(color.Gray{0xcc})
		c.SetLineWidth(0.7)
	case classEvent:
		c.SetColor(color.Gray{0x55})
		c.SetLineWidth(1)
		c.SetLineDash([]vg.Length{3, 3}, 0)
	case classLimit:
		c.SetLineWidth(1.2)
		c.SetLineDash([]vg.Length{14, 4, 2, 4}, 0)
	case classFrame:
		c.SetLineWidth(1.2)
	case classPoint:
		c.SetLineWidth(1.5)
	case classOther:
		c.SetLineWidth(2.2)
		c.SetLineDash([]vg.Length{9, 5}, 0)
	case classThird:
		c.SetLineWidth(2.2)
		c.SetLineDash([]vg.Length{2, 4}, 0)
	default:
		c.SetLineWidth(2.2)
	}
}

func letter(c vg.Canvas, faces text.Plain, m mark) {
	size := 13.0
	switch {
	case strings.HasPrefix(m.class, classTitle):
		size = 16
	case strings.HasPrefix(m.class, classNote):
		size = 12
	}
	face := faces.Fonts.Lookup(font.Font{Typeface: "Liberation", Variant: "Sans"}, vg.Points(size))
	at := vg.Point{X: vg.Points(m.points[0].x), Y: flip(m.points[0].y)}
	switch w := face.Width(m.text); m.anchor {
	case middle:
		at.X -= w / 2
	case end:
		at.X -= w
	}
	c.FillString(face, at, m.text)
}
