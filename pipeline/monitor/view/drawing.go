package view

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strings"
)

// Drawing says what the small line drawing shows: which view of the engine, and which point is lit. It is made from the
// plan alone. Cylinders stand as seen from the rider's seat, left first, the front of the engine at the top.
type Drawing struct {
	View      string
	Step      string // its id
	Point     string
	Cylinders []string
	Valves    []string
	Angles    map[string]float64
	Depths    []string
}

// sketch collects the strokes of a drawing in a square of 400 by 300.
type sketch struct{ b strings.Builder }

func (k *sketch) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(&k.b, `<line class="%s" x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f"/>`, class, x1, y1, x2, y2)
}

func (k *sketch) circle(class string, x, y, r float64) {
	fmt.Fprintf(&k.b, `<circle class="%s" cx="%.1f" cy="%.1f" r="%.1f"/>`, class, x, y, r)
}

func (k *sketch) rect(class string, x, y, w, h, r float64) {
	fmt.Fprintf(&k.b, `<rect class="%s" x="%.1f" y="%.1f" width="%.1f" height="%.1f" rx="%.1f"/>`, class, x, y, w, h, r)
}

func (k *sketch) path(class, d string) { fmt.Fprintf(&k.b, `<path class="%s" d="%s"/>`, class, d) }

func (k *sketch) text(class string, x, y float64, s string) {
	fmt.Fprintf(&k.b, `<text class="%s" x="%.1f" y="%.1f">%s</text>`, class, x, y, template.HTMLEscapeString(s))
}

// Shown reports whether there is a drawing of this view.
func (d Drawing) Shown() bool {
	return contains([]string{"twin-top", "crank", "cylinder", "valve-gear"}, d.View)
}

// Says is the drawing in words, for those who cannot see it.
func (d Drawing) Says() string {
	parts := words(d.Point)
	what := map[string]string{"twin-top": "cylinders seen from the rider's seat", "crank": "crankshaft", "cylinder": "cylinder bore", "valve-gear": "valve gear"}[d.View]
	if d.Point == "" {
		return Capital(what)
	}
	return Capital(what) + ": " + strings.Join(parts, ", ")
}

// SVG draws it.
func (d Drawing) SVG() template.HTML {
	k := &sketch{}
	switch d.View {
	case "twin-top":
		d.top(k)
	case "crank":
		d.crank(k)
	case "cylinder":
		d.bore(k)
	case "valve-gear":
		d.valves(k)
	default:
		return ""
	}
	// Every text in it went through HTMLEscapeString; the rest are numbers and class names of ours.
	return template.HTML(`<svg class="drawing" viewBox="0 0 400 300" role="img" aria-label="` + template.HTMLEscapeString(d.Says()) + `">` + k.b.String() + `</svg>`)
}

// has reports whether the point is at a cylinder, a valve or a side: its id names it ("left.inlet", "left-top.gap"), or,
// where it names none of that kind, the step's id does ("cam-inlet-left").
func (d Drawing) has(word string) bool {
	point := words(d.Point)
	if slices.Contains(point, word) {
		return true
	}
	for _, kind := range [][]string{d.Cylinders, d.Valves} {
		if slices.Contains(kind, word) {
			return slices.Contains(words(d.Step), word) && !slices.ContainsFunc(point, func(p string) bool { return slices.Contains(kind, p) })
		}
	}
	return false
}

func words(id string) []string {
	return strings.FieldsFunc(id, func(r rune) bool { return r == '.' || r == '-' })
}

// top draws the cylinders from above, the exhaust side (front) at the top. Where the point names a valve, that valve is
// lit; where it names a cylinder only, the whole cylinder.
func (d Drawing) top(k *sketch) {
	n := max(len(d.Cylinders), 1)
	wide := 400 / float64(n)
	r := math.Min(wide*0.36, 84)
	k.path("thin", "M200 8 l-9 14 h18 z")
	k.text("label", 200, 42, "front")
	k.rect("thin", 14, 58, 372, 186, 16)
	for i, c := range d.Cylinders {
		x, y := wide*(float64(i)+0.5), 151.0
		valve := ""
		for _, v := range d.Valves {
			if d.has(v) {
				valve = v
			}
		}
		here := d.has(c)
		k.circle(class("line", here && valve == "", "lit"), x, y, r)
		k.circle("thin", x, y, r*0.9)
		for _, v := range d.Valves {
			vy := y + r*0.42
			if v == "exhaust" {
				vy = y - r*0.42
			}
			on := here && v == valve
			k.circle(class("line", on, "lit"), x, vy, r*0.3)
			k.text(class("letter", on, "letter-lit"), x, vy+r*0.13, strings.ToUpper(v[:1]))
		}
		k.text(class("name", here, "name-lit"), x, 286, c)
		if here {
			k.path("pointer", fmt.Sprintf("M%.1f %.1f l-12 -18 h24 z", x, 56.0))
		}
	}
}

