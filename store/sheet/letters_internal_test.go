package sheet

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"thoud/calc/drawing"
	"thoud/calc/quantity"
)

// smallestLetter reads a PDF's streams for the smallest size that a font is set to ("/F1 6.5 Tf", ISO 32000, text state
// operators), in points.
func smallestLetter(t *testing.T, pdf []byte) float64 {
	t.Helper()
	least := 0.0
	for _, part := range bytes.Split(pdf, []byte("stream\n"))[1:] {
		r, err := zlib.NewReader(bytes.NewReader(part))
		if err != nil {
			continue
		}
		text, err := io.ReadAll(r)
		if err != nil && len(text) == 0 {
			continue
		}
		for _, m := range regexp.MustCompile(`/F\w+ ([0-9.]+) Tf`).FindAllSubmatch(text, -1) {
			size, err := strconv.ParseFloat(string(m[1]), 64)
			if err != nil {
				t.Fatal(err)
			}
			if least == 0 || size < least {
				least = size
			}
		}
	}
	if least == 0 {
		t.Fatal("no letters found in the PDF")
	}
	return least
}

// TestNoLetterIsTooSmallToBeRead sets what is long where there is little room, every drawing and both kinds of chart as they
// stand on the sheet: nothing is set below 6.5 points. Common practice: print of 6 points is the least that is read with ease.
func TestNoLetterIsTooSmallToBeRead(t *testing.T) {
	const long = "min clearance, left, exhaust / right, exhaust / left, inlet / right, inlet"
	chart := `<svg viewBox="0 0 720 420"><text class="label" x="100" y="300">-360</text><text class="title" x="78" y="26">Valve lift</text><text class="note" x="8" y="382">magnified</text></svg>`
	for name, set := range map[string]func(*pdfWriter){
		"a long name in a table": func(p *pdfWriter) {
			tb := p.table(col{"No.", 7, true}, col{"Figure", 35, false}, col{"Value", 30, true}, col{"", 128, false})
			tb.row([]cell{{text: "1"}, {text: long, fit: true}, {text: "0.1416 / 0.1431 / 0.1416 / 0.1431 / 0.1416 in", fit: true, style: "B"}, {}})
			tb.end()
		},
		"a long line of the first page": func(p *pdfWriter) { p.fitted(long, "B", 8, 20, 20, 30) },
		"an entry with a long value":    func(p *pdfWriter) { p.entry(entry{long, long, long}, 20, 20, 60) },
		"a round chart":                 func(p *pdfWriter) { p.chartAt(chosenChart{Step: Step{Method: "runout"}, SVG: chart}, 20, 20, 68) },
		"a flat chart":                  func(p *pdfWriter) { p.chartAt(chosenChart{Step: Step{Method: "cam-timing"}, SVG: chart}, 20, 20, 90) },
	} {
		check(t, name, set)
	}
	for _, row := range drawing.Rows() {
		pic, err := drawing.Of(row.Name, drawing.Numbers{})
		if err != nil {
			t.Fatal(err)
		}
		lettered := false
		for _, e := range pic.Elements {
			lettered = lettered || e.Text != ""
		}
		if lettered {
			check(t, "drawing "+row.Name, func(p *pdfWriter) { p.drawing(pic, 20, 20, drawingWide) })
		}
	}
}

func check(t *testing.T, name string, set func(*pdfWriter)) {
	t.Helper()
	p, err := newPDFWriter(Sheet{Job: "17"}, Options{System: quantity.Inch})
	if err != nil {
		t.Fatal(err)
	}
	set(p)
	var b bytes.Buffer
	if err := p.pdf.Output(&b); err != nil {
		t.Fatal(err)
	}
	if got := smallestLetter(t, b.Bytes()); got < 6.5 {
		t.Errorf("%s: letters of %g points, want 6.5", name, got)
	}
}

// A name that has not even room in the smallest letters is broken into lines, and nothing of it is lost.
func TestALongNameIsBrokenIntoLines(t *testing.T) {
	p, err := newPDFWriter(Sheet{Job: "17"}, Options{System: quantity.Inch})
	if err != nil {
		t.Fatal(err)
	}
	const long = "min clearance, left, exhaust / right, exhaust"
	tb := p.table(col{"Figure", 35, false}, col{"", 163, false})
	lines := tb.lines(0, cell{text: long, fit: true})
	if len(lines) != 2 || strings.Join(lines, " ") != long {
		t.Errorf("%s: set as %q", long, fmt.Sprint(lines))
	}
	if got := tb.lines(0, cell{text: "clearance, left / right", fit: true}); len(got) != 1 {
		t.Errorf("a name that has room is set as %q", got)
	}
}

// The engine from above is drawn where it is a parallel twin, and of no other: a single and a V would be shown as what they are
// not.
func TestTheOverviewIsOfThisEngine(t *testing.T) {
	for cylinders, want := range map[string]bool{"left,right": true, "front,rear": false, "single": false, "left,middle,right": false} {
		s := Sheet{Job: "17", cylinders: strings.Split(cylinders, ",")}
		if got := len(s.overview().Elements) > 0; got != want {
			t.Errorf("%s: drawn %v, want %v", cylinders, got, want)
		}
		var page bytes.Buffer
		if err := HTML(&page, s, Options{System: quantity.Inch}); err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(page.String(), `<svg`) && strings.Contains(page.String(), ">left<"); got != want {
			t.Errorf("%s: on the page %v, want %v", cylinders, got, want)
		}
		var paper bytes.Buffer
		if err := PDF(&paper, s, Options{System: quantity.Inch}); err != nil {
			t.Fatal(err)
		}
	}
}
