package sheet

import (
	"fmt"
	"strings"

	"thoud/calc"
)

// front is the first page: framed like a drawing, with a title block. It stands alone.
func (p *pdfWriter) front(s Sheet, all []group) {
	groups := onFront(all)
	p.pdf.Bookmark(p.text(title(s)), 0, 0)
	_, page := p.pdf.GetPageSize()
	const edge = 8.0
	bottom := page - 15.0
	p.pdf.SetLineWidth(0.7)
	p.pdf.Rect(edge, edge, p.width+2*(paperMargin-edge), bottom-edge, "D")
	p.pdf.SetAutoPageBreak(false, 0)
	top := p.frontHead(s)
	block := p.titleBlock(s, edge, bottom)
	y := p.frontLines(groups, top, block)
	p.frontWords(s, y, block)
	p.frontCurves(all, block)
	p.pdf.SetXY(p.left-3, bottom+1.2)
	p.font("", 6.8)
	p.pdf.MultiCell(p.width+6, 2.9, p.text(s.Caution+" "+pagesToCome(p.o)), "", "L", false)
	p.pdf.SetAutoPageBreak(true, paperFoot)
}

// pagesToCome says where the rest is.
func pagesToCome(o Options) string {
	switch {
	case o.Brief:
		return briefly
	case o.Readings:
		return "The record follows, and every reading after it."
	}
	return "The record follows; every reading is in the ledger, and on request in an appendix."
}

// briefly says on a sheet of one page where the rest is.
const briefly = "This is the first page alone; the whole sheet has the record, the ledger has the bytes."

// frontHead is the title, what the engine is, and the engine from above. It gives where it ends.
func (p *pdfWriter) frontHead(s Sheet) float64 {
	const wide = 50.0
	p.drawing(s.overview(), p.left+p.width-wide, 11, wide)
	text := p.width - wide - 6
	p.pdf.SetXY(p.left, 14)
	p.font("B", 22)
	p.pdf.CellFormat(text, 9, "Build sheet", "", 2, "L", false, 0, "")
	p.pdf.SetXY(p.left, p.pdf.GetY()+1.5)
	p.font("", 12)
	p.pdf.MultiCell(text, 5.2, p.text(engineName(s)), "", "L", false)
	p.font("", 8.5)
	for _, l := range headLines(s, p.o) {
		p.pdf.SetX(p.left)
		p.pdf.MultiCell(text, 4, p.text(l), "", "L", false)
	}
	return max(p.pdf.GetY()+2, 51)
}

func engineName(s Sheet) string {
	if s.Engine == "" {
		return "engine not named"
	}
	return s.Engine
}

