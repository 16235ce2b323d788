package sheet

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/chart"
	"thoud/capture/bench"
)

// PDF writes the sheet for paper, A4 or Letter, in black on white: text that can be searched and copied, an outline, and
// letters of its own inside. Page one stands alone; then the groups with their drawings and curves, and the record; with
// Options.Readings every step at the end.
func PDF(w io.Writer, s Sheet, o Options) error {
	s = Clean(s) // what acts on a terminal or a reader does not get into the file, whoever asks
	p, err := newPDFWriter(s, o)
	if err != nil {
		return fmt.Errorf("sheet of job %s as PDF: %w", s.Job, err)
	}
	groups := groupsOf(s)
	p.front(s, groups)
	if !o.Brief {
		p.pdf.AddPage()
		for _, g := range groups {
			p.group(g)
		}
		p.record(s)
		if o.Readings {
			p.appendix(s)
		}
		if missed := p.letters.missed(); missed != "" {
			p.pdf.Ln(2)
			p.small(missed)
		}
	}
	if err := p.pdf.Output(w); err != nil {
		return fmt.Errorf("sheet of job %s as PDF: %w", s.Job, err)
	}
	return nil
}

// group is one part of the engine: its drawings, every figure that has a limit or is shown large, its curves, and what else
// was done.
func (p *pdfWriter) group(g group) {
	charts := p.o.chartsOf(g)
	p.room(43) // a heading and its drawings: no heading stands alone
	p.heading(g.Name)
	if beside := p.drawings(g, charts); !beside {
		p.chartRows(charts, true)
	}
	p.figures(g)
	p.told(g)
	p.also(g)
}

// figures is the table of a group: a row for each figure with a limit, the step's other figures in one line under them.
func (p *pdfWriter) figures(g group) {
	if g.Lines == nil {
		return
	}
	t := p.table(col{"No.", 7, true}, col{"Step", 38, false}, col{"Figure", 35, false}, col{"Value", 30, true}, col{"Known to", 18, true}, col{"Wanted", 30, false},
		col{"Lies", 16, false}, col{"Verdict", 24, false})
	for _, r := range g.rows(p.o.System) {
		if r.Line == nil {
			t.beside(r.Number, r.Title, r.Rest)
			continue
		}
		ln := r.Line
		row := cells(r.Number, r.Title, strings.Join(notEmpty(ln.Name, ln.keys()), ", "), ln.values(p.o.System), ln.uncertainty(p.o.System), ln.wanted(p.o.System), "", "")
		row[3].style = "B"
		for i := 2; i <= 5; i++ {
			row[i].fit = true
		}
		if mark, ok := ln.rule(); ok {
			row[6].mark = &mark
		}
		row[7].judge = ln
		t.row(row)
	}
	t.end()
}

// told lists what still is to be moved: orders of the runs that count and are not in, and answers that were refused.
func (p *pdfWriter) told(g group) {
	var all []entry
	for _, o := range toldIn(g) {
		all = append(all, entry{Text: fmt.Sprintf("%d. %s: %s", o.Step.Number, strings.Join(notEmpty(o.Step.Title, runName(o.Key)), ", "), p.show(o.Words))})
	}
	p.columns(2, all)
}

// ordersInForce are what the runs that count asked for.
func (st Step) ordersInForce() []Adjustment {
	if i := slices.IndexFunc(st.Passes, func(q Pass) bool { return q.Number == st.InForce }); i >= 0 && st.InForce != 0 {
		return st.Passes[i].Adjustments
	}
	return st.Orders
}

// readSince reports whether an order without a verdict of its own was replaced by a reading that is within its limits.
func (st Step) readSince(a Adjustment) bool {
	runs := st.counting()
	i := slices.IndexFunc(runs, func(r Run) bool { return r.Key == a.Key })
	if i < 0 || a.Answers != calc.NoVerdict {
		return false
	}
	all := make([]bench.Result, len(runs))
	for k, r := range runs {
		all[k] = bench.Result{Result: r.result}
	}
	return bench.ReadSince(all, runs[i].result)
}

// also names the steps that have no figure here, with how far they are.
func (p *pdfWriter) also(g group) {
	if text := alsoDone(g); text != "" {
		p.small(text)
	}
}

// alsoDone is one paragraph of the steps of a group that have no line of their own.
func alsoDone(g group) string {
	var done []string
	for _, st := range g.Steps {
		if slices.ContainsFunc(g.Lines, func(l line) bool { return l.Step.ID == st.ID }) {
			continue
		}
		words := fmt.Sprintf("%d %s", st.Number, strings.TrimSuffix(st.Title, "."))
		if !st.settled() {
			words += " (" + string(st.Progress) + ")"
		}
		done = append(done, words)
	}
	if done == nil {
		return ""
	}
	return "Also: " + strings.Join(done, "; ") + "."
}

// drawingWide is how wide a line drawing is, in mm: four stand side by side.
const drawingWide = 41.0

