package drawing

// widths are the advance widths of the printable ASCII characters in a grotesque such as Helvetica, in thousandths of the
// type size: from the font's published metrics. They say how much room a text takes, within a few per cent, whatever
// font of that kind the page has.
var widths = [95]int{
	278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278,
	556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556,
	1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778,
	667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556,
	333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556,
	556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
}

// TextWidth is how wide a text of a class is, in units of the drawing.
func TextWidth(class, text string) float64 {
	l := looks[class]
	w := 0
	for _, c := range text {
		if c >= 32 && c < 127 {
			w += widths[c-32]
			continue
		}
		w += 600
	}
	if l.Bold {
		return float64(w) / 1000 * l.Size * 1.06
	}
	return float64(w) / 1000 * l.Size
}

// Box is the room that a text takes: left, top, right, bottom.
func (e Element) Box() (x1, y1, x2, y2 float64) {
	l, w := looks[e.Class], TextWidth(e.Class, e.Text)
	x := e.At.X
	switch e.Anchor {
	case Middle:
		x -= w / 2
	case End:
		x -= w
	}
	return x, e.At.Y - l.Size*0.74, x + w, e.At.Y + l.Size*0.2
}
