package pipeline

import (
	"slices"

	"thoud/calc"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// itemOf is the one of a list that a reference asks for, or all of it. Where that one is a value that was given, it is
// taken from where it was given: with all that it has in common with other readings.
func (b *binder) itemOf(v calc.Val, r plan.Ref, res bench.Result) (calc.Val, error) {
	switch {
	case r.Item == 0:
		return v, nil
	case r.Item > len(v.List):
		return calc.Val{}, waiting("number %d of %s, of which there are %d", r.Item, r.Name, len(v.List))
	}
	if bind, in, ok := b.picked(r, res); ok {
		return b.value(bind, in)
	}
	return calc.Val{Num: &v.List[r.Item-1]}, nil
}

// picked finds where a value was given that a list has one of.
func (b *binder) picked(r plan.Ref, res bench.Result) (plan.Binding, calc.Input, bool) {
	m, _ := calc.Find(res.Method)
	i := slices.IndexFunc(m.Figures, func(f calc.Figure) bool { return f.Name == r.Name })
	step, ok := b.build.Plan.Step(r.Step)
	if i < 0 || m.Figures[i].Picks == nil || !ok {
		return plan.Binding{}, calc.Input{}, false
	}
	pick := m.Figures[i].Picks
	from, _ := inputOf(m.Inputs, pick.From)
	in, _ := inputOf(from.Fields, pick.Field)
	by, _ := res.Figure(pick.By)
	records := step.ComputeOf(r.Run).Inputs[pick.From].Recs
	if r.Item > len(by.List) || int(by.List[r.Item-1]) > len(records) {
		return plan.Binding{}, in, false
	}
	bind := records[int(by.List[r.Item-1])-1][pick.Field]
	bind.Refs = slices.Clone(bind.Refs)
	for k, ref := range bind.Refs {
		if bind.Refs[k] = ref.For(r.Run); ref.Step == "" && ref.Kind != plan.RefEngine {
			bind.Refs[k].Step = r.Step // of the step that it was given in
		}
	}
	return bind, in, len(bind.Refs) > 0 || bind.Const != nil
}
