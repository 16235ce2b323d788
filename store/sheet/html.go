package sheet

import (
	"cmp"
	_ "embed"
	"encoding/base64"
	"fmt"
	"io"
	"strings"

	"thoud/calc"
	"thoud/calc/chart"
	"thoud/calc/drawing"
	"thoud/calc/markup"
	"thoud/calc/quantity"
	"thoud/capture/plan"
)

//go:embed sheet.gohtml
var page string

//go:embed sheet.css
var style string

// HTML writes the sheet as one page that needs nothing beside it: its own style, its pictures inside. It says what the PDF
// says, in the same order.
func HTML(w io.Writer, s Sheet, o Options) error {
	groups := groupsOf(s)
	t, err := markup.Parse("sheet", page, markup.Funcs{
		"show":  func(t calc.Shown) string { return shown(t, o.System) },
		"clock": func(at string) string { return o.clock(at, false) },
		"zoned": func(at string) string { return o.clock(at, true) },
		"opts":  func() Options { return o },
		"front": func() []group { return onFront(groups) },
		"parts": func() []group {
			if o.Brief {
				return nil
			}
			return groups
		},
		"mark":  ruleSVG,
		"judge": verdictSVG,
		"one": func(st Step, key string, f Figure) line {
			return line{Step: st, Name: label(f.Name), Figures: []runFigure{{key, f}}}
		},
		"values":      func(l line) string { return l.values(o.System) },
		"uncertainty": func(l line) string { return l.uncertainty(o.System) },
		"wanted":      func(l line) string { return l.wanted(o.System) },
		"named":       func(l line) string { return strings.Join(notEmpty(l.named(), l.keys()), ", ") },
		"figure":      func(l line) string { return strings.Join(notEmpty(l.Name, l.keys()), ", ") },
		"engine":      engineName,
		"headLines":   func(s Sheet) []string { return headLines(s, o) },
		"words":       func(s Sheet) []words { return wordsOf(s, o) },
		"fields":      func(s Sheet) [][]field { return titleFields(s, o, "") },
		"rest":        func() string { return pagesToCome(o) },
		"legend":      func() string { return legend },
		"title":       title,
		"overview": func() markup.HTML {
			if pic := s.overview(); len(pic.Elements) > 0 {
				return markup.HTML(pic.SVG())
			}
			return ""
		},
		"drawings":    func(s Sheet, g group) []shownDrawing { return s.drawingsOf(g, o.System) },
		"svg":         func(d shownDrawing) markup.HTML { return markup.HTML(d.Picture.SVG()) },
		"charts":      func(g group) []chosenChart { return o.chartsOf(g) },
		"chart":       func(c chosenChart) markup.HTML { return markup.HTML(c.SVG) },
		"told":        toldIn,
		"overrides":   overridesTold,
		"rows":        func(g group) []groupRow { return g.rows(o.System) },
		"frontCharts": func() []chosenChart { return o.frontCharts(groups) },
		"also":        alsoDone,
		"orders":      orders,
		"entries":     func(s Sheet) []entry { e, _ := dataEntries(s, o); return e },
		"sources":     func(s Sheet) string { _, key := dataEntries(s, o); return key },
		"roleWords":   plan.RoleWords,
		"calibrated":  func(g Gauge) string { return calibrated(g, o) },
		"checked":     func(g Gauge) string { return checked(g, o) },
		"ledger":      func(s Sheet) string { return ledgerWords(s, o) },
		"zone":        func(s Sheet) string { return o.zoneName(s.Made) },
		"cautions":    cautionsOf,
		"code":        codeSVG,
		"photo":       photoURL,
		"paper": func() markup.CSS {
			if o.Letter {
				return "letter"
			}
			return "A4"
		},
		"style":              func() markup.CSS { return markup.CSS(chart.Style() + drawing.StyleIn(drawing.Print) + style) },
		"name":               runName,
		"nameOf":             func(of interface{ Name() string }) string { return of.Name() },
		"label":              label,
		"called":             plan.Called,
		"figures":            figuresOf,
		"nopass":             func(st Step) Pass { return Pass{Number: st.InForce} },
		"signed":             signed,
		"sheet.line.Verdict": line.Verdict,

		"runOf": func(st Step, p Pass, r Run) runOf { return runOf{st, p, r} },
	})
	if err != nil {
		return fmt.Errorf("sheet: %w", err)
	}
	if err := t.Execute(w, "sheet", s); err != nil {
		return fmt.Errorf("sheet of job %s: %w", s.Job, err)
	}
	return nil
}

