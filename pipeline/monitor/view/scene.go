package view

import (
	"strconv"

	"thoud/calc/drawing"
	"thoud/calc/markup"
)

// Scene is the drawing of a job, taken apart so that a page is sent only the parts that changed: the barrel stands still while
// the gauge goes down in it.
type Scene struct {
	Name  string
	Says  Text // for who cannot see it
	Parts []ScenePart
}

// ScenePart is one part of a drawing: its place from back to front, what it belongs to, and its strokes. Those that differ between
// mm and inches are there twice, and the style shows the one that is chosen.
type ScenePart struct {
	Key  string
	Name string
	SVG  markup.HTML
}

// scene draws in mm and in inches; nothing where the drawing refuses.
func scene(name string, numbers [2]drawing.Numbers) *Scene {
	mm, err := drawing.Of(name, numbers[0])
	if err != nil {
		return nil
	}
	inch, err := drawing.Of(name, numbers[1])
	if err != nil {
		return nil
	}
	out := &Scene{Name: name, Says: Text{MM: mm.Says, Inch: inch.Says}}
	a, b := mm.Parts(), inch.Parts()
	for i := range max(len(a), len(b)) {
		var strokes [2][]drawing.Element
		part := ScenePart{Key: strconv.Itoa(i)}
		if i < len(b) {
			part.Name, strokes[1] = b[i].Name, b[i].Elements
		}
		if i < len(a) {
			part.Name, strokes[0] = a[i].Name, a[i].Elements
		}
		part.SVG = markup.HTML(bothStrokes(strokes, mm.Live, inch.Live)) // holds only what the drawing package writes, and that escapes its texts
		out.Parts = append(out.Parts, part)
	}
	return out
}

// bothStrokes writes strokes in both systems: once where they are the same, else each for its own.
func bothStrokes(strokes [2][]drawing.Element, liveMM, liveInch string) string {
	out := ""
	for i := range max(len(strokes[0]), len(strokes[1])) {
		var each [2]string
		if i < len(strokes[0]) {
			each[0] = strokes[0][i].SVG(liveMM)
		}
		if i < len(strokes[1]) {
			each[1] = strokes[1][i].SVG(liveInch)
		}
		if each[0] == each[1] {
			out += each[0]
			continue
		}
		out += `<g class="mm">` + each[0] + `</g><g class="inch">` + each[1] + "</g>\n"
	}
	return out
}
