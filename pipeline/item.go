package pipeline

import (
	"thoud/calc"
	"thoud/capture/plan"
)

// itemOf is the one of a list that a reference asks for, or all of it.
func itemOf(v calc.Val, r plan.Ref) (calc.Val, error) {
	switch {
	case r.Item == 0:
		return v, nil
	case r.Item > len(v.List):
		return calc.Val{}, waiting("number %d of %s, of which there are %d", r.Item, r.Name, len(v.List))
	}
	return calc.Val{Num: &v.List[r.Item-1]}, nil
}
