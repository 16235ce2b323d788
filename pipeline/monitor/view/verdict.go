package view

import (
	"math"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/capture/bench"
)

// Row is one side of a verdict: its figure, its own verdict, its own order. A figure never shares a verdict.
type Row struct {
	Name    string // "left"; the figure's name where the step has no sides
	What    string // what the figure is, where neither verdict nor order says it
	Value   Text
	Limits  Text
	U       Text
	Word    string // in, out, too close to call, no answer; "" where nothing is decided
	Mark    string // which of our marks: in, out-over, out-under, close-over, close-under, none
	Order   *Order // what to do; nil where it is to be left as it is, or nothing is known to be done
	Each    []Text // the orders of one choice for several places: which part goes where; then Order is the first of them
	Else    string // what else was close to such a choice
	Leave   bool   // it is within its limits, or off by less than a hand can do: leave it
	Anew    bool   // too close to call: seat it anew and read again, before anything is moved
	Reason  string // why, and what would decide it
	First   bool   // the row whose order is carried out now: shown in full
	Refused bool
	Point   string // that the drawing lights for it
	Move    string // the direction of its order, as the drawing calls it
	// Provisional until the pass is closed; GaugeOnly where how well the set-up repeats is not known.
	Provisional bool
	GaugeOnly   bool
	N           uint64 // of the ledger's entry that shows its way; 0 where it used no reading
}

// Order is what to move, which way and how far.
type Order struct {
	Large Text   // the amount alone
	Words Text   // the direction, or the whole sentence where the move has more to it than a direction
	Way   string // "up" or "down" where the rule of the point has such a way
	Whole bool   // the words say the amount too
}

// rowsMost is how many rows have room; of more, those that ask for something come first.
const rowsMost = 4

// rows puts the newest results of the step into rows, in the order of the plan.
func (w *work) rows(results []bench.Result) []Row {
	var out []Row
	for _, r := range results {
		row := w.row(r)
		if row.Order != nil && r.Verdict == calc.NoVerdict && bench.ReadSince(results, r.Result) {
			row.Order, row.Move = nil, "" // it was carried out, and what was read then is within its limits
		}
		out = append(out, row)
	}
	// The first order to carry out is that of the point in work, else the first there is.
	first := -1
	for i, r := range results {
		if out[i].Order != nil && (first < 0 || w.rank(r) < w.rank(results[first])) {
			first = i
		}
	}
	if first >= 0 {
		out[first].First = true
	}
	if len(out) > rowsMost {
		slices.SortStableFunc(out, func(a, b Row) int { return urgency(a) - urgency(b) })
		w.v.RowsMore = len(out) - rowsMost
		out = out[:rowsMost]
	}
	return out
}

// leadAsked puts the row first that the question in hand names: beside "All to two thirds?" stands what two thirds are.
func (w *work) leadAsked() {
	if w.v.Stage != StageConfirm {
		return
	}
	rows := w.v.Rows
	i := slices.IndexFunc(rows, func(r Row) bool {
		return r.Order != nil && r.Name != "" && strings.Contains(strings.ToLower(w.v.Now), strings.ToLower(r.Name))
	})
	if i < 0 {
		return
	}
	named := rows[i]
	rows = slices.Delete(slices.Clone(rows), i, i+1)
	for k := range rows {
		rows[k].First = false
	}
	named.First = true
	w.v.Rows = append([]Row{named}, rows...)
}

// urgency puts what asks for something before what does not.
func urgency(r Row) int {
	switch {
	case r.First:
		return 0
	case r.Order != nil || r.Refused || r.Anew:
		return 1
	case r.Word != "" && !r.Leave:
		return 2
	case r.Word == "":
		return 4
	}
	return 3
}

