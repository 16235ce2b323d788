package calc

import (
	"math"
	"slices"
	"strings"

	"thoud/calc/quantity"
)

// directionWords are what a direction key reads as where the plan has no words of its own. A key that is not here
// reads as itself.
func directionWords() map[string]string {
	return map[string]string{
		"away":    "away from the cam",
		"towards": "towards the cam",
		"none":    "nothing to move",
	}
}

// Direction is how a direction key reads: in the plan's words where it has any for it, else in the usual ones. A key that
// nobody has words for reads as itself.
func Direction(key string, req Request) string {
	if w, ok := req.Words[key]; ok {
		return w
	}
	if w, ok := directionWords()[key]; ok {
		return w
	}
	return strings.ReplaceAll(key, "_", " ")
}

// renderAdjustment fills in an adjustment's words for both systems. Its digits are those of the figure it stands for:
// the one with the same amount.
func renderAdjustment(a Adjustment, res Result, req Request) AdjustmentResult {
	ar := AdjustmentResult{What: a.What, Amount: a.Amount, Kind: a.Kind, Unit: a.Unit, Direction: a.Direction, Pieces: a.Pieces}
	if a.Kind == AnyKind {
		ar.Kind = quantity.Number
	}
	u := amountU(a, res)
	mm := words{a, ar.Kind, quantity.Metric, u, res, req}
	inch := words{a, ar.Kind, quantity.Inch, u, res, req}
	ar.Words = Shown{mm.sentence(), inch.sentence()}
	ar.Large = Shown{mm.amount(math.Abs(a.Amount), false), inch.amount(math.Abs(a.Amount), false)}
	ar.Verdict = answered(a, res)
	if ar.Verdict == VerdictIn {
		return leave(ar)
	}
	ar.Target = a.Direction != "none" && !(isNothing(ar.Large.MM) && isNothing(ar.Large.Inch))
	if a.Direction != "none" && (a.Unit == "flats" && !ar.Target || math.Abs(a.Amount) < a.Least) { // less than a hand can do
		return leave(ar)
	}
	return ar
}

// answered is the verdict an adjustment answers: the worst of its figures' that have limits, or of its guards' where those
// are in. A limit on something else says nothing about it.
func answered(a Adjustment, res Result) Verdict {
	worst := func(names []string) Verdict {
		v := NoVerdict
		for _, name := range names {
			f, _ := res.Figure(name)
			v = v.Worse(f.Verdict)
		}
		return v
	}
	v := worst(a.Answers)
	if v == NoVerdict {
		return v
	}
	return v.Worse(worst(a.Guards))
}

// leave takes the order off an adjustment.
func leave(a AdjustmentResult) AdjustmentResult {
	a.Words = Shown{leaveIt, leaveIt}
	a.Large, a.Target = Shown{}, false
	return a
}

// leaveIt is what stands in the place of an order where the figure it answers is in, or where less is asked for than a hand
// can do.
const leaveIt = "leave it"

// Leaves reports whether the order is to leave it as it is.
func (a AdjustmentResult) Leaves() bool { return a.Words.MM == leaveIt }

// Orders are the adjustments as they are to be told: beside a verdict of in, "leave it". Results of older versions keep an
// order there, which is not told; they have one verdict for all.
func (r Result) Orders() []AdjustmentResult {
	out := slices.Clone(r.Adjustment)
	for i, a := range out {
		if a.Verdict == VerdictIn || !r.EachAnswers && r.Verdict == VerdictIn {
			out[i] = leave(a)
		}
	}
	return out
}

// isNothing reports whether an amount is told as nought; "half a flat" has no digit and is something.
func isNothing(s string) bool {
	return !strings.ContainsAny(s, "123456789") && (s == "" || strings.Contains(s, "0"))
}

func amountU(a Adjustment, res Result) float64 {
	for _, f := range res.Figures {
		if f.Kind != a.Kind {
			continue
		}
		if f.Value != nil && sameAmount(*f.Value, a.Amount) {
			return f.U
		}
		for i, x := range f.List {
			if sameAmount(x, a.Amount) && i < len(f.ULists) {
				return f.ULists[i]
			}
		}
	}
	return 0
}

func sameAmount(x, y float64) bool {
	return math.Abs(math.Abs(x)-math.Abs(y)) <= 1e-12*math.Max(1, math.Abs(y))
}

// words fills in one sentence in one system.
type words struct {
	a    Adjustment
	kind quantity.Kind
	sys  quantity.System
	u    float64
	res  Result
	req  Request
}

func (w words) amount(x float64, signed bool) string {
	s := showOrder(w.a, w.kind, w.sys, x, w.req.grain(w.kind, w.u))
	if signed && x > 0 && !isNothing(s) {
		s = "+" + s
	}
	return s
}

func (w words) sentence() string {
	s := strings.NewReplacer(
		"{amount}", w.amount(math.Abs(w.a.Amount), false),
		"{signed}", w.amount(w.a.Amount, true),
		"{direction}", Direction(w.a.Direction, w.req),
		"{pieces}", w.pieces(),
	).Replace(w.a.Words)
	for {
		before, rest, ok := strings.Cut(s, "{figure:")
		if !ok {
			return s
		}
		name, after, ok := strings.Cut(rest, "}")
		if !ok {
			return s
		}
		shown := "?"
		if f, ok := w.res.Figure(name); ok {
			shown = f.Shown.MM
			if w.sys == quantity.Inch {
				shown = f.Shown.Inch
			}
		}
		s = before + shown + after
	}
}

// pieces lists the pieces chosen, "0.020 + 0.005": sizes are printed as they are sold, so with the places they need.
func (w words) pieces() string {
	if len(w.a.Pieces) == 0 {
		return "none"
	}
	least := 2
	if w.sys == quantity.Inch {
		least = 3
	}
	if w.kind != quantity.Length {
		least = 0
	}
	p := least
	for ; p < 4; p++ {
		exact := true
		for _, x := range w.a.Pieces {
			y := w.sys.For(w.kind).FromBase(x) * math.Pow10(p)
			exact = exact && math.Abs(y-math.Round(y)) < 1e-6
		}
		if exact {
			break
		}
	}
	var ss []string
	for _, x := range w.a.Pieces {
		ss = append(ss, number(w.kind, w.sys, x, p))
	}
	return strings.Join(ss, " + ")
}
