package sheet

import (
	"fmt"
	"html/template"
	"slices"

	"thoud/calc/chart"
	"thoud/calc/quantity"
	"thoud/capture/bench"
)

// pictures draws what a step's pass in force has a picture of, and how each figure with limits came there pass by pass.
// They are SVG of this program's own, from numbers and escaped words.
func pictures(st Step, sys quantity.System) []template.HTML {
	var out []template.HTML
	if p := st.shownPass(); p != nil {
		for _, r := range p.Runs {
			if svg, ok := chart.DrawIn(r.result, r.request, sys); ok {
				out = append(out, template.HTML(svg))
			}
		}
	}
	for _, s := range courses(st) {
		if svg, ok := chart.Convergence(s, sys); ok {
			out = append(out, template.HTML(svg))
		}
	}
	return out
}

// shownPass is the pass in force, or the last that is not void; nil where there is none.
func (st Step) shownPass() *Pass {
	var last *Pass
	for i := range st.Passes {
		p := &st.Passes[i]
		if p.Number == st.InForce {
			return p
		}
		if p.Status != bench.PassIsVoid {
			last = p
		}
	}
	return last
}

// courses are the figures with limits over the passes, where there is more than one pass to speak of.
func courses(st Step) []chart.Series {
	var out []chart.Series
	at := map[string]int{}
	for _, p := range st.Passes {
		if p.Status == bench.PassIsVoid {
			continue
		}
		for _, r := range p.Runs {
			for _, f := range r.Figures {
				if f.Value == nil || f.Limit == nil {
					continue
				}
				name := label(f.Name)
				if r.Key != "" {
					name = runName(r.Key) + ": " + label(f.Name)
				}
				i, ok := at[name]
				if !ok {
					i = len(out)
					at[name] = i
					out = append(out, chart.Series{Title: name, Kind: f.Kind})
				}
				out[i].Values = append(out[i].Values, chart.Value{Label: fmt.Sprintf("pass %d", p.Number), Value: *f.Value, U: f.U})
				out[i].Limit.Lower, out[i].Limit.Upper = f.Limit.Lower, f.Limit.Upper
			}
		}
	}
	return slices.DeleteFunc(out, func(s chart.Series) bool { return len(s.Values) < 2 })
}