// headLines say in a few words what was built, when and from how many readings.
func headLines(s Sheet, o Options) []string {
	var out []string
	var size []string
	for _, name := range []string{"bore", "stroke", "swept"} {
		for _, d := range s.Data {
			if d.Name == name {
				size = append(size, name+" "+in(d.Shown, o.System))
			}
		}
	}
	if size != nil {
		out = append(out, strings.Join(size, ", "))
	}
	readings := 0
	for _, st := range s.Steps {
		for _, ps := range st.Passes {
			for _, r := range ps.Readings {
				if !r.Withdrawn {
					readings++
				}
			}
		}
	}
	out = append(out, counted(len(s.Steps), "step")+", "+counted(readings, "reading")+"; figures at 20 °C unless said otherwise.", "Every figure can be traced to what the gauge itself sent.")
	return out
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// frontLines is the table of the figures that matter, as high as there is room for. It gives where it ends.
func (p *pdfWriter) frontLines(groups []group, top, bottom float64) float64 {
	n := 0
	for _, g := range groups {
		n += len(g.Lines)
	}
	if n == 0 {
		p.pdf.SetXY(p.left, top)
		p.para("No figure has been decided yet.")
		return p.pdf.GetY()
	}
	const words = 40 // mm kept for what is not settled, changed and still running
	pitch := min(6.1, max(4.1, (bottom-top-words-6)/(float64(n)+1.15*float64(len(groups)))))
	cols := []float64{0, 0.31, 0.50, 0.585, 0.745, 0.855} // where the columns begin, as shares of the width; values end before
	at := func(i int) float64 { return p.left + cols[i]*p.width }
	y := top
	p.font("", 7)
	for i, h := range []string{"what was set", "", "", "wanted", "where it lies", "verdict"} {
		p.pdf.Text(at(i), y+3, h)
	}
	p.right("figure", at(2)-2, y+3)
	p.right("known to", at(3)-2, y+3)
	y += 4.4
	p.pdf.SetLineWidth(0.45)
	p.pdf.Line(p.left, y, p.left+p.width, y)
	for _, g := range groups {
		y += pitch * 1.1
		p.font("B", 8.6)
		p.pdf.Text(p.left, y-1.3, p.text(g.Name))
		for _, ln := range g.Lines {
			p.frontLine(ln, at, y, pitch)
			y += pitch
		}
		p.pdf.SetLineWidth(0.12)
		p.pdf.SetDrawColor(120, 120, 120)
		p.pdf.Line(p.left, y+0.3, p.left+p.width, y+0.3)
		p.pdf.SetDrawColor(0, 0, 0)
	}
	p.pdf.SetXY(p.left, y+1.2)
	p.font("", 6.8)
	p.pdf.MultiCell(p.width, 2.9, p.text(legend), "", "L", false)
	return p.pdf.GetY()
}

func (p *pdfWriter) frontLine(ln line, at func(int) float64, y, pitch float64) {
	base := y + pitch*0.68
	name := strings.Join(notEmpty(ln.named(), ln.keys()), ", ")
	values := p.text(ln.values(p.o.System))
	p.font("B", 8.6)
	room := at(2) - at(0) - 7 - p.pdf.GetStringWidth(values)
	p.right(values, at(2)-2, base)
	p.fitted(name, "", 8, at(0)+3, base, room)
	p.font("", 7.6)
	p.right(p.text(ln.uncertainty(p.o.System)), at(3)-2, base)
	p.fitted(ln.wanted(p.o.System), "", 7.6, at(3), base, at(4)-at(3)-2)
	if mark, ok := ln.rule(); ok {
		p.rule(mark, at(4), base-1, at(5)-at(4)-4)
	}
	p.verdict(ln.worst(), ln.Verdict(), at(5), base-1, p.left+p.width-at(5))
}

// named is the step's title, with the figure's name where the title does not say it.
func (l line) named() string {
	if strings.Contains(strings.ToLower(l.Step.Title), strings.ToLower(l.Name)) {
		return l.Step.Title
	}
	return l.Step.Title + ": " + l.Name
}

// right sets a text that ends at x.
func (p *pdfWriter) right(s string, x, y float64) { p.pdf.Text(x-p.pdf.GetStringWidth(s), y, s) }

// fitted sets a text, smaller where it is too long for its room, and in lines about y where it would be too small to be read.
func (p *pdfWriter) fitted(s, style string, size, x, y, room float64) {
	s = p.text(s)
	if p.narrowed(s, style, size, room) {
		p.pdf.Text(x, y, s)
		return
	}
	const leading = 2.4
	lines := p.pdf.SplitText(s, room)
	y -= leading / 2 * float64(len(lines)-1)
	for i, l := range lines {
		p.pdf.Text(x, y+leading*float64(i), l)
	}
}

// frontWords are what is not settled, what was changed and what still runs: as much as there is room for, and how much more.
func (p *pdfWriter) frontWords(s Sheet, y, bottom float64) {
	p.pdf.SetXY(p.left, y+1.5)
	for _, part := range wordsOf(s, p.o) {
		if p.pdf.GetY()+8 > bottom {
			return
		}
		p.font("B", 8)
		p.pdf.SetX(p.left)
		p.pdf.CellFormat(p.width, 4, p.text(part.Heading), "", 2, "L", false, 0, "")
		p.font("", 7.8)
		for i, l := range part.Lines {
			lines := p.pdf.SplitText(p.text(l), p.width-3)
			rest := len(part.Lines) - i
			room := bottom - p.pdf.GetY() - 1
			if need := 3.4 * float64(len(lines)); need > room || need+3.4 > room && rest > 1 {
				p.pdf.SetX(p.left + 3)
				p.pdf.CellFormat(p.width-3, 3.4, p.text(andMore(rest, i == 0, p.o)), "", 2, "L", false, 0, "")
				break
			}
			for _, t := range lines {
				p.pdf.SetX(p.left + 3)
				p.pdf.CellFormat(p.width-3, 3.4, t, "", 2, "L", false, 0, "")
			}
		}
		p.pdf.SetY(p.pdf.GetY() + 0.8)
	}
}

// andMore says where the lines are that there is no room for; none says that no line stands before it.
func andMore(n int, none bool, o Options) string {
	words := map[bool]string{true: "%d, %s", false: "and %d more, %s"}[none]
	if o.Brief {
		return fmt.Sprintf(words, n, "on the whole sheet")
	}
	return fmt.Sprintf(words, n, "in the record")
}

// frontCurves puts two curves where there is room left above the title block.
func (p *pdfWriter) frontCurves(all []group, bottom float64) {
	high := 0.0
	charts := p.o.frontCharts(all)
	for _, c := range charts {
		high = max(high, c.height((p.width-4)/2)+1)
	}
	if high == 0 || p.pdf.GetY()+high > bottom {
		return
	}
	p.pdf.SetY(bottom - high)
	p.chartRows(charts, false)
}

// words is a heading of the first page with its lines.
type words struct {
	Heading string
	Lines   []string
}

func wordsOf(s Sheet, o Options) []words {
	out := []words{{"Not settled", s.Open}}
	if len(s.Open) == 0 {
		out[0].Lines = []string{"Nothing: every step is done, nothing is loose, nothing is left in the engine."}
	}
	var signedSo []string
	for _, st := range s.Steps {
		if st.Signed != nil && (st.Verdict == calc.VerdictOut || st.Verdict == calc.VerdictTooClose) {
			signedSo = append(signedSo, fmt.Sprintf("%d. %s: %s, signed by %s", st.Number, st.Title, st.Verdict, st.Signed.By))
		}
	}
	if signedSo != nil {
		out = append(out, words{"Signed although not in", signedSo})
	}
	var running []string
	for _, c := range s.Running {
		l := fmt.Sprintf("%s of %s, until %s", c.Name, c.Step, o.clock(c.Until, true))
		if c.Holds != nil {
			l += "; before it is over not: " + strings.Join(c.Holds, ", ")
		}
		running = append(running, l)
	}
	if running != nil {
		out = append(out, words{"Still running", running})
	}
	var changed []string
	for _, v := range overridesTold(s) {
		changed = append(changed, strings.Join(notEmpty(v.What, in(v.Shown, o.System)), ": ")+" ("+v.By+": "+v.Reason+")")
	}
	if changed != nil {
		out = append(out, words{"Changed or passed over for this build", changed})
	}
	return out
}

// field is one box of the title block.
type field struct {
	Label, Shown string
	Wide         float64
}

// titleBlock stands at the foot of the frame. It gives where it begins.
func (p *pdfWriter) titleBlock(s Sheet, edge, bottom float64) float64 {
	rows := titleFields(s, p.o, "1 of "+pageCount)
	const high = 9.6
	x0, wide := edge, p.width+2*(paperMargin-edge)
	y := bottom - high*float64(len(rows)) - 4
	note := 0.0
	if s.Note != nil && s.Note.QR != nil {
		note = high*float64(len(rows)) + 4
		p.code(s.Note.QR, x0+wide-note+2, y+2, note-4)
	}
	begin := y
	for i, r := range rows {
		h := high
		if i == len(rows)-1 {
			h += 4 // room for a signature
		}
		p.pdf.SetLineWidth(0.2)
		end := x0 + wide - note // no line runs through the code
		if i == 0 {
			p.pdf.SetLineWidth(0.7)
			end = x0 + wide
		}
		p.pdf.Line(x0, y, end, y)
		sum := 0.0
		for _, f := range r {
			sum += f.Wide
		}
		x := x0
		for k, f := range r {
			w := f.Wide / sum * (wide - note)
			if k > 0 {
				p.pdf.SetLineWidth(0.2)
				p.pdf.Line(x, y, x, y+h)
			}
			p.font("", leastSize)
			p.pdf.Text(x+1.6, y+2.9, f.Label)
			p.fitted(f.Shown, "B", 9.4, x+1.6, y+7.4, w-3)
			x += w
		}
		if note > 0 {
			p.pdf.SetLineWidth(0.2)
			p.pdf.Line(x, y, x, y+h)
		}
		y += h
	}
	return begin
}

// code draws a square code, so wide in mm.
func (p *pdfWriter) code(rows [][]bool, x, y, wide float64) {
	k := wide / float64(len(rows))
	for i, r := range rows {
		for j, dark := range r {
			if dark {
				p.pdf.Rect(x+float64(j)*k, y+float64(i)*k, k*1.02, k*1.02, "F")
			}
		}
	}
}

// titleFields are the boxes of the title block, row by row; an empty one is to be written in by hand. Pages says which sheet of how
// many it is; empty where that is not known.
func titleFields(s Sheet, o Options, pages string) [][]field {
	f := s.Front
	state := "open"
	if s.Closed {
		state = "closed"
	}
	seal := s.Ledger.Seal
	if len(seal) > 16 {
		seal = seal[:8] + " … " + seal[len(seal)-8:]
	}
	finished := "not yet"
	if s.Closed || len(s.Open) == 0 {
		finished = o.day(f.Finished)
	}
	third := []field{{"begun", o.day(s.Started), 26}, {"finished", finished, 26}, {"sheet made", o.clock(s.Made, true), 40}, {"sealed record, entries 1 to " + fmt.Sprint(s.Ledger.N), seal, 46}}
	if pages != "" { // on paper
		third = append(third, field{"sheet", pages, 18})
	}
	return [][]field{
		{{"job", s.Job, 22}, {"engine no.", f.EngineNumber, 36}, {"frame no.", f.FrameNumber, 36}, {"customer", f.Customer, 50}},
		{{"shop", f.Shop, 40}, {"bench", s.Bench, 26}, {"plan", fmt.Sprintf("%s, version %d", s.Plan.Title, s.Plan.Version), 56}, {"build", state, 22}},
		third,
		{{"built by", strings.Join(f.Builders, ", "), 40}, {"signature, date", "", 50}, {"looked through by, date", "", 50}},
	}
}