// toldIn lists what still is to be moved in a group, each with its step.
func toldIn(g group) []toldOrder {
	var out []toldOrder
	for _, st := range g.Steps {
		for _, r := range st.counting() {
			if r.Refused != "" {
				out = append(out, toldOrder{st, cmp.Or(r.called, r.Key), both(func(quantity.System) string { return "no answer: " + r.Refused })})
			}
		}
		for _, a := range orders(st.ordersInForce()) {
			if !st.readSince(a) {
				out = append(out, toldOrder{st, cmp.Or(a.called, a.Key), a.Words})
			}
		}
	}
	return out
}

// runOf is a run with where it belongs.
type runOf struct {
	Step Step
	Pass Pass
	Run  Run
}

// toldOrder is an order, or why there is no answer.
type toldOrder struct {
	Step  Step
	Key   string
	Words calc.Shown
}

// ruleSVG draws the mark of a line's figures against their limits.
func ruleSVG(l line) markup.HTML {
	r, ok := l.rule()
	if !ok {
		return ""
	}
	const wide, mid = 110.0, 8.0
	x := func(v float64) string { return fmt.Sprintf("%.1f", v*wide) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="rule" viewBox="0 0 %g 16" role="img" aria-label="%s"><path class="base" d="M0 %g H%g"/>`, wide, markup.Escape(string(l.Verdict())), mid, wide)
	if r.HasLow {
		fmt.Fprintf(&b, `<path class="limit" d="M%[1]s 3h4M%[1]s 3V13h4"/>`, x(r.Low))
	}
	if r.HasHigh {
		fmt.Fprintf(&b, `<path class="limit" d="M%[1]s 3h-4M%[1]s 3V13h-4"/>`, x(r.High))
	}
	for _, bar := range r.Bars {
		fmt.Fprintf(&b, `<path class="uncertainty" d="M%s %g H%s"/><path class="bar" d="M%s 4 V12"/>`, x(bar.From), mid, x(bar.To), x(bar.At))
	}
	b.WriteString("</svg>")
	return markup.HTML(b.String())
}

// verdictSVG is the verdict's mark: brackets, and the bar where the figure stands.
func verdictSVG(l line) markup.HTML {
	at, ok := verdictBar(l.Verdict(), l.worst().side())
	if !ok {
		return ""
	}
	return markup.HTML(fmt.Sprintf(`<svg class="verdict-mark" viewBox="0 0 30 16" aria-hidden="true"><path class="limit" d="M9 3h3M9 3V13h3M21 3h-3M21 3V13h-3"/><path class="bar" d="M%.1f 4V12"/></svg>`, 9+12*at))
}

// codeSVG draws a square code.
func codeSVG(rows [][]bool) markup.HTML {
	if rows == nil {
		return ""
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="code" viewBox="0 0 %d %d" role="img" aria-label="the note as a code"><path d="`, len(rows), len(rows))
	for i, r := range rows {
		for j, dark := range r {
			if dark {
				fmt.Fprintf(&b, "M%d %dh1v1h-1z", j, i)
			}
		}
	}
	b.WriteString(`"/></svg>`)
	return markup.HTML(b.String())
}

// runFigure is a figure with the run it is of.
type runFigure struct {
	Key    string
	Figure Figure
}

// photoURL gives a photo as part of the page; only the two kinds of picture that a phone sends are let in.
func photoURL(p Photo) markup.URL {
	if p.Bytes == nil || p.Type != "image/jpeg" && p.Type != "image/png" {
		return ""
	}
	return markup.URL("data:" + p.Type + ";base64," + base64.StdEncoding.EncodeToString(p.Bytes))
}

// label is a figure's name for people.
func label(name string) string { return calc.FigureWords(name) }

// figuresOf are the figures a person is shown of a run: all of the pass in force, and of the others those that decide or
// that the plan shows large. The JSON and CSV forms have every one.
func figuresOf(st Step, p Pass, r Run) []Figure {
	if p.Number == st.InForce || st.InForce == 0 {
		return r.Figures
	}
	var out []Figure
	for _, f := range r.Figures {
		if f.Limit != nil || f.Large {
			out = append(out, f)
		}
	}
	return out
}

// Name is how people call the run: "left, inlet".
func (r Run) Name() string { return runName(cmp.Or(r.called, r.Key)) }

// Name is how people call the run that the order is of.
func (a Adjustment) Name() string { return runName(cmp.Or(a.called, a.Key)) }

// Name is how people call the run whose figure changed.
func (c Change) Name() string { return runName(cmp.Or(c.called, c.Key)) }

func runName(key string) string {
	parts := strings.Split(key, ".")
	for i, part := range parts {
		parts[i] = plan.RunName(part)
	}
	return strings.Join(parts, ", ")
}

// signed lists the steps that were signed.
func signed(s Sheet) []Step {
	var out []Step
	for _, st := range s.Steps {
		if st.Signed != nil {
			out = append(out, st)
		}
	}
	return out
}
