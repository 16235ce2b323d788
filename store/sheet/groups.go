package sheet

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
)

// mostOnFront is how many figures the first page has room for.
const mostOnFront = 20

// A part is a group of steps that a customer thinks of as one thing. Words are the words of step ids that belong to it;
// Drawings those that may stand beside it, the most telling first.
type part struct {
	Name     string
	IDs      []string // whole ids, where a word of theirs would lead elsewhere
	Words    []string
	Drawings []string
}

// parts is the table of groups, in the order of the sheet. A step that no row knows goes to the last.
var parts = []part{
	{"Bottom end", []string{"cam-bush"}, []string{"crank", "rod", "rods", "weights", "balance", "float", "cases", "main", "bench", "ready"},
		[]string{"crank-runout", "crank-float", "rod-bearing", "bush", "weighing"}},
	{"Barrels and pistons", []string{"wash-barrels"}, []string{"bores", "bore", "ring", "rings", "pin", "pins", "piston", "pistons", "boss", "deck", "compression", "barrels", "board", "clips", "mouths", "compressors", "joint"},
		[]string{"bore", "ring-feeler", "ring-gaps", "deck", "pin-fit", "base-joint"}},
	{"Guide blocks, camshaft and timing", nil, []string{"block", "blocks", "guide", "screw", "cone", "follower", "followers", "cam", "timing", "tdc", "stop", "chain", "ignition", "dry"},
		[]string{"block-read", "cone-seat", "follower-lift", "chain", "ignition"}},
	{"Head and valves", []string{"inlet-to-piston", "exhaust-to-piston", "valve-to-piston", "head-dry"}, []string{"head", "valve", "valves", "spring", "springs", "stems", "chambers", "rockers", "lash", "leak", "pushrods", "keepers"},
		[]string{"spring", "valve-piston", "rocker", "lash", "leak-down"}},
	{"Bolts", []string{"base-bolts", "head-bolts", "head-torque", "retorque"}, []string{"bolts", "torque"},
		[]string{"bolts"}},
	{"Other work", nil, nil, nil},
}

// partOf says which group a step belongs to: by its whole id, else by the first of its words that a row has.
func partOf(id string) int {
	for i, p := range parts {
		if slices.ContainsFunc(p.IDs, func(whole string) bool { return id == whole || strings.HasPrefix(id, whole+"-") }) {
			return i
		}
	}
	for _, word := range strings.Split(id, "-") {
		for i, p := range parts {
			if slices.Contains(p.Words, word) {
				return i
			}
		}
	}
	return len(parts) - 1
}

// line is one figure of a step, of all its runs: left and right stand on one line.
type line struct {
	Step    Step
	Name    string
	Figures []runFigure
}

// group is a part with its steps and their lines.
type group struct {
	part
	Steps []Step
	Lines []line
}

// groupsOf sorts the steps into the parts; a part without steps is left out.
func groupsOf(s Sheet) []group {
	all := make([]group, len(parts))
	for i := range parts {
		all[i].part = parts[i]
	}
	for _, st := range s.Steps {
		g := &all[partOf(st.ID)]
		g.Steps = append(g.Steps, st)
		g.Lines = append(g.Lines, linesOf(st)...)
	}
	return slices.DeleteFunc(all, func(g group) bool { return len(g.Steps) == 0 })
}

// counting are the runs of a step that count: those of the pass in force, or of a step that reads nothing.
func (st Step) counting() []Run {
	for _, p := range st.Passes {
		if p.Number == st.InForce && st.InForce != 0 {
			return p.Runs
		}
	}
	return st.Runs
}

// linesOf gives a step's figures that have a limit or that the plan shows large, one line a figure and limit: places that
// are wanted otherwise stand on lines of their own.
func linesOf(st Step) []line {
	type kind struct{ name, limit string }
	var out []line
	at := map[kind]int{}
	for _, r := range st.counting() {
		for k, f := range r.Figures {
			if f.Limit == nil && !f.Large && !(k == 0 && len(st.Limits) == 0) {
				continue
			}
			is := kind{name: f.Name}
			if f.Limit != nil {
				is.limit = f.Limit.Shown.MM
			}
			i, ok := at[is]
			if !ok {
				i = len(out)
				at[is] = i
				out = append(out, line{Step: st, Name: label(f.Name)})
			}
			out[i].Figures = append(out[i].Figures, runFigure{cmp.Or(r.called, r.Key), f})
		}
	}
	return out
}

// onFront chooses what the first page tells: figures with limits, each as it was measured last (a proof stands for its trial).
// All that are not in come first; the rest of the room is shared between the groups in turn: what the plan shows large before
// what it does not, the first figure of every step before the second of any, and late steps before early ones, because
// those are what leaves the shop.
func onFront(groups []group) []group {
	last, nth := map[string]int{}, map[string]int{}
	waiting := make([][]int, len(groups))
	keep := make([]map[int]bool, len(groups))
	room := mostOnFront
	for g := range groups {
		keep[g] = map[int]bool{}
		clear(last)
		for l, ln := range groups[g].Lines {
			if ln.Figures[0].Figure.Limit != nil && ln.Verdict() != calc.NoVerdict {
				last[ln.what()] = l
			}
		}
		waiting[g] = slices.Sorted(maps.Values(last))
		clear(nth)
		rank := map[int]int{}
		for _, l := range waiting[g] {
			rank[l] = nth[groups[g].Lines[l].Step.ID]
			nth[groups[g].Lines[l].Step.ID]++
		}
		slices.SortStableFunc(waiting[g], func(a, b int) int {
			x, y := groups[g].Lines[a], groups[g].Lines[b]
			return cmp.Or(cmp.Compare(x.urgency(), y.urgency()), cmp.Compare(rank[a], rank[b]), -cmp.Compare(x.Step.Number, y.Step.Number))
		})
		for len(waiting[g]) > 0 && room > 0 && groups[g].Lines[waiting[g][0]].urgency() == 0 {
			keep[g][waiting[g][0]] = true
			waiting[g] = waiting[g][1:]
			room--
		}
	}
	for more := true; more && room > 0; {
		more = false
		for g := range groups {
			if len(waiting[g]) > 0 && room > 0 {
				keep[g][waiting[g][0]] = true
				waiting[g] = waiting[g][1:]
				room--
				more = true
			}
		}
	}
	var out []group
	for g := range groups {
		chosen := group{part: groups[g].part}
		for l, ln := range groups[g].Lines {
			if keep[g][l] {
				chosen.Lines = append(chosen.Lines, ln)
			}
		}
		if chosen.Lines != nil {
			out = append(out, chosen)
		}
	}
	return out
}

