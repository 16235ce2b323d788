package sheet

import (
	"fmt"

	"codeberg.org/go-pdf/fpdf"
)

func pageOf(pdf *fpdf.Fpdf) string { return fmt.Sprintf("%d of {pages}", pdf.PageNo()) }

// col is a column of a table: its heading, its width in mm (all are stretched together to the paper), numbers to the
// right.
type col struct {
	head  string
	width float64
	right bool
}

// cell is one field of a row: a text, or the mark of a figure.
type cell struct {
	text  string
	style string
	mark  *Rule
}

func cells(texts ...string) []cell {
	out := make([]cell, len(texts))
	for i, t := range texts {
		out[i].text = t
	}
	return out
}

// table is a table being set; its heading comes again on every page.
type table struct {
	p      *press
	cols   []col
	struck bool // the next row is struck through
	begun  bool
}

const (
	tableSize = 8.0 // points
	tableLine = 3.7 // mm
	tableGap  = 2.0 // mm between columns
)

func (p *press) table(cols ...col) *table {
	sum := 0.0
	for _, c := range cols {
		sum += c.width
	}
	for i := range cols {
		cols[i].width *= p.width / sum
	}
	return &table{p: p, cols: cols}
}

func (t *table) head() {
	named := false
	for _, c := range t.cols {
		named = named || c.head != ""
	}
	if !named {
		return
	}
	heads := make([]cell, len(t.cols))
	for i, c := range t.cols {
		heads[i].text = c.head
	}
	t.set(heads, 0.25, 0)
}

// row sets a row, on the next page where it does not fit on this one.
func (t *table) row(row []cell) {
	style := ""
	if t.struck {
		style, t.struck = "S", false
	}
	for i := range row {
		row[i].style += style
	}
	need := t.height(row) + 1.4
	_, page := t.p.pdf.GetPageSize()
	if !t.begun {
		t.p.room(need + 6)
		t.head()
		t.begun = true
	} else if t.p.pdf.GetY()+need > page-18 {
		t.p.pdf.AddPage()
		t.head()
	}
	t.set(row, 0.1, 120)
}

// note is a text under a row, from the second column on.
func (t *table) note(s string) {
	p := t.p
	p.font("", tableSize)
	indent := t.cols[0].width
	p.room(2 * tableLine)
	p.pdf.SetX(p.left + indent)
	p.pdf.MultiCell(p.width-indent, tableLine, p.text(s), "", "L", false)
	y := p.pdf.GetY() + 0.5
	p.pdf.SetDrawColor(120, 120, 120)
	p.pdf.SetLineWidth(0.1)
	p.pdf.Line(p.left, y, p.left+p.width, y)
	p.pdf.SetDrawColor(0, 0, 0)
	p.pdf.SetXY(p.left, y+0.4)
}

func (t *table) end() { t.p.pdf.Ln(1.5) }

func (t *table) lines(i int, c cell) [][]byte {
	t.p.font(c.style, tableSize)
	if c.text == "" {
		return nil
	}
	return t.p.pdf.SplitLines([]byte(t.p.text(c.text)), t.cols[i].width-tableGap)
}

func (t *table) height(row []cell) float64 {
	most := 1
	for i, c := range row {
		most = max(most, len(t.lines(i, c)))
	}
	return float64(most) * tableLine
}

// set prints a row with a line of so much width and grey under it.
func (t *table) set(row []cell, thick float64, grey int) {
	pdf := t.p.pdf
	high := t.height(row)
	x, y := t.p.left, pdf.GetY()
	for i, c := range row {
		align := "L"
		if t.cols[i].right {
			align = "R"
		}
		if c.mark != nil {
			t.p.drawRule(*c.mark, x, y+tableLine/2+0.4, t.cols[i].width-tableGap-1)
		}
		for k, line := range t.lines(i, c) {
			t.p.font(c.style, tableSize)
			pdf.SetXY(x, y+float64(k)*tableLine+0.5)
			pdf.CellFormat(t.cols[i].width-tableGap, tableLine, string(line), "", 0, align, false, 0, "")
		}
		x += t.cols[i].width
	}
	y += high + 1
	pdf.SetDrawColor(grey, grey, grey)
	pdf.SetLineWidth(thick)
	pdf.Line(t.p.left, y, t.p.left+t.p.width, y)
	pdf.SetDrawColor(0, 0, 0)
	pdf.SetXY(t.p.left, y+0.4)
}

// figureRow is a row of the overview.
func (t *table) figureRow(f Figure, number, title, name string) {
	wanted := ""
	if f.Limit != nil {
		wanted = t.p.show(f.Limit.Shown)
	}
	row := cells(number, title, name, t.p.show(f.Shown), t.p.show(f.ShownU), wanted, "", string(f.Verdict))
	if mark, ok := rule(f); ok {
		row[6].mark = &mark
	}
	row[7].style = "B"
	t.row(row)
}

// drawRule draws the mark of a figure against its limits, as the page does.
func (p *press) drawRule(r Rule, x, y, wide float64) {
	pdf := p.pdf
	at := func(v float64) float64 { return x + v*wide }
	pdf.SetLineWidth(0.15)
	pdf.Line(x, y, x+wide, y)
	pdf.SetLineWidth(0.6)
	pdf.Line(at(r.BandLow), y, at(r.BandHigh), y)
	pdf.SetLineWidth(0.2)
	for _, end := range []float64{r.BandLow, r.BandHigh} {
		if end > 0 && end < 1 {
			pdf.Line(at(end), y-1.1, at(end), y+1.1)
		}
	}
	pdf.Line(at(r.Low), y-1.1, at(r.High), y-1.1)
	pdf.Line(at(r.Low), y-1.5, at(r.Low), y-0.7)
	pdf.Line(at(r.High), y-1.5, at(r.High), y-0.7)
	pdf.SetFillColor(255, 255, 255)
	pdf.Polygon([]fpdf.PointType{{X: at(r.At), Y: y + 0.3}, {X: at(r.At) - 0.8, Y: y + 1.7}, {X: at(r.At) + 0.8, Y: y + 1.7}}, "DF")
}
