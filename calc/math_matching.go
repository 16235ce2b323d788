package calc

import (
	"cmp"
	"math"
	"slices"
)

// pairing asks which part goes to which place. Sizes and limits are whole counts, so that nothing is decided by rounding.
type pairing struct {
	parts, places []int64
	sum           bool  // the fit is place + part instead of place − part
	low, high     int64 // fits outside are not allowed
	wanted        int64
	nearest       bool // of equally good choices the one nearest to wanted

	partOrder, placeOrder []int // by size, set by ordered
}

// ordered gives the pairing with both lists' orders by size, in which an optimal choice runs along.
func (p pairing) ordered() pairing {
	sorted := func(sizes []int64, sign int64) []int {
		order := make([]int, len(sizes))
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(sign*sizes[a], sign*sizes[b]) })
		return order
	}
	p.placeOrder, p.partOrder = sorted(p.places, 1), sorted(p.parts, 1)
	if p.sum {
		p.partOrder = sorted(p.parts, -1)
	}
	return p
}

// choice is which part each place gets; nil where there is none.
type choice []int

func (p pairing) fit(part, place int) int64 {
	if p.sum {
		return p.places[place] + p.parts[part]
	}
	return p.places[place] - p.parts[part]
}

func (p pairing) fits(c choice) []int64 {
	out := make([]int64, len(c))
	for place, part := range c {
		out[place] = p.fit(part, place)
	}
	return out
}

// unpaired stands for a pairing that is not allowed.
const unpaired = math.MaxInt64

// cheapest gives the least Σ (fit − wanted)² over all complete choices with fits in low … high (0 for each where nearest is
// not asked), some parts given to their places beforehand (given[place] is a part or −1); unpaired where there is none.
//
// Both lists sorted, an optimal pairing keeps their order: for x₁ ≤ x₂, y₁ ≤ y₂ and convex φ
// φ(y₁−x₁) + φ(y₂−x₂) ≤ φ(y₁−x₂) + φ(y₂−x₁), and limits are convex too. So with the j smallest places served from the i
// smallest parts the least cost is T[i][j] = min(T[i−1][j], T[i−1][j−1] + φ).
func (p pairing) cheapest(given []int) int64 {
	cost := func(part, place int) int64 {
		f := p.fit(part, place)
		switch {
		case f < p.low || f > p.high:
			return unpaired
		case p.nearest:
			return (f - p.wanted) * (f - p.wanted)
		}
		return 0
	}
	used := make([]bool, len(p.parts))
	row := make([]int64, 1, len(p.places)+1) // T[i][0…j] for the places in order
	open := make([]int, 0, len(p.places))
	total := int64(0)
	for _, place := range p.placeOrder {
		part := given[place]
		if part < 0 {
			open, row = append(open, place), append(row, unpaired)
			continue
		}
		c := cost(part, place)
		if c == unpaired {
			return unpaired
		}
		used[part], total = true, total+c
	}
	for _, part := range p.partOrder {
		if used[part] {
			continue
		}
		for j := len(open); j > 0; j-- {
			if row[j-1] == unpaired {
				continue
			}
			if c := cost(part, open[j-1]); c != unpaired {
				row[j] = min(row[j], row[j-1]+c)
			}
		}
	}
	if row[len(open)] == unpaired {
		return unpaired
	}
	return total + row[len(open)]
}

// none is a choice that is all open.
func (p pairing) none() []int {
	given := make([]int, len(p.places))
	for i := range given {
		given[i] = -1
	}
	return given
}

// first is the cheapest choice; of equally cheap ones that whose parts, place by place, stand first in their list. Some
// places may be given beforehand.
func (p pairing) first(given []int) (choice, int64) {
	best := p.cheapest(given)
	if best == unpaired {
		return nil, unpaired
	}
	given = slices.Clone(given)
	for place := range given {
		for part := 0; given[place] < 0; part++ {
			if slices.Contains(given, part) {
				continue
			}
			given[place] = part
			if p.cheapest(given) != best {
				given[place] = -1
			}
		}
	}
	return given, best
}

// least finds the best choice by a rule, with some places given beforehand, and its objective.
func (p pairing) least(rule string, given []int) (choice, int64) {
	switch rule {
	case ruleWorst:
		return p.leastWorst(given)
	case ruleSpread:
		return p.leastSpread(given, unpaired)
	}
	return p.first(given)
}

// leastWorst narrows the limits about wanted as far as a choice is left: bisection over the differences there are.
func (p pairing) leastWorst(given []int) (choice, int64) {
	var radii []int64
	for part := range p.parts {
		for place := range p.places {
			radii = append(radii, abs64(p.fit(part, place)-p.wanted))
		}
	}
	slices.Sort(radii)
	radii = slices.Compact(radii)
	within := func(r int64) pairing {
		q := p
		q.low, q.high = max(p.low, p.wanted-r), min(p.high, p.wanted+r)
		return q
	}
	at, _ := slices.BinarySearchFunc(radii, true, func(r int64, _ bool) int {
		if within(r).cheapest(given) == unpaired {
			return -1
		}
		return 0
	})
	if at == len(radii) {
		return nil, unpaired
	}
	c, _ := within(radii[at]).first(given)
	return c, radii[at]
}

// leastSpread tries each fit as the least one and asks how near above it a choice is left. most is a spread over which
// there is no interest.
func (p pairing) leastSpread(given []int, most int64) (choice, int64) {
	from, to := p.low, p.high // the least fit lies between
	for place, part := range given {
		if part >= 0 {
			f := p.fit(part, place)
			to = min(to, f)
			from = max(from, f-min(most, p.high-p.low))
		}
	}
	fits := p.allFits()
	spread, cheapest := most, int64(unpaired)
	var windows []pairing // the best so far
	high := 0             // the least index that serves grows with the low end
	for low, f := range fits {
		if f < from || f > to {
			continue
		}
		q := p
		q.low = f
		for high = max(high, low); high < len(fits) && fits[high]-f <= spread; high++ {
			if q.high = fits[high]; q.cheapest(given) != unpaired {
				break
			}
		}
		if high == len(fits) {
			break
		}
		if fits[high]-f > spread {
			continue
		}
		if s := q.high - q.low; s < spread {
			spread, cheapest, windows = s, unpaired, nil
		}
		if cost := q.cheapest(given); cost < cheapest {
			cheapest, windows = cost, []pairing{q}
		} else if cost == cheapest {
			windows = append(windows, q)
		}
	}
	var best choice
	for _, q := range windows {
		if c, _ := q.first(given); best == nil || slices.Compare(c, best) < 0 {
			best = c
		}
	}
	if best == nil {
		return nil, unpaired
	}
	return best, spread
}

// allFits lists the fits of every part in every place, sorted, each once.
func (p pairing) allFits() []int64 {
	var fits []int64
	for part := range p.parts {
		for place := range p.places {
			if f := p.fit(part, place); f >= p.low && f <= p.high {
				fits = append(fits, f)
			}
		}
	}
	slices.Sort(fits)
	return slices.Compact(fits)
}

// empty gives the places that cannot all be served, as few as it comes upon.
func (p pairing) empty() []int {
	p.nearest = false
	open := p.none()
	var left []int
	// A place is empty where serving it too leaves no choice for those kept so far.
	q := p
	q.places = nil
	for place := range p.places {
		q.places = append(q.places, p.places[place])
		if q = q.ordered(); q.cheapest(open[:len(q.places)]) == unpaired {
			q.places = q.places[:len(q.places)-1]
			left = append(left, place)
		}
	}
	return left
}