func (w *work) row(r bench.Result) Row {
	row := Row{Name: w.step.RunTitle(r.Key), Point: r.Key, Provisional: r.Provisional, GaugeOnly: r.GaugeOnly, N: w.entryOf(r)}
	if r.Band != nil {
		row.Point = r.Band.Point
	}
	if r.Refused != "" {
		row.Word, row.Mark, row.Reason, row.Refused = "no answer", "none", r.Refused, true
		return row
	}
	f, ok := w.main(r)
	if ok {
		unit := w.step.FigureCounts(r.Key, f.Name)
		row.Value, row.U = f.Shown.Counted(unit), f.ShownU.CountedU(unit)
		row.Limits = w.limits(r, f, unit)
		switch name := calc.FigureWords(f.Name); {
		case row.Name == "":
			row.Name = name
		case r.Verdict == calc.NoVerdict && name != row.Name:
			row.What = name // nothing is decided: what the figure is says what to do with it
		}
	}
	if r.Verdict != calc.NoVerdict {
		row.Word, row.Mark = string(r.Verdict), MarkOf(r.Verdict)
		// Beside "in" an order stands only where it is what the figure is in with: shims that are still to be fitted.
		row.Leave = r.Verdict == calc.VerdictIn && !slices.ContainsFunc(r.Orders(), func(a calc.AdjustmentResult) bool { return a.Target })
		row.Mark += side(r)
	}
	row.Reason = calc.CountedIn(reasonOf(r), w.step.FigureCounts(r.Key, f.Name))
	if row.Leave { // what is within its limits stays as it is
		return row
	}
	if r.Verdict == calc.VerdictTooClose {
		row.Anew = true
		return row
	}
	var left Text
	for _, a := range r.Orders() {
		if a.Leaves() && r.Verdict == calc.NoVerdict { // less than a hand can do
			row.Leave, left = true, Text(a.Words)
		}
		if a.Target {
			row.Order, row.Move = w.order(r, a), a.Direction
			if row.Word == "" && ok && a.Kind == f.Kind && f.Value != nil && math.Abs(math.Abs(*f.Value)-math.Abs(a.Amount)) < 1e-9 {
				row.Value = Text{} // the order says the same figure as the hand can do it
			}
			break
		}
	}
	if row.Leave && row.Order == nil { // a hundredth of a flat tells a hand nothing: it stands in the figures below
		row.Value, row.What = left, ""
	}
	row.choice(r)
	return row
}

// choice tells a choice for several places whole: each of its orders, and the choice that came next.
func (row *Row) choice(r bench.Result) {
	for _, a := range r.Orders() {
		if a.Target {
			row.Each = append(row.Each, Text(a.Words))
		}
	}
	next, ok := r.Figure("runner_up")
	if len(row.Each) < 2 || !ok {
		row.Each = nil
		return
	}
	row.Name, row.Value, row.Order.Whole = "which goes where", Text{}, true
	row.Else = strings.Join(next.Text, ", ")
}

// main is the figure a result is told by: of those that the step shows, the one that has the verdict, else the first that
// has limits, else the first.
func (w *work) main(r bench.Result) (calc.FigureResult, bool) {
	var first calc.FigureResult
	rank := 0
	for _, f := range r.Figures {
		shown := w.step.Shows(r.Key, f.Name)
		got := 0
		switch {
		case f.Limit != nil && f.Verdict == r.Verdict:
			got = 3
		case f.Limit != nil && f.Verdict != calc.NoVerdict:
			got = 2
		case shown:
			got = 1
		}
		if got > rank {
			first, rank = f, got
		}
	}
	return first, rank > 0
}

// side tells on which side of the limits the value stands: "-over" or "-under"; "" within them.
func side(r bench.Result) string {
	for _, f := range r.Figures {
		if f.Verdict != r.Verdict || f.Limit == nil || f.Value == nil || r.Verdict == calc.VerdictIn {
			continue
		}
		lo, hi := f.Limit.Lower, f.Limit.Upper
		switch {
		case hi != nil && (lo == nil || *hi-*f.Value < *f.Value-*lo):
			return "-over"
		case lo != nil:
			return "-under"
		}
	}
	return ""
}

func reasonOf(r bench.Result) string {
	for _, f := range r.Figures {
		if f.Verdict == r.Verdict && f.Reason != "" {
			return f.Reason
		}
	}
	return ""
}

// order puts an adjustment into large figures. Where it is a move along the rule, its direction is told as the rule tells
// it; where there is more to it, by its whole sentence.
func (w *work) order(r bench.Result, a calc.AdjustmentResult) *Order {
	o := &Order{Large: a.Large, Words: a.Words}
	keys, ok := ends[r.Method]
	if !ok || r.Band == nil {
		o.Whole = strings.Contains(o.Words.MM, o.Large.MM) && strings.Contains(o.Words.Inch, o.Large.Inch)
		return o
	}
	words := directionWord(a.Direction, r.Request)
	o.Words = plain(words)
	switch a.Direction {
	case keys[0]:
		o.Way = "up"
	case keys[1]:
		o.Way = "down"
	}
	return o
}

// MarkOf names our mark of a verdict.
func MarkOf(v calc.Verdict) string {
	switch v {
	case calc.VerdictIn:
		return "in"
	case calc.VerdictOut:
		return "out"
	case calc.VerdictTooClose:
		return "close"
	}
	return ""
}
