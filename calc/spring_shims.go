package calc

import (
	"fmt"
	"math"
	"slices"

	"thoud/calc/quantity"
)

// springShims shares one stock of shims out to the springs of several valves, so that their seat loads are as wanted and
// alike.
//
//	load_j = seat_j + rate_j·Σ shims under j           seats and rates of all springs of a valve together
//	chosen: least of the largest |load − wanted|; then least Σ(load − wanted)²; then fewest shims
//
// Exact: dynamic programming over what is left of the stock, place by place, once for the largest error and once for the
// sum of squares under it. Loads are compared as whole thousandths of a newton, thicknesses as whole tenths of a nanometre,
// so that no choice hangs on rounding. With margins, no stack leaves a spring less than margin_wanted before it binds; the
// margins are those before the shims.
// Refused: two places of one name, more than 16 places, a stock that makes too many choices. Selective assembly; computed independently, no published example.
func springShims() Method {
	return Method{
		Name: "spring-shims", Version: 1, Title: "Shims for all valve springs out of one stock",
		Inputs: []Input{
			{Name: "places", Shape: Records, Doc: "the springs of each valve", Fields: []Input{
				{Name: "name", Shape: Text, Doc: "which valve"},
				{Name: "seat", Kind: quantity.Force, Positive: true, Doc: "load with the valve shut, all its springs together"},
				{Name: "rate", Kind: quantity.Stiffness, Positive: true, Doc: "rate of all its springs together"},
				{Name: "margin", Shape: List, Kind: quantity.Length, Optional: true, Doc: "travel left to coil bind at full lift, each spring"},
			}},
			{Name: "seat_wanted", Kind: quantity.Force, Positive: true, Doc: "load wanted with the valve shut"},
			{Name: "margin_wanted", Kind: quantity.Length, Optional: true, Positive: true, Doc: "least coil-bind margin wanted (0.060 in: common practice); 1.524 mm where not given"},
			{Name: "shims", Shape: List, Kind: quantity.Length, Positive: true, Doc: "shims in stock, each as often as there are of it"},
			{Name: "max_shims", Kind: quantity.Number, Optional: true, Doc: "most shims under the springs of one valve; 3 where not given"},
		},
		Figures: []Figure{
			{Name: "worst_now", Kind: quantity.Force, Doc: "largest |load − wanted| as it stands"},
			{Name: "spread_now", Kind: quantity.Force, Doc: "greatest less least load as it stands"},
			{Name: "sums", Kind: quantity.Length, List: true, Choice: true, Doc: "thickness under the springs of each valve, in the order of the places"},
			{Name: "loads_then", Kind: quantity.Force, List: true, Doc: "load of each with them"},
			{Name: "worst_then", Kind: quantity.Force, Doc: "largest |load − wanted| with them"},
			{Name: "spread_then", Kind: quantity.Force, Doc: "greatest less least load with them"},
			{Name: "count", Kind: quantity.Number, Choice: true, Unit: "shims", Doc: "shims that go in, all together"},
		},
		Formula:  "load = seat + rate·Σ shims; chosen: least of the largest |load − wanted|, then least Σ(load − wanted)²",
		Source:   "common practice; computed independently, no published example",
		Cautions: []string{"Springs and collets fly: face shield, compressor square on, nobody in line.", "Measure every shim: the stamped size is only a name."},
		Compute:  computeSpringShims,
	}
}

// The most places that are shared out to, and the most states of the stock that are looked at.
const (
	maxSpringPlaces = 16
	maxStockStates  = 100_000
)

// shimShare is the request read: a stock of thicknesses with how often each is there, and places with their loads.
type shimShare struct {
	names  []string
	seats  []float64
	rates  []float64
	wanted float64
	sizes  []int64 // thicknesses, thickest first
	stock  []int   // of each
	stacks []sharedStack
	room   []float64 // most that each place takes, mm
}

// sharedStack is one way to fill one place: how many of each thickness.
type sharedStack struct {
	used   []int
	sum    float64
	pieces int
	cost   int // what it takes from the stock, as a number in its mixed base
}

