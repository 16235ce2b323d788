package chart

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"thoud/calc"
	"thoud/calc/quantity"
)

// twice is how many pixels a unit of the picture takes.
const twice = 2.0

// face is the letters' outlines, parsed once.
var face = sync.OnceValues(func() (*opentype.Font, error) { return opentype.Parse(goregular.TTF) })

// PNG draws a result as a bitmap of twice the picture's size in pixels; false where there is no picture for it.
func PNG(res calc.Result, req calc.Request, sys quantity.System) ([]byte, bool, error) {
	p, ok := build(res, req, sys)
	if !ok {
		return nil, false, nil
	}
	f, err := face()
	if err != nil {
		return nil, false, err
	}
	img := image.NewRGBA(image.Rect(0, 0, width*twice, height*twice))
	draw.Draw(img, img.Bounds(), image.White, image.Point{}, draw.Src)
	for _, m := range p.marks {
		wide, dash, c := pen(m.class)
		if m.text != "" {
			if err := letter(img, f, c, m); err != nil {
				return nil, false, err
			}
			continue
		}
		pts := m.points
		if len(pts) == 1 {
			pts = ring(pts[0], 3.5)
		} else if m.closed {
			pts = append(append([]xy(nil), pts...), pts[0])
		}
		stroke(img, pts, wide, dash, c)
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return nil, false, err
	}
	return b.Bytes(), true, nil
}

// ring is a circle round a place, in short pieces.
func ring(at xy, r float64) []xy {
	var out []xy
	for i := range 25 {
		s, c := math.Sincos(float64(i) * math.Pi / 12)
		out = append(out, xy{at.x + r*c, at.y + r*s})
	}
	return out
}

// stroke fills one quadrangle a piece of the line, and a dot where two meet.
func stroke(img *image.RGBA, pts []xy, wide float64, dash []float64, c color.Color) {
	b := img.Bounds()
	z := vector.NewRasterizer(b.Dx(), b.Dy())
	poly := func(q ...xy) {
		for i, p := range q {
			x, y := float32(p.x*twice), float32(p.y*twice)
			if i == 0 {
				z.MoveTo(x, y)
			} else {
				z.LineTo(x, y)
			}
		}
		z.ClosePath()
	}
	k, left, on := 0, math.Inf(1), true
	if len(dash) > 0 {
		left = dash[0]
	}
	h := wide / 2
	for i := 1; i < len(pts); i++ {
		a, e := pts[i-1], pts[i]
		l := math.Hypot(e.x-a.x, e.y-a.y)
		if l == 0 {
			continue
		}
		ux, uy := (e.x-a.x)/l, (e.y-a.y)/l
		for s := 0.0; s < l; {
			d := math.Min(left, l-s)
			if on {
				x0, y0, x1, y1 := a.x+ux*s, a.y+uy*s, a.x+ux*(s+d), a.y+uy*(s+d)
				poly(xy{x0 - uy*h, y0 + ux*h}, xy{x1 - uy*h, y1 + ux*h}, xy{x1 + uy*h, y1 - ux*h}, xy{x0 + uy*h, y0 - ux*h})
			}
			s += d
			if left -= d; left <= 0 {
				k = (k + 1) % len(dash)
				left, on = dash[k], !on
			}
		}
		if len(dash) == 0 && i+1 < len(pts) {
			q := ring(e, h)
			for l, r := 0, len(q)-1; l < r; l, r = l+1, r-1 {
				q[l], q[r] = q[r], q[l]
			}
			poly(q...)
		}
	}
	z.Draw(img, b, image.NewUniform(c), image.Point{})
}

// pen gives line width, dashes and colour of a class, as chart.css has them.
func pen(class string) (wide float64, dash []float64, c color.Color) {
	c = color.Gray{0x11}
	switch class {
	case classGrid:
		return 0.7, nil, color.Gray{0xcc}
	case classEvent:
		return 1, []float64{3, 3}, color.Gray{0x55}
	case classLeader:
		return 0.8, nil, color.Gray{0x55}
	case classLimit:
		return 1.2, []float64{14, 4, 2, 4}, c
	case classFrame:
		return 1.2, nil, c
	case classPoint:
		return 1.5, nil, c
	case classOther:
		return 2.2, []float64{9, 5}, c
	case classThird:
		return 2.2, []float64{2, 4}, c
	}
	return 2.2, nil, c
}

// letter writes a text where its anchor says.
func letter(img *image.RGBA, f *opentype.Font, c color.Color, m mark) error {
	size := 13.0
	switch {
	case strings.HasPrefix(m.class, classTitle):
		size = 16
	case strings.HasPrefix(m.class, classNote):
		size = 12
	}
	ff, err := opentype.NewFace(f, &opentype.FaceOptions{Size: size * twice, DPI: 72})
	if err != nil {
		return err
	}
	d := font.Drawer{Dst: img, Src: image.NewUniform(c), Face: ff}
	x := fixed.Int26_6(m.points[0].x * twice * 64)
	switch w := d.MeasureString(m.text); m.anchor {
	case middle:
		x -= w / 2
	case end:
		x -= w
	}
	d.Dot = fixed.Point26_6{X: x, Y: fixed.Int26_6(m.points[0].y * twice * 64)}
	d.DrawString(m.text)
	return nil
}