// drawings are the line drawings of a group, side by side, each with the step it is of. A single chart stands beside them
// where there are no more than two; then it reports true.
func (p *pdfWriter) drawings(g group, charts []chosenChart) (beside bool) {
	all := p.sheet.drawingsOf(g, p.o.System)
	if all == nil {
		return false
	}
	const wide = drawingWide
	high := wide * 480 / 640
	if beside = len(charts) == 1 && len(all) <= 2; beside {
		chartWide := 74.0
		if charts[0].press() == 1 {
			chartWide = 68 // as high as its drawings need, or nearly
		}
		chartHigh := charts[0].height(chartWide)
		p.room(chartHigh + 3)
		y := p.pdf.GetY()
		p.chartAt(charts[0], p.left+p.width-chartWide, y, chartWide)
		p.pdf.SetY(y + 5)
		high = max(high, chartHigh-10.5)
	} else {
		p.room(high + 8)
	}
	y := p.pdf.GetY() + 1
	for i, d := range all {
		x := p.left + float64(i)*(p.width-wide)/3
		p.drawing(d.Picture, x, y, wide)
		p.caption(fmt.Sprintf("%d. %s", d.Step.Number, d.Step.Title), x, y+wide*480/640+0.5, wide)
	}
	p.pdf.SetXY(p.left, y+high+5)
	return beside
}

// caption is one line under a picture, cut where it is too long.
func (p *pdfWriter) caption(s string, x, y, wide float64) {
	p.font("", 6.8)
	s = p.text(s)
	for p.pdf.GetStringWidth(s) > wide && strings.Contains(s, " ") {
		s = s[:strings.LastIndex(s, " ")]
	}
	p.pdf.SetXY(x, y)
	p.pdf.CellFormat(wide, 3.2, s, "", 0, "L", false, 0, "")
}

// chosenChart is a picture of a result: of each computation the last step that has one, two at most of it.
type chosenChart struct {
	Step Step
	Run  Run
	SVG  string
}

const mostCharts = 4

// press is how flat a chart is drawn: one that is round stays so.
func (c chosenChart) press() float64 {
	if c.Step.Method == "runout" || c.Step.Method == "circle-fit" {
		return 1
	}
	return 0.46
}

// height is that of a chart with its caption, so wide.
func (c chosenChart) height(wide float64) float64 {
	return wide*pressed(chart.Height, c.press())/720 + 3.6
}

func (o Options) chartsOf(g group) []chosenChart {
	var out []chosenChart
	seen := map[string]bool{}
	for i := len(g.Steps) - 1; i >= 0 && len(out) < mostCharts; i-- {
		st := g.Steps[i]
		if st.Method == "" || seen[st.Method+inletOrExhaust(st.ID)] {
			continue
		}
		var of []chosenChart
		for _, r := range st.counting() {
			if svg, ok := chart.DrawIn(r.result, r.request, o.System); ok && len(of) < 2 {
				of = append(of, chosenChart{st, r, svg})
			}
		}
		if of != nil {
			seen[st.Method+inletOrExhaust(st.ID)] = true
			out = append(of, out...)
		}
	}
	out = out[max(0, len(out)-mostCharts):]
	if len(out)%2 == 1 && len(out) > 1 {
		out = out[1:] // they stand two in a row
	}
	return out
}

// inletOrExhaust tells two steps of one computation apart that are for the two kinds of valve.
func inletOrExhaust(id string) string {
	for _, v := range []string{"inlet", "exhaust"} {
		if strings.Contains(id, v) {
			return v
		}
	}
	return ""
}

// frontCharts are the two curves that the first page has room for: the valves' lift and their clearance, else the first there are.
func (o Options) frontCharts(groups []group) []chosenChart {
	var best, other []chosenChart
	for _, g := range groups {
		for _, c := range o.chartsOf(g) {
			if c.Step.Method == "cam-timing" || c.Step.Method == "valve-to-piston" {
				best = append(best, c)
			} else {
				other = append(other, c)
			}
		}
	}
	all := append(best, other...)
	return all[:min(2, len(all))]
}

// chartAt draws one chart with the step that it is of.
func (p *pdfWriter) chartAt(c chosenChart, x, y, wide float64) {
	high, err := p.chart(c.SVG, x, y, wide, c.press())
	if err != nil {
		p.fail(err)
		return
	}
	p.caption(fmt.Sprintf("%d. %s", c.Step.Number, strings.Join(notEmpty(c.Step.Title, c.Run.Name()), ", ")), x, y+high, wide)
}

// chartRows sets charts two in a row, as wide as the page.
func (p *pdfWriter) chartRows(all []chosenChart, turn bool) {
	const gap = 4.0
	wide := (p.width - gap) / 2
	for i := 0; i < len(all); i += 2 {
		high := all[i].height(wide)
		if i+1 < len(all) {
			high = max(high, all[i+1].height(wide))
		}
		if turn {
			p.room(high)
		}
		y := p.pdf.GetY() + 1
		for k, c := range all[i:min(len(all), i+2)] {
			p.chartAt(c, p.left+float64(k)*(wide+gap), y, wide)
		}
		p.pdf.SetXY(p.left, y+high-1)
	}
}

// legend explains the marks, once.
const legend = "Brackets are the limits, the bar is the figure, the thin line how well it is known (expanded uncertainty, 95 % unless stated). In or out is said only where the whole of that line lies on one side of a limit (ISO 14253-1); else it is too close to call."

// settled reports whether nothing of a step is open.
func (st Step) settled() bool {
	return st.Progress.Settled()
}