func computeSpringShims(in Args, out *Out) error {
	s, err := readShimShare(in)
	if err != nil {
		return err
	}
	chosen := s.share(math.MaxInt64, false)
	chosen = s.share(s.worst(chosen), true)
	now, then, sums := make([]float64, len(s.names)), make([]float64, len(s.names)), make([]float64, len(s.names))
	count := 0
	for j, k := range chosen {
		stack := s.stacks[k]
		if s.room[j] < 0 {
			out.Warn("%s is %.3f mm short of the coil-bind margin without any shim", s.names[j], -s.room[j])
		}
		now[j], sums[j] = s.seats[j], stack.sum
		then[j] = s.seats[j] + s.rates[j]*stack.sum
		count += stack.pieces
		a := Adjustment{What: s.names[j], Amount: stack.sum, Kind: quantity.Length, Direction: "fit", Answers: []string{"worst_now", "spread_now"},
			Pieces: s.piecesOf(stack), Words: "{direction} {pieces} under " + s.names[j]}
		if stack.pieces == 0 {
			a.Direction, a.Pieces, a.Words = "none", nil, "no shim under "+s.names[j]
		}
		out.Adjust(a)
	}
	off := func(loads []float64) float64 {
		worst := 0.0
		for _, l := range loads {
			worst = math.Max(worst, math.Abs(l-s.wanted))
		}
		return worst
	}
	out.Set("worst_now", off(now))
	out.Set("spread_now", slices.Max(now)-slices.Min(now))
	out.SetList("sums", sums)
	out.SetList("loads_then", then)
	out.Set("worst_then", off(then))
	out.Set("spread_then", slices.Max(then)-slices.Min(then))
	out.Set("count", float64(count))
	return nil
}

func readShimShare(in Args) (*shimShare, error) {
	s := &shimShare{wanted: in.Num("seat_wanted")}
	places := in.Recs("places")
	if len(places) == 0 || len(places) > maxSpringPlaces {
		return nil, Refuse("places", "list the valves of one stock of shims", "%d of them, 1 to %d can be answered", len(places), maxSpringPlaces)
	}
	margin := in.NumOr("margin_wanted", usualMargin)
	for i, r := range places {
		name := plainName(r.Text("name"))
		if slices.Contains(s.names, name) {
			return nil, Refuse(fmt.Sprintf("places[%d].name", i), "give each its own name", "%q is given twice", name)
		}
		room := math.Inf(1)
		for _, m := range r.List("margin") {
			room = math.Min(room, m-margin)
		}
		s.names, s.seats, s.rates, s.room = append(s.names, name), append(s.seats, r.Num("seat")), append(s.rates, r.Num("rate")), append(s.room, room)
	}
	most := in.NumOr("max_shims", 3)
	if most != math.Trunc(most) || most < 1 {
		return nil, Refuse("max_shims", "give a whole number, 1 or more", "%g", most)
	}
	return s, s.readStock(in.List("shims"), int(math.Min(most, maxShims)))
}

// readStock counts the stock and lists every stack that can be made of it.
func (s *shimShare) readStock(shims []float64, most int) error {
	if len(shims) > maxShims {
		return Refuse("shims", "list those that could be fitted", "%d shims, at most %d are searched", len(shims), maxShims)
	}
	sorted := slices.Clone(shims)
	slices.SortFunc(sorted, func(a, b float64) int { return int(counts(b) - counts(a)) })
	for _, x := range sorted {
		n := counts(x)
		switch last := len(s.sizes) - 1; {
		case n <= 0:
			return Refuse("shims", "give the thickness as measured", "a shim of %g mm is thinner than can be measured", x)
		case last >= 0 && s.sizes[last] == n:
			s.stock[last]++
		default:
			s.sizes, s.stock = append(s.sizes, n), append(s.stock, 1)
		}
	}
	states := 1
	for _, n := range s.stock {
		if states *= n + 1; states > maxStockStates {
			return Refuse("shims", "list fewer thicknesses, those that could be fitted", "a stock of %d shims of %d thicknesses makes too many choices", len(shims), len(s.sizes))
		}
	}
	s.list(sharedStack{used: make([]int, len(s.sizes))}, 0, 1, most)
	return nil
}

