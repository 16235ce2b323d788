package sheet

import (
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/chart"
)

//go:embed sheet.gohtml
var page string

//go:embed sheet.css
var style string

// HTML writes the sheet as one page that needs nothing beside it: its own style, its pictures inside.
func HTML(w io.Writer, s Sheet, o Options) error {
	t, err := template.New("sheet").Funcs(template.FuncMap{
		"show":     func(t calc.Shown) string { return in(t, o.System) },
		"short":    short,
		"mark":     ruleSVG,
		"large":    largeFigures,
		"pictures": func(st Step) []template.HTML { return pictures(st, o.System) },
		"photo":    photoURL,
		"paper": func() string {
			if o.Letter {
				return "letter"
			}
			return "A4"
		},
		"style":   func() template.CSS { return template.CSS(chart.Style() + style) },
		"name":    runName,
		"label":   label,
		"figures": func(st Step, p Pass, r Run) []Figure { return figuresOf(st, p, r) },
		"join":    func(ss []string) string { return strings.Join(ss, ", ") },
		"signed":  signed,
		"brief": func() string {
			if o.Brief {
				return briefly
			}
			return ""
		},
	}).Parse(page)
	if err != nil {
		return fmt.Errorf("sheet: %w", err)
	}
	if err := t.Execute(w, s); err != nil {
		return fmt.Errorf("sheet of job %s: %w", s.Job, err)
	}
	return nil
}

// ruleSVG draws the mark of a figure against its limits.
func ruleSVG(f Figure) template.HTML {
	r, ok := rule(f)
	if !ok {
		return ""
	}
	const wide, mid = 110.0, 8.0
	x := func(v float64) string { return fmt.Sprintf("%.1f", v*wide) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="rule" viewBox="0 0 %g 16" role="img" aria-label="%s">`, wide, template.HTMLEscapeString(string(f.Verdict)))
	fmt.Fprintf(&b, `<path d="M0 %g H%g" stroke="#000" stroke-width=".6"/>`, mid, wide)
	fmt.Fprintf(&b, `<path d="M%s %g H%s" stroke="#000" stroke-width="2.4"/>`, x(r.BandLow), mid, x(r.BandHigh))
	for _, end := range []float64{r.BandLow, r.BandHigh} {
		if end > 0 && end < 1 {
			fmt.Fprintf(&b, `<path d="M%s %g V%g" stroke="#000" stroke-width=".8"/>`, x(end), mid-5, mid+5)
		}
	}
	fmt.Fprintf(&b, `<path d="M%s %g V%g M%s %g H%s M%s %g V%g" stroke="#000" stroke-width=".7" fill="none"/>`,
		x(r.Low), mid-6.5, mid-3.5, x(r.Low), mid-5, x(r.High), x(r.High), mid-6.5, mid-3.5)
	fmt.Fprintf(&b, `<path d="M%s %g l-3.2 6 h6.4 z" fill="#fff" stroke="#000" stroke-width=".9"/></svg>`, x(r.At), mid+1)
	return template.HTML(b.String())
}

// runFigure is a figure with the run it is of.
type runFigure struct {
	Key    string
	Figure Figure
}

// largeFigures are the figures of a step's pass in force that have a limit or are shown large: what the overview tells.
func largeFigures(st Step) []runFigure {
	i := slices.IndexFunc(st.Passes, func(p Pass) bool { return p.Number == st.InForce })
	if i < 0 || st.InForce == 0 {
		return nil
	}
	var out []runFigure
	for _, r := range st.Passes[i].Runs {
		for k, f := range r.Figures {
			if f.Limit != nil || k == 0 && f.Large {
				out = append(out, runFigure{r.Key, f})
			}
		}
	}
	return out
}

// photoURL gives a photo as part of the page; only the two kinds of picture that a phone sends are let in.
func photoURL(p Photo) template.URL {
	if p.Bytes == nil || p.Type != "image/jpeg" && p.Type != "image/png" {
		return ""
	}
	return template.URL("data:" + p.Type + ";base64," + base64.StdEncoding.EncodeToString(p.Bytes))
}

// label is a figure's name for people.
func label(name string) string { return strings.ReplaceAll(name, "_", " ") }

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

func runName(key string) string {
	return strings.ReplaceAll(key, ".", ", ")
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
