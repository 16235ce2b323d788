package sheet

import (
	"slices"
	"strings"
	"time"

	"thoud/calc"

	"codeberg.org/go-pdf/fpdf"
)

// pdfWriter puts text, tables and pictures on pages. Lengths in mm.
type pdfWriter struct {
	pdf         *fpdf.Fpdf
	o           Options
	sheet       Sheet
	left, width float64
	letters     *letters
}

// The margins at the sides, at the top and at the foot, in mm.
const (
	paperMargin = 13
	paperTop    = 8.5
	paperFoot   = 13
)

const (
	fontName  = "sheet"
	pageCount = "{pages}"
)

func newPDFWriter(s Sheet, o Options) (*pdfWriter, error) {
	size := "A4"
	if o.Letter {
		size = "Letter"
	}
	known, err := newLetters()
	if err != nil {
		return nil, err
	}
	pdf := fpdf.New("P", "mm", size, "")
	p := &pdfWriter{pdf: pdf, o: o, sheet: s, left: paperMargin, letters: known}
	for _, style := range []string{"", "B"} {
		font := regular
		if style == "B" {
			font = bold
		}
		b, err := font()
		if err != nil {
			return nil, err
		}
		pdf.AddUTF8FontFromBytes(fontName, style, b)
	}
	pdf.SetMargins(paperMargin, paperTop, paperMargin)
	pdf.SetCellMargin(0)
	pdf.SetAutoPageBreak(true, paperFoot)
	pdf.SetTitle(title(s), true)
	pdf.SetSubject(s.Engine, true)
	pdf.SetAuthor(strings.Join(s.Front.Builders, ", "), true)
	pdf.SetCreator(strings.TrimSpace("thoud "+s.Program), true)
	pdf.SetLang("en")
	// The same sheet gives the same bytes: its time is when it was made, not when it was printed.
	if made, err := time.Parse(time.RFC3339, s.Made); err == nil {
		pdf.SetCreationDate(made)
		pdf.SetModificationDate(made)
	}
	pdf.SetCatalogSort(true)
	pdf.AliasNbPages(pageCount)
	page, _ := pdf.GetPageSize()
	p.width = page - 2*paperMargin
	pdf.SetFooterFunc(func() {
		if pdf.PageNo() == 1 {
			return // it has a title block
		}
		pdf.SetY(-11)
		p.font("", 7.5)
		pdf.CellFormat(p.width*0.8, 4, p.text(strings.Join(notEmpty(title(s), s.Engine, "made "+o.clock(s.Made, true)), ", ")), "", 0, "L", false, 0, "")
		pdf.CellFormat(p.width*0.2, 4, "page "+pageOf(pdf), "", 0, "R", false, 0, "")
	})
	pdf.AddPage()
	return p, pdf.Error()
}

// title is the sheet's name, on paper and in the reader's title bar.
func title(s Sheet) string { return "Build sheet, job " + s.Job }

func notEmpty(all ...string) []string {
	return slices.DeleteFunc(all, func(s string) bool { return s == "" || s == "made " })
}

// text makes a text fit for the fonts.
func (p *pdfWriter) text(s string) string { return p.letters.fit(s) }

func (p *pdfWriter) show(t calc.Shown) string { return in(t, p.o.System) }

func (p *pdfWriter) fail(err error) {
	if err != nil {
		p.pdf.SetError(err)
	}
}

// leastSize is the smallest letter on the sheet, in points: what is longer than its room is broken into lines instead.
const leastSize = 6.5

func (p *pdfWriter) font(style string, size float64) { p.pdf.SetFont(fontName, style, size) }

// narrowed sets the font as large as the text has room for, no smaller than the least; false where even so it is too wide.
func (p *pdfWriter) narrowed(s, style string, size, room float64) bool {
	p.font(style, size)
	w := p.pdf.GetStringWidth(s)
	if w <= room {
		return true
	}
	p.font(style, max(leastSize, size*room/w))
	return size*room/w >= leastSize
}

// room starts a new page where less than so much is left on this one.
func (p *pdfWriter) room(height float64) {
	_, page := p.pdf.GetPageSize()
	if p.pdf.GetY()+height > page-paperFoot {
		p.pdf.AddPage()
	}
}

// line prints in the font that is set.
func (p *pdfWriter) line(s string, height float64) {
	p.pdf.SetX(p.left)
	p.pdf.MultiCell(p.width, height, p.text(s), "", "L", false)
}

func (p *pdfWriter) heading(s string) { p.headingWith(s, "", 0) }

// headingWith is a heading with a word at its right end; level is its depth in the outline.
func (p *pdfWriter) headingWith(s, right string, level int) {
	p.room(22)
	p.pdf.Bookmark(p.text(s), level, -1)
	if p.pdf.GetY() > paperTop+1 {
		p.pdf.Ln(2)
	}
	y := p.pdf.GetY()
	p.pdf.SetLineWidth(0.5)
	p.pdf.Line(p.left, y, p.left+p.width, y)
	p.pdf.SetXY(p.left, y+1.2)
	p.font("", 8.5)
	side := p.pdf.GetStringWidth(p.text(right)) + 4
	if right != "" {
		p.pdf.SetX(p.left + p.width - side)
		p.pdf.CellFormat(side, 5.4, p.text(right), "", 0, "R", false, 0, "")
	}
	p.font("B", 11.5)
	p.pdf.SetXY(p.left, y+1.2)
	p.pdf.MultiCell(p.width-side, 5, p.text(s), "", "L", false)
	p.pdf.Ln(0.6)
}

func (p *pdfWriter) sub(s string) {
	p.room(28)
	p.pdf.Ln(1.5)
	p.font("B", 9)
	p.line(s, 4.6)
}

func (p *pdfWriter) para(s string) {
	p.font("", 9)
	p.line(s, 4.3)
}

func (p *pdfWriter) small(s string) {
	p.font("", 8)
	p.line(s, 3.9)
}

func (p *pdfWriter) bullet(s string) {
	p.font("", 9)
	y := p.pdf.GetY()
	p.pdf.SetX(p.left + 4)
	p.pdf.MultiCell(p.width-4, 4.3, p.text(s), "", "L", false)
	if p.pdf.GetY() > y { // not where the line went over to the next page
		p.pdf.SetFillColor(0, 0, 0)
		p.pdf.Rect(p.left+1, y+1.7, 1, 1, "F")
	}
}

// cautionLine is a caution, with a bar beside it.
func (p *pdfWriter) cautionLine(s string) {
	p.room(6)
	p.font("", 9)
	y := p.pdf.GetY()
	p.pdf.SetX(p.left + 3)
	p.pdf.MultiCell(p.width-3, 4.3, p.text(s), "", "L", false)
	if end := p.pdf.GetY(); end > y {
		p.pdf.SetFillColor(0, 0, 0)
		p.pdf.Rect(p.left, y+0.3, 0.9, end-y-0.6, "F")
	}
}
