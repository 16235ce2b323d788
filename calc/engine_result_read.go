package calc

import "thoud/calc/plainjson"

// Read reads a result's fields, within an object that the reader stands in, in the order in which they are declared.
func (res *Result) Read(r *plainjson.Reader) {
	plainjson.Text(r, "method", &res.Method)
	plainjson.Whole(r, "version", &res.Version)
	if r.Field("figures") {
		res.Figures = plainjson.Each(r, readFigure)
	}
	if r.Field("adjustment") {
		res.Adjustment = plainjson.Each(r, readAdjustment)
	}
	r.Truth("each_answers", &res.EachAnswers)
	plainjson.Text(r, "verdict", &res.Verdict)
	r.Truth("gauge_only", &res.GaugeOnly)
	r.Texts("warnings", &res.Warnings)
	plainjson.Text(r, "refused", &res.Refused)
	if r.Field("refusal") {
		var why Refusal
		r.Begin()
		plainjson.Text(r, "field", &why.What)
		plainjson.Text(r, "reason", &why.Why)
		plainjson.Text(r, "remedy", &why.Do)
		r.End()
		res.Refusal = &why
	}
}

func readFigure(r *plainjson.Reader) (f FigureResult) {
	r.Begin()
	plainjson.Text(r, "name", &f.Name)
	plainjson.Text(r, "kind", &f.Kind)
	r.MaybeNumber("value", &f.Value)
	r.Numbers("list", &f.List)
	if r.Field("grid") {
		f.Grid = plainjson.Each(r, func(r *plainjson.Reader) []float64 { return plainjson.Each(r, (*plainjson.Reader).Float) })
	}
	r.Texts("text", &f.Text)
	r.Truth("several", &f.Several)
	if r.Field("flag") {
		is := r.Flag()
		f.Flag = &is
	}
	r.Number("U", &f.U)
	r.Number("k", &f.K)
	r.Number("dof", &f.Dof)
	r.Numbers("U_list", &f.ULists)
	r.Truth("at_least", &f.AtLeast)
	plainjson.Text(r, "from", &f.From)
	if r.Field("common") {
		f.Common = plainjson.Each(r, readComponent)
	}
	if r.Field("limit") {
		lim := readLimit(r)
		f.Limit = &lim
	}
	plainjson.Text(r, "verdict", &f.Verdict)
	plainjson.Text(r, "reason", &f.Reason)
	readShown(r, "why", &f.Why)
	readShown(r, "shown", &f.Shown)
	readShown(r, "shown_u", &f.ShownU)
	r.End()
	return f
}

func readComponent(r *plainjson.Reader) (c Component) {
	r.Begin()
	plainjson.Text(r, "name", &c.Name)
	r.Number("u", &c.U)
	r.Number("dof", &c.Dof)
	plainjson.Text(r, "shared", &c.Shared)
	r.End()
	return c
}

func readLimit(r *plainjson.Reader) (l Limit) {
	r.Begin()
	r.MaybeNumber("lower", &l.Lower)
	r.MaybeNumber("upper", &l.Upper)
	plainjson.Text(r, "source", &l.Source)
	r.End()
	return l
}

func readShown(r *plainjson.Reader, name string, to *Shown) {
	if r.Field(name) {
		r.Begin()
		plainjson.Text(r, "mm", &to.MM)
		plainjson.Text(r, "inch", &to.Inch)
		r.End()
	}
}

func readAdjustment(r *plainjson.Reader) (a AdjustmentResult) {
	r.Begin()
	plainjson.Text(r, "what", &a.What)
	r.Number("amount", &a.Amount)
	plainjson.Text(r, "kind", &a.Kind)
	plainjson.Text(r, "unit", &a.Unit)
	plainjson.Text(r, "direction", &a.Direction)
	r.Numbers("pieces", &a.Pieces)
	readShown(r, "words", &a.Words)
	readShown(r, "large", &a.Large)
	r.Truth("target", &a.Target)
	plainjson.Text(r, "verdict", &a.Verdict)
	r.End()
	return a
}