// list adds a stack and every one that has more on top of it, thicknesses from one on; weight is that one's place value in
// the mixed base of the stock.
func (s *shimShare) list(stack sharedStack, from, weight, most int) {
	s.stacks = append(s.stacks, stack)
	for i := from; i < len(s.sizes) && stack.pieces < most; i++ {
		if stack.used[i] < s.stock[i] {
			next := sharedStack{used: slices.Clone(stack.used), pieces: stack.pieces + 1, cost: stack.cost + weight,
				sum: stack.sum + float64(s.sizes[i])/quantity.PerMillimetre}
			next.used[i]++
			s.list(next, i, weight, most)
		}
		weight *= s.stock[i] + 1
	}
}

func (s *shimShare) piecesOf(stack sharedStack) []float64 {
	var out []float64
	for i, n := range stack.used {
		for range n {
			out = append(out, float64(s.sizes[i])/quantity.PerMillimetre)
		}
	}
	return out
}

// off is how far a place's load is from the one wanted with a stack, in thousandths of a newton.
func (s *shimShare) off(place int, stack sharedStack) int64 {
	return int64(math.Round(1000 * math.Abs(s.seats[place]+s.rates[place]*stack.sum-s.wanted)))
}

func (s *shimShare) worst(chosen []int) int64 {
	worst := int64(0)
	for place, k := range chosen {
		worst = max(worst, s.off(place, s.stacks[k]))
	}
	return worst
}

// shared is the best way to a state of the stock: what it costs, and by which stack from which state it was reached.
type shared struct {
	cost, pieces int64
	stack, from  int
	ok           bool
}

// share gives the stack of each place; none at all is always one: the least largest error, or, with squares, the least sum of
// squares of those whose errors are all within most.
func (s *shimShare) share(most int64, squares bool) []int {
	states := 1
	for _, n := range s.stock {
		states *= n + 1
	}
	layers := make([][]shared, len(s.names)+1)
	layers[0] = make([]shared, states)
	layers[0][0].ok = true
	for place := range s.names {
		next := make([]shared, states)
		for state, at := range layers[place] {
			if at.ok {
				s.fill(place, state, at, most, squares, next)
			}
		}
		layers[place+1] = next
	}
	best := -1
	for state, at := range layers[len(s.names)] {
		if at.ok && (best < 0 || at.before(layers[len(s.names)][best])) {
			best = state
		}
	}
	chosen := make([]int, len(s.names))
	for place := len(s.names); place > 0; place-- {
		at := layers[place][best]
		chosen[place-1], best = at.stack, at.from
	}
	return chosen
}

// fill puts every stack that fits under one place, from one state of the stock.
func (s *shimShare) fill(place, state int, at shared, most int64, squares bool, next []shared) {
	for k, stack := range s.stacks {
		off := s.off(place, stack)
		if off > most || stack.sum > s.room[place]+1e-9 && stack.pieces > 0 || !s.enough(state, stack) {
			continue
		}
		to := shared{cost: max(at.cost, off), pieces: at.pieces + int64(stack.pieces), stack: k, from: state, ok: true}
		if squares {
			to.cost = at.cost + off*off
		}
		if there := &next[state+stack.cost]; !there.ok || to.before(*there) {
			*there = to
		}
	}
}

// enough reports whether a stack can still be made when a state's pieces are gone.
func (s *shimShare) enough(state int, stack sharedStack) bool {
	for i, n := range s.stock {
		if state%(n+1)+stack.used[i] > n {
			return false
		}
		state /= n + 1
	}
	return true
}

func (a shared) before(b shared) bool {
	return a.cost < b.cost || a.cost == b.cost && a.pieces < b.pieces
}
