package calc

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"thoud/calc/quantity"
)

// Find looks a method up by its name.
func Find(name string) (Method, bool) {
	m, ok := byName()[name]
	return m, ok
}

// byName is the table of methods by name. It is made once: making every method anew, for each result that is computed,
// took as long as the computation.
var byName = sync.OnceValue(func() map[string]Method {
	all := Methods()
	out := make(map[string]Method, len(all))
	for _, m := range all {
		out[m.Name] = m
	}
	return out
})

// Run does one computation: it checks the inputs against the method's declaration, computes, propagates uncertainty,
// decides against the limits and puts figures and adjustments into words. A malformed request gives an *InputError.
// What the method refuses, or fails at, is no error: it is a Result with Refused set and nothing else.
func Run(req Request) (Result, error) {
	m, ok := Find(req.Method)
	if !ok {
		return Result{}, &InputError{"method", fmt.Sprintf("%q", req.Method), "the name of a method"}
	}
	return m.Run(req)
}

// Run does one computation with this method, as the function Run does with one of the table.
func (m Method) Run(req Request) (Result, error) {
	if err := m.Check(req); err != nil {
		return Result{}, err
	}
	m = m.of(req.anyKind())
	req.Inputs = m.withUncertainty(req.Inputs)
	res := Result{Method: m.Name, Version: m.Version}
	base, err := computeInto(&Out{method: &m, nums: map[string]float64{}, wantSlopes: true, memory: &memory{}}, req.Inputs)
	if err != nil {
		why, refused := asRefusal(&m, err)
		if !refused {
			return Result{}, err
		}
		res.Refused, res.Refusal = err.Error(), why
		return res, nil
	}
	level := req.Level
	if level == 0 {
		level = 0.95
	}
	p := propagate(&m, req, base, level)
	res.Warnings = append(res.Warnings, base.warnings...)
	res.Warnings = append(res.Warnings, p.warnings...)
	res.GaugeOnly = req.GaugeOnly
	p.unstated = !anyUncertainty(req.Inputs) && !p.finds()
	for _, f := range m.Figures {
		if fr, ok := figureResult(f, base, p, req); ok {
			res.Verdict = res.Verdict.Worse(fr.Verdict)
			res.Figures = append(res.Figures, fr)
		}
	}
	for _, n := range base.near {
		if f, _ := res.Figure(n.figure); f.Value != nil && *f.Value-n.bound < f.U {
			res.Warnings = append(res.Warnings, n.words)
		}
	}
	for _, name := range Sorted(req.Limits) {
		if _, ok := res.Figure(name); !ok {
			res.Warnings = append(res.Warnings, fmt.Sprintf("%s: has a limit, but these inputs do not give it", name))
		}
	}
	for _, a := range base.adjustments {
		ar := renderAdjustment(a, res, req)
		if ar.Verdict != VerdictIn {
			res.Warnings = append(res.Warnings, a.warnings...)
		}
		res.Adjustment = append(res.Adjustment, ar)
		res.EachAnswers = true
	}
	if ordered := slices.ContainsFunc(res.Adjustment, func(a AdjustmentResult) bool { return a.Target && a.Verdict != VerdictIn }); req.Told != "" && res.Verdict == VerdictOut && !ordered {
		res.Adjustment = append(res.Adjustment, AdjustmentResult{What: "told", Words: Shown{MM: req.Told, Inch: req.Told}, Target: true, Verdict: VerdictOut})
		res.EachAnswers = true
	}
	return res, nil
}

// withUncertainty gives inputs the uncertainty that the method says follows from others; the caller's stay as they are.
func (m Method) withUncertainty(inputs map[string]Val) map[string]Val {
	if m.Uncertainty == nil {
		return inputs
	}
	inputs = cloneVals(inputs)
	m.Uncertainty(Args{m.Inputs, inputs}, func(list string, member int, c Component) {
		ns := inputs[list].List
		if !(c.U > 0) || !finite(c.U) || member < 0 || member >= len(ns) {
			return
		}
		us := make([]Component, 0, len(ns[member].Us)+1)
		for _, k := range ns[member].Us {
			if k.Name == c.Name && k.Shared == c.Shared && c.Name != "" {
				c.U = math.Max(c.U, k.U) // stated already
				continue
			}
			us = append(us, k)
		}
		ns[member].Us = append(us, c)
	})
	return inputs
}

// figureResult gathers one figure; false where these inputs did not give it.
func figureResult(f Figure, out *Out, p propagation, req Request) (FigureResult, bool) {
	fr := FigureResult{Name: f.Name, Kind: f.Kind, Several: f.Text && f.List, AtLeast: out.atLeast[f.Name]}
	var found bool
	if x, ok := out.nums[f.Name]; ok {
		fr.Value, found = &x, true
	}
	if xs, ok := out.lists[f.Name]; ok {
		fr.List, found = xs, true
	}
	if g, ok := out.grids[f.Name]; ok {
		fr.Grid, found = g, true
	}
	if ws, ok := out.texts[f.Name]; ok {
		fr.Text, found = ws, true
		if f.Flag {
			yes := len(ws) == 1 && ws[0] == "yes"
			fr.Flag = &yes
		}
	}
	if !found {
		return fr, false
	}
	if s, ok := p.spread[f.Name]; ok && !f.certain() {
		fr.K, fr.Dof, fr.From, fr.Common = s.k, s.dof, s.from, s.common
		for _, u := range s.u {
			fr.U = max(fr.U, s.k*u)
		}
		if fr.List != nil {
			fr.ULists = make([]float64, len(s.u))
			for i, u := range s.u {
				fr.ULists[i] = s.k * u
			}
		}
	}
	if l, ok := req.Limits[f.Name]; ok {
		fr.Limit = &l
		decideFigure(&fr, req, p.unstated)
	}
	renderFigure(&fr, req)
	if from, ok := out.from[f.Name]; ok && fr.Value != nil {
		g := req.grain(fr.Kind, fr.U)
		fr.Shown = inBoth(func(sys quantity.System) string {
			return from.words(*fr.Value, showFigure(fr.Kind, sys, math.Abs(*fr.Value), g))
		})
	}
	if s := out.said[f.Name]; s != "" {
		fr.Shown = Shown{s, s}
	}
	return fr, true
}

// anyKind is what inputs and figures declared AnyKind measure in this request.
func (r Request) anyKind() quantity.Kind {
	if r.Kind == "" {
		return quantity.Number
	}
	return r.Kind
}

// of gives the method with every AnyKind replaced by the kind of the request.
func (m Method) of(kind quantity.Kind) Method {
	m.Inputs = inputsOf(m.Inputs, kind)
	m.Figures = slices.Clone(m.Figures)
	for i := range m.Figures {
		if m.Figures[i].Kind == AnyKind {
			m.Figures[i].Kind = kind
		}
	}
	return m
}

func inputsOf(inputs []Input, kind quantity.Kind) []Input {
	inputs = slices.Clone(inputs)
	for i := range inputs {
		if inputs[i].Kind == AnyKind {
			inputs[i].Kind = kind
		}
		if inputs[i].Fields != nil {
			inputs[i].Fields = inputsOf(inputs[i].Fields, kind)
		}
	}
	return inputs
}
