package sheet

import (
	"bytes"
	"strings"
	"time"

	"thoud/calc"

	"codeberg.org/go-pdf/fpdf"
)

// press puts text, tables and pictures on pages. Lengths in mm.
type press struct {
	pdf         *fpdf.Fpdf
	o           Options
	left, width float64
	latin       func(string) string
}

// paperMargin is the margin at the sides and at the top.
const paperMargin = 13

func newPress(s Sheet, o Options) *press {
	size := "A4"
	if o.Letter {
		size = "Letter"
	}
	pdf := fpdf.New("P", "mm", size, "")
	pdf.SetMargins(paperMargin, paperMargin, paperMargin)
	pdf.SetAutoPageBreak(true, 18)
	pdf.SetTitle("Build sheet, job "+s.Job, true)
	pdf.SetCreator("thoud", true)
	// The same sheet gives the same bytes: its time is when it was made, not when it was printed.
	if made, err := time.Parse(time.RFC3339, s.Made); err == nil {
		pdf.SetCreationDate(made)
		pdf.SetModificationDate(made)
	}
	pdf.SetCatalogSort(true)
	pdf.AliasNbPages("{pages}")
	p := &press{pdf: pdf, o: o, left: paperMargin, latin: pdf.UnicodeTranslatorFromDescriptor("")}
	page, _ := pdf.GetPageSize()
	p.width = page - 2*paperMargin
	pdf.SetFooterFunc(func() {
		pdf.SetY(-13)
		pdf.SetFont("Helvetica", "", 7.5)
		pdf.CellFormat(p.width/2, 4, p.text("Build sheet, job "+s.Job+", made "+short(s.Made)), "", 0, "L", false, 0, "")
		pdf.CellFormat(p.width/2, 4, p.text("page "+pageOf(pdf)), "", 0, "R", false, 0, "")
	})
	pdf.AddPage()
	return p
}

// outside are signs that the core fonts do not have, in words they have.
var outside = strings.NewReplacer("−", "-", "≤", "<=", "≥", ">=", "≈", "~", "√", "sqrt", "φ", "phi", "σ", "s", "π", "pi", "Δ", "d", "α", "alpha", "β", "beta",
	"₀", "0", "₁", "1", "₂", "2", "′", "'", "″", "\"", "→", "->", "\u202f", " ", "\u2009", " ")

// text makes a text fit for the core fonts.
func (p *press) text(s string) string { return p.latin(outside.Replace(s)) }

func (p *press) show(t calc.Shown) string { return in(t, p.o.System) }

func (p *press) fail(err error) {
	if err != nil {
		p.pdf.SetError(err)
	}
}

func (p *press) font(style string, size float64) { p.pdf.SetFont("Helvetica", style, size) }

// room starts a new page where less than so much is left on this one.
func (p *press) room(height float64) {
	_, page := p.pdf.GetPageSize()
	if p.pdf.GetY()+height > page-18 {
		p.pdf.AddPage()
	}
}

// line prints in the font that is set.
func (p *press) line(s string, height float64) {
	p.pdf.SetX(p.left)
	p.pdf.MultiCell(p.width, height, p.text(s), "", "L", false)
}

func (p *press) heading(s string) { p.headingWith(s, "") }

// headingWith is a heading with a word at its right end.
func (p *press) headingWith(s, right string) {
	p.room(38)
	p.pdf.Ln(4)
	y := p.pdf.GetY()
	p.pdf.SetLineWidth(0.5)
	p.pdf.Line(p.left, y, p.left+p.width, y)
	p.pdf.SetXY(p.left, y+1.5)
	p.font("", 8.5)
	side := p.pdf.GetStringWidth(p.text(right)) + 4
	if right != "" {
		p.pdf.SetX(p.left + p.width - side)
		p.pdf.CellFormat(side, 5.4, p.text(right), "", 0, "R", false, 0, "")
	}
	p.font("B", 11.5)
	p.pdf.SetXY(p.left, y+1.5)
	p.pdf.MultiCell(p.width-side, 5.4, p.text(s), "", "L", false)
	p.pdf.Ln(1)
}

func (p *press) sub(s string) {
	p.room(28)
	p.pdf.Ln(1.5)
	p.font("B", 9)
	p.line(s, 4.6)
}

func (p *press) para(s string) {
	p.font("", 9)
	p.line(s, 4.3)
}

func (p *press) small(s string) {
	p.font("", 8)
	p.line(s, 3.9)
}

func (p *press) bullet(s string) {
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
func (p *press) cautionLine(s string) {
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

// boxed puts paragraphs in a frame.
func (p *press) boxed(texts []string) {
	p.font("", 9)
	top := p.pdf.GetY()
	p.pdf.SetY(top + 1.5)
	for _, t := range texts {
		p.pdf.SetX(p.left + 2.5)
		p.pdf.MultiCell(p.width-5, 4.3, p.text(t), "", "L", false)
	}
	end := p.pdf.GetY() + 1.5
	p.pdf.SetLineWidth(0.35)
	p.pdf.Rect(p.left, top, p.width, end-top, "D")
	p.pdf.SetY(end)
}

// image puts a picture in, so wide in mm, and no higher than half a page.
func (p *press) image(name, kind string, b []byte, wide float64) {
	opt := fpdf.ImageOptions{ImageType: kind}
	info := p.pdf.RegisterImageOptionsReader(name, opt, bytes.NewReader(b))
	if info == nil || info.Width() <= 0 {
		return
	}
	high := wide * info.Height() / info.Width()
	if high > 110 {
		wide, high = wide*110/high, 110
	}
	p.room(high + 4)
	y := p.pdf.GetY() + 2
	p.pdf.ImageOptions(name, p.left, y, wide, high, false, opt, 0, "")
	p.pdf.SetY(y + high + 2)
}