// what says what a line is about, the same for a trial and its proof: the computation, the figure, the places, and the side or
// valve that the step's id names. Computations that are used for many things take the first word of the id as well.
func (l line) what() string {
	var of []string
	for _, w := range strings.Split(l.Step.ID, "-") {
		if slices.Contains([]string{"left", "right", "inlet", "exhaust", "top", "second"}, w) {
			of = append(of, w)
		}
	}
	if slices.Contains([]string{"running-fit", "statistics"}, l.Step.Method) {
		of = append(of, firstWord(l.Step.ID))
	}
	return strings.Join(append(of, l.Step.Method, l.Name, l.keys(), l.wanted(quantity.Metric)), " ")
}

func firstWord(id string) string {
	w, _, _ := strings.Cut(id, "-")
	return w
}

// urgency is 0 for what is not in, 1 for what the plan shows large, 2 for the rest.
func (l line) urgency() int {
	switch {
	case l.Verdict() != calc.VerdictIn:
		return 0
	case l.Figures[0].Figure.Large:
		return 1
	}
	return 2
}

// verdict is the worst of the line's figures.
func (l line) Verdict() calc.Verdict {
	v := calc.NoVerdict
	for _, f := range l.Figures {
		v = v.Worse(f.Figure.Verdict)
	}
	return v
}

// keys are the names of its runs: "left / right"; for more than two only how many.
func (l line) keys() string {
	switch n := len(l.Figures); {
	case n == 1:
		return runName(l.Figures[0].Key)
	case n == 2 && l.Figures[0].Key != "" && l.Figures[1].Key != "":
		return runName(l.Figures[0].Key) + " / " + runName(l.Figures[1].Key)
	default:
		return fmt.Sprintf("%d places", n)
	}
}

// values are its figures in one text: one, two with a stroke between them, or the least and the greatest of more.
func (l line) values(sys quantity.System) string {
	fs := slices.Clone(l.Figures)
	if len(fs) > 2 {
		if slices.ContainsFunc(fs, func(f runFigure) bool { return f.Figure.Value == nil }) {
			var each []string
			for _, f := range fs {
				each = append(each, runName(f.Key)+" "+shown(f.Figure.Shown, sys))
			}
			return strings.Join(each, ", ")
		}
		slices.SortStableFunc(fs, func(a, b runFigure) int { return cmp.Compare(*a.Figure.Value, *b.Figure.Value) })
		fs = []runFigure{fs[0], fs[len(fs)-1]}
	}
	first := shown(fs[0].Figure.Shown, sys)
	if len(fs) == 1 {
		return first
	}
	second := shown(fs[1].Figure.Shown, sys)
	if _, unit, ok := strings.Cut(second, " "); ok {
		first = strings.TrimSuffix(first, " "+unit)
	}
	if len(l.Figures) > 2 {
		return first + " to " + second
	}
	return first + " / " + second
}

// uncertainty is the greatest of its figures'.
func (l line) uncertainty(sys quantity.System) string {
	most := slices.MaxFunc(l.Figures, func(a, b runFigure) int { return cmp.Compare(a.Figure.U, b.Figure.U) })
	text := shown(most.Figure.ShownU, sys)
	if !strings.ContainsAny(text, "123456789") {
		return "" // finer than the figure is told
	}
	return text
}

// wanted is the limit of its figures.
func (l line) wanted(sys quantity.System) string {
	if lim := l.Figures[0].Figure.Limit; lim != nil {
		return shown(lim.Shown, sys)
	}
	return ""
}

// orders are what a step asked for and what is to be printed of it: not what stands beside "in", and not what asked for nothing.
func orders(all []Adjustment) []Adjustment {
	return slices.DeleteFunc(slices.Clone(all), func(a Adjustment) bool { return a.Answers == calc.VerdictIn || a.Nothing })
}

// groupRow is a row of a group's table: a figure with its limit, or a step's other figures in one text. Number and title stand
// on the first row of a step.
type groupRow struct {
	Number, Title string
	Line          *line
	Rest          string
}

// rows are the rows of a group's table, in the order of the work.
func (g group) rows(sys quantity.System) []groupRow {
	var out []groupRow
	for _, st := range g.Steps {
		number, name := fmt.Sprint(st.Number), st.Title
		var rest []string
		for i, l := range g.Lines {
			switch {
			case l.Step.ID != st.ID:
			case l.Figures[0].Figure.Limit != nil:
				out = append(out, groupRow{Number: number, Title: name, Line: &g.Lines[i]})
				number, name = "", ""
			default:
				rest = append(rest, strings.Join(notEmpty(l.Name, l.keys()), ", ")+" "+l.values(sys))
			}
		}
		if rest != nil {
			out = append(out, groupRow{Number: number, Title: name, Rest: strings.Join(rest, "; ")})
		}
	}
	return out
}
