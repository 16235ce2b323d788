package calc

import (
	"fmt"
	"math"
	"slices"

	"thoud/calc/quantity"
)

// stackAsk is one search for a stack of pieces (shims, plates). Lengths are counts of a tenth of a nanometre, in which
// every hundredth of a millimetre and every fraction of a thou is whole, so that nothing is decided by rounding.
type stackAsk struct {
	pieces []int64 // in stock, each once, > 0
	want   int64   // sum wanted
	least  int64   // smallest sum allowed
	most   int64   // largest sum allowed
	max    int     // most pieces allowed
	thick  bool    // of two sums equally near take the larger; else the smaller
}

// stackFound is the best stack: indices into pieces, thickest first.
type stackFound struct {
	index []int
	sum   int64
}

// maxStackSums bounds the sums looked at: 0.1 µm steps to 100 mm.
const maxStackSums = 1 << 20

// counts turns mm into tenths of a nanometre; beyond ±100 km it stays there, far outside what is searched.
func counts(mm float64) int64 {
	return int64(math.Round(math.Max(-1e15, math.Min(1e15, mm*quantity.PerMillimetre))))
}

// best finds the stack whose sum is nearest to want within [least, most]; of two equally near the one that the ask
// prefers; of those with one sum the one with fewest pieces, and of these the one with the thickest piece, then the
// next thickest, and so on. ok is false where no stack is allowed.
//
// It is exact: dynamic programming over every sum that can be reached, thinnest piece first, keeping for each sum the
// fewest pieces and, as one bit a piece, whether the thickest-first choice takes it. Time n·R/g and memory n·R/g bits,
// with n pieces, R = want + thickest piece and g the common measure of the pieces (0.0005 in or 0.01 mm in a usual
// box: a few hundred sums). Pieces without a common measure are taken to 0.1 µm, finer than any is known. More than
// 2^20 sums are refused.
func (a stackAsk) best() (f stackFound, ok bool, err error) {
	order := a.order()
	step, err := a.measure()
	if err != nil {
		return stackFound{}, false, err
	}
	top := a.top(step)
	fewest, took := reach(a.sizes(order, step), top)
	found := int64(-1)
	for s := int64(0); s <= top; s++ {
		sum := s * step
		if int(fewest[s]) > a.max || sum < a.least || sum > a.most {
			continue
		}
		if found < 0 || a.nearer(sum, found*step) {
			found = s
		}
	}
	if found < 0 {
		return stackFound{}, false, nil
	}
	for i, s := 0, found; s > 0; i++ {
		if took[i].has(s) {
			f.index = append(f.index, order[i])
			f.sum += a.pieces[order[i]]
			s -= (a.pieces[order[i]] + step/2) / step
		}
	}
	return f, true, nil
}

// nearer reports whether sum a is to be preferred to an earlier, smaller sum b.
func (a stackAsk) nearer(sum, than int64) bool {
	da, db := abs64(sum-a.want), abs64(than-a.want)
	return da < db || da == db && a.thick
}

// order lists the pieces thickest first.
func (a stackAsk) order() []int {
	order := make([]int, len(a.pieces))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		switch {
		case a.pieces[i] > a.pieces[j]:
			return -1
		case a.pieces[i] < a.pieces[j]:
			return 1
		}
		return 0
	})
	return order
}

// measure is the common measure of the pieces, or 0.1 µm where that would give too many sums.
func (a stackAsk) measure() (int64, error) {
	step := int64(0)
	for _, p := range a.pieces {
		step = gcd(step, p)
	}
	if step == 0 {
		return 1, nil
	}
	if a.top(step) < maxStackSums {
		return step, nil
	}
	const tenthMicrometre = quantity.PerMicrometre / 10
	if a.top(tenthMicrometre) < maxStackSums {
		return tenthMicrometre, nil
	}
	return 0, fmt.Errorf("a stack of up to %.0f mm", float64(a.top(1))/quantity.PerMillimetre)
}

// top is the largest sum worth looking at, in steps: taking one piece off any larger stack leaves one that is nearer.
func (a stackAsk) top(step int64) int64 {
	all, thickest := int64(0), int64(0)
	for _, p := range a.pieces {
		all += p
		thickest = max(thickest, p)
	}
	top := (min(all, max(a.want, a.least, 0)+thickest) + step - 1) / step
	if step > 1 {
		top += int64(len(a.pieces)+1) / 2 // pieces rounded to the step may add up to so much more
	}
	return top
}

func (a stackAsk) sizes(order []int, step int64) []int64 {
	sizes := make([]int64, len(order))
	for i, o := range order {
		sizes[i] = (a.pieces[o] + step/2) / step
	}
	return sizes
}

// unreached stands for a sum that no set of pieces has.
const unreached = math.MaxUint8

// reach finds for every sum 0…top the fewest of the pieces that make it, and for each piece the sums at which the
// thickest-first choice among the pieces from there on takes it. Sizes come thickest first, fewer than 255 of them.
func reach(sizes []int64, top int64) (fewest []uint8, took []bitset) {
	fewest = make([]uint8, top+1)
	for s := range fewest[1:] {
		fewest[s+1] = unreached
	}
	took = make([]bitset, len(sizes))
	all := int64(0) // what the pieces so far add up to
	for i := len(sizes) - 1; i >= 0; i-- {
		took[i] = make(bitset, top/64+1)
		t := sizes[i]
		all += t
		for s := min(top, all); s >= t; s-- {
			// At one and the same number of pieces the thicker one is taken.
			if n := fewest[s-t]; n != unreached && n+1 <= fewest[s] {
				fewest[s] = n + 1
				took[i].set(s)
			}
		}
	}
	return fewest, took
}

type bitset []uint64

func (b bitset) has(i int64) bool { return b[i/64]&(1<<(i%64)) != 0 }
func (b bitset) set(i int64)      { b[i/64] |= 1 << (i % 64) }

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

func abs64(x int64) int64 {
	if x < 0 {
		return -x
	}
	return x
}