// crank draws a circle with the points' angles where they have any, else the shaft from the side.
func (d Drawing) crank(k *sketch) {
	if len(d.Angles) > 0 {
		d.circle(k)
		return
	}
	k.rect("line", 20, 135, 80, 40, 4)
	k.rect("line", 300, 135, 80, 40, 4)
	k.rect("line", 100, 70, 40, 170, 10)
	k.rect("line", 260, 70, 40, 170, 10)
	k.rect("line", 180, 90, 40, 130, 10)
	k.rect("thin", 140, 82, 40, 36, 2)
	k.rect("thin", 220, 82, 40, 36, 2)
	left := d.has("left") || d.has("drive") || d.has("push")
	right := d.has("right") || d.has("timing") || d.has("pull")
	if left {
		k.path("pointer", "M60 120 l-14 -22 h28 z")
	}
	if right {
		k.path("pointer", "M340 120 l-14 -22 h28 z")
	}
	k.text(class("name", left, "name-lit"), 60, 286, "left")
	k.text(class("name", right, "name-lit"), 340, 286, "right")
}

func (d Drawing) circle(k *sketch) {
	cx, cy, r := 200.0, 152.0, 96.0
	k.circle("line", cx, cy, r)
	k.circle("thin", cx, cy, 10)
	k.path("thin", "M200 40 v32")
	for id, a := range d.Angles {
		s, c := math.Sincos(a * math.Pi / 180)
		x, y := cx+r*s, cy-r*c
		if id == d.Point {
			k.line("lit-line", cx, cy, x, y)
			k.circle("lit", x, y, 15)
			k.text("name-lit", cx+(r+30+34*math.Abs(s))*s, cy-(r+32)*c+10, fmt.Sprintf("%g°", a))
			continue
		}
		k.circle("dot", x, y, 7)
	}
	if d.Point == "datum" {
		k.circle("lit", cx, cy-r, 15)
	}
}

// bore draws a cylinder in section with the depth that is read lit, and its mouth with the axis that is read.
func (d Drawing) bore(k *sketch) {
	k.path("line", "M60 30 V270 M210 30 V270 M40 30 h20 M210 30 h20 M40 270 h20 M210 270 h20")
	parts := strings.Split(d.Point, ".")
	at := -1
	for i, name := range d.Depths {
		y := 60 + 180*float64(i)/math.Max(1, float64(len(d.Depths)-1))
		on := slices.Contains(parts, name)
		k.line(class("thin", on, "lit-line"), 60, y, 210, y)
		if on {
			at = i
			k.path("pointer", fmt.Sprintf("M218 %.1f l22 -14 v28 z", y))
		}
	}
	if at >= 0 {
		k.text("name-lit", 135, 298, d.Depths[at])
	}
	cx, cy, r := 318.0, 120.0, 62.0
	k.circle("line", cx, cy, r)
	thrust, pin := d.has("thrust"), d.has("pin")
	k.line(class("thin", thrust, "lit-line"), cx, cy-r, cx, cy+r)
	k.line(class("thin", pin, "lit-line"), cx-r, cy, cx+r, cy)
	k.text("label", cx, cy-r-10, "front")
	for _, c := range d.Cylinders {
		if d.has(c) {
			k.text("name-lit", cx, 230, c)
		}
	}
	switch {
	case thrust:
		k.text("name-lit", cx, 266, "thrust")
	case pin:
		k.text("name-lit", cx, 266, "pin")
	}
}

// valves draws the two valves of a cylinder head from the side, the inlet towards the rider.
func (d Drawing) valves(k *sketch) {
	k.path("line", "M90 250 V190 Q90 150 200 130 Q310 150 310 190 V250")
	for _, v := range d.Valves {
		on := d.has(v)
		x, lean, name := 262.0, 1.0, 324.0
		if v == "exhaust" {
			x, lean, name = 138, -1, 84
		}
		c := class("line", on, "lit-line")
		k.line(c, x-lean*22, 206, x+lean*30, 76)
		k.path(c, fmt.Sprintf("M%.0f 190 l%.0f 32", x-lean*48, lean*52))
		k.path(class("thin", on, "lit-line"), fmt.Sprintf("M%.0f 84 l%.0f -40 l%.0f 6", x+lean*34, -lean*44, -lean*40))
		k.text(class("name", on, "name-lit"), name, 40, v)
		if on {
			k.path("pointer", fmt.Sprintf("M%.0f 66 l-14 -22 h28 z", x+lean*34))
		}
	}
	for _, c := range d.Cylinders {
		if d.has(c) {
			k.text("name-lit", 200, 286, c)
		}
	}
}

func class(plain string, on bool, lit string) string {
	if on {
		return lit
	}
	return plain
}
