package sheet

import (
	"fmt"

	"thoud/calc"

	"codeberg.org/go-pdf/fpdf"
)

func pageOf(pdf *fpdf.Fpdf) string { return fmt.Sprintf("%d of "+pageCount, pdf.PageNo()) }

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
	judge *line // its verdict, with the mark
	fit   bool  // one line, in smaller letters where it is a little too long
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
	p      *pdfWriter
	cols   []col
	struck bool // the next row is struck through
	begun  bool
}

const (
	tableSize = 7.6 // points
	tableLine = 3.3 // mm
	tableGap  = 1.8 // mm between columns
)

func (p *pdfWriter) table(cols ...col) *table {
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
	need := t.height(row) + 1
	_, page := t.p.pdf.GetPageSize()
	if !t.begun {
		t.p.room(need + 6)
		t.head()
		t.begun = true
	} else if t.p.pdf.GetY()+need > page-paperFoot {
		t.p.pdf.AddPage()
		t.head()
	}
	t.set(row, 0.1, 120)
}

// beside is a row of a step's further figures: its number and title where they were not told yet, then one text over the rest.
func (t *table) beside(number, title, text string) {
	p := t.p
	indent := t.cols[0].width + t.cols[1].width
	const size, leading = 6.8, 2.8
	p.font("", tableSize)
	names := p.pdf.SplitText(p.text(title), t.cols[1].width-tableGap)
	p.font("", size)
	lines := p.pdf.SplitText(p.text(text), p.width-indent-tableGap)
	high := max(leading*float64(len(lines)), tableLine*float64(len(names))) + 0.7
	_, page := p.pdf.GetPageSize()
	if !t.begun || p.pdf.GetY()+high+1 > page-paperFoot {
		p.room(high + 7)
		if t.begun && p.pdf.GetY() > paperTop+1 {
			p.pdf.AddPage()
		}
		t.head()
		t.begun = true
	}
	y := p.pdf.GetY()
	p.font("", tableSize)
	p.right(number, p.left+t.cols[0].width-tableGap, y+tableLine*0.82)
	for i, l := range names {
		p.pdf.Text(p.left+t.cols[0].width, y+tableLine*(0.82+float64(i)), l)
	}
	p.font("", size)
	for i, l := range lines {
		p.pdf.Text(p.left+indent, y+2.5+leading*float64(i), l)
	}
	y += high
	p.pdf.SetDrawColor(120, 120, 120)
	p.pdf.SetLineWidth(0.1)
	p.pdf.Line(p.left, y, p.left+p.width, y)
	p.pdf.SetDrawColor(0, 0, 0)
	p.pdf.SetXY(p.left, y+0.4)
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

// lines breaks a cell's text into lines, and leaves its font set.
func (t *table) lines(i int, c cell) []string {
	text, room := t.p.text(c.text), t.cols[i].width-tableGap
	if c.text == "" {
		t.p.font(c.style, tableSize)
		return nil
	}
	if c.fit && t.p.narrowed(text, c.style, tableSize, room) {
		return []string{text}
	}
	t.p.font(c.style, tableSize)
	return t.p.pdf.SplitText(text, room)
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
			t.p.rule(*c.mark, x, y+tableLine/2+0.5, t.cols[i].width-tableGap-1)
		}
		if c.judge != nil {
			t.p.verdict(c.judge.worst(), c.judge.Verdict(), x, y+tableLine/2+0.5, t.cols[i].width)
		}
		for k, line := range t.lines(i, c) {
			pdf.SetXY(x, y+float64(k)*tableLine+0.4)
			pdf.CellFormat(t.cols[i].width-tableGap, tableLine, line, "", 0, align, false, 0, "")
		}
		x += t.cols[i].width
	}
	y += high + 0.7
	pdf.SetDrawColor(grey, grey, grey)
	pdf.SetLineWidth(thick)
	pdf.Line(t.p.left, y, t.p.left+t.p.width, y)
	pdf.SetDrawColor(0, 0, 0)
	pdf.SetXY(t.p.left, y+0.2)
}

// rule draws the mark of figures against their limits: brackets are the limits, bars the figures, thin lines their uncertainty.
func (p *pdfWriter) rule(r Rule, x, y, wide float64) {
	pdf := p.pdf
	at := func(v float64) float64 { return x + v*wide }
	pdf.SetDrawColor(150, 150, 150)
	pdf.SetLineWidth(0.12)
	pdf.Line(x, y, x+wide, y)
	pdf.SetDrawColor(0, 0, 0)
	p.brackets(at(r.Low), at(r.High), y, 1.3, r.HasLow, r.HasHigh)
	for _, b := range r.Bars {
		pdf.SetLineWidth(0.3)
		pdf.Line(at(b.From), y, at(b.To), y)
		pdf.SetLineWidth(0.75)
		pdf.Line(at(b.At), y-1.1, at(b.At), y+1.1)
	}
	pdf.SetLineWidth(0.2)
}

func (p *pdfWriter) brackets(low, high, y, tall float64, hasLow, hasHigh bool) {
	p.pdf.SetLineWidth(0.3)
	for _, b := range []struct {
		on   bool
		x, d float64
	}{{hasLow, low, 0.8}, {hasHigh, high, -0.8}} {
		if !b.on {
			continue
		}
		p.pdf.Line(b.x, y-tall, b.x, y+tall)
		p.pdf.Line(b.x, y-tall, b.x+b.d, y-tall)
		p.pdf.Line(b.x, y+tall, b.x+b.d, y+tall)
	}
}

// verdict draws the verdict's mark at x and its word after it, on the line whose middle is y, in so much room.
func (p *pdfWriter) verdict(f Figure, v calc.Verdict, x, y, room float64) {
	bar, ok := verdictBar(v, f.side())
	if !ok {
		return
	}
	const wide = 3.2
	left := x + 1.7
	p.brackets(left, left+wide, y, 1.25, true, true)
	p.pdf.SetLineWidth(0.75)
	p.pdf.Line(left+bar*wide, y-1.15, left+bar*wide, y+1.15)
	p.pdf.SetLineWidth(0.2)
	const beside = 1.7 + wide + 2.4
	p.fitted(string(v), map[bool]string{true: "B"}[v != calc.VerdictIn], tableSize, x+beside, y+0.95, room-beside)
}
