package calc

import "thoud/calc/quantity"

// Where a shim goes.
const (
	unused = iota
	onLeft
	onRight
)

// Bounds of the search over both sides.
const (
	maxSideSums   = 512
	maxExhaustive = 12
)

// sidesAsk is one search for shims on both sides; lengths in tenths of a nanometre.
type sidesAsk struct {
	left, right int64 // gaps
	want, least int64 // float
	pieces      []int64
}

// sharing is one way to share the shims out: sums, and how many.
type sharing struct {
	l, r int64
	n    int
}

// cost is twice |float − wanted| + |offset|, so that it is whole.
func (a sidesAsk) cost(s sharing) int64 {
	return 2*abs64(a.left+a.right-s.l-s.r-a.want) + abs64((a.left-s.l)-(a.right-s.r))
}

func (a sidesAsk) allowed(s sharing) bool { return a.left+a.right-s.l-s.r >= a.least }

// better reports whether s is to be preferred to t: cost, then more float, then fewer shims.
func (a sidesAsk) better(s, t sharing) bool {
	if cs, ct := a.cost(s), a.cost(t); cs != ct {
		return cs < ct
	}
	if s.l+s.r != t.l+t.r {
		return s.l+s.r < t.l+t.r
	}
	return s.n < t.n
}

// best gives for each piece where it goes.
func (a sidesAsk) best() ([]int, error) {
	step, thickest, all := int64(0), int64(0), int64(0)
	for _, p := range a.pieces {
		step = gcd(step, p)
		thickest = max(thickest, p)
		all += p
	}
	// Taking any shim off a set that is more than the thickest over brings the float nearer by more than it can cost in
	// the middle, so no more than this is ever fitted.
	most := min(all, max(a.left+a.right-a.want, 0)+thickest)
	cells := most/step + 1
	switch {
	case cells <= maxSideSums:
		return a.overPairs(step, cells), nil
	case len(a.pieces) <= maxExhaustive:
		return a.overAll(), nil
	}
	return nil, Refuse("shims", "give the thicknesses to 0.01 mm or 0.0005 in, or list at most 12 of them",
		"%d shims without a common measure over %.2f mm are too many to share out exactly", len(a.pieces), float64(most)/quantity.PerMillimetre)
}

// overPairs is dynamic programming over the pairs of sums, thinnest piece first: for each pair the fewest shims and
// where the piece goes. Of equally many the thicker piece is used rather than left, on the left rather than right.
func (a sidesAsk) overPairs(step, cells int64) []int {
	order := stackAsk{pieces: a.pieces}.order()
	fewest := make([]uint8, cells*cells)
	for i := range fewest[1:] {
		fewest[i+1] = unreached
	}
	places := make([][]uint8, len(order))
	for i := len(order) - 1; i >= 0; i-- {
		places[i] = placePiece(fewest, a.pieces[order[i]]/step, cells)
	}
	best := sharing{}
	for l := range cells {
		for r := range cells - l {
			if n := fewest[l*cells+r]; n != unreached {
				if s := (sharing{l * step, r * step, int(n)}); a.allowed(s) && a.better(s, best) {
					best = s
				}
			}
		}
	}
	side := make([]int, len(a.pieces))
	at := best.l/step*cells + best.r/step
	for i, o := range order {
		side[o] = int(places[i][at])
		switch t := a.pieces[o] / step; side[o] {
		case onLeft:
			at -= t * cells
		case onRight:
			at -= t
		}
	}
	return side
}

// placePiece takes one more piece, t steps thick, into the fewest shims of every pair of sums, and tells for each pair where
// it goes.
func placePiece(fewest []uint8, t, cells int64) []uint8 {
	places := make([]uint8, cells*cells)
	take := func(at, from int64, where uint8) {
		if fewest[from] != unreached && fewest[from]+1 <= fewest[at] {
			fewest[at], places[at] = fewest[from]+1, where
		}
	}
	for l := cells - 1; l >= 0; l-- {
		for r := cells - 1 - l; r >= 0; r-- {
			at := l*cells + r
			if r >= t {
				take(at, at-t, onRight)
			}
			if l >= t {
				take(at, at-t*cells, onLeft)
			}
		}
	}
	return places
}

// overAll looks at every way to share the pieces out, the thickest first.
func (a sidesAsk) overAll() []int {
	order := stackAsk{pieces: a.pieces}.order()
	side, found := make([]int, len(a.pieces)), make([]int, len(a.pieces))
	best := sharing{}
	var try func(i int, s sharing)
	try = func(i int, s sharing) {
		if i == len(order) {
			if a.allowed(s) && a.better(s, best) {
				best = s
				copy(found, side)
			}
			return
		}
		o := order[i]
		side[o] = onLeft
		try(i+1, sharing{s.l + a.pieces[o], s.r, s.n + 1})
		side[o] = onRight
		try(i+1, sharing{s.l, s.r + a.pieces[o], s.n + 1})
		side[o] = unused
		try(i+1, s)
	}
	try(0, sharing{})
	return found
}
