package calc

import (
	"math"
	"slices"
)

// plateau is where a row of readings that rises in steps came to rest: the mean of what was read after the last rise.
type plateau struct {
	level    float64
	from, to int     // the readings it is the mean of, to excluded
	noise    float64 // scatter from one reading to the next
	fell     float64 // how far the readings fell afterwards, 0 where they did not
}

// Rules of the plateau. A rise or a fall counts where its mean stands out by more than stepLimit standard deviations of
// chance, with at least leastSide readings on each side.
const (
	stepLimit = 4
	leastSide = 3
	// quietShare of the squared differences between neighbours, the smallest, belong to chance alone; their mean is
	// quietMean times the variance of the readings (chi-square of one degree of freedom, its lower 60 %, doubled).
	quietShare = 0.6
	quietMean  = 0.429
)

// findPlateau takes readings in the order they were made; least is the smallest scatter they can have (the display's
// step over √12, or what is stated). A rise shows as the split of the row at which the means before and after differ
// most, measured in the scatter; what stood before it is dropped, again and again until no rise is left. Taking the
// greatest reading instead would be too high by chance, the more so the more readings there are.
func findPlateau(y []float64, least float64) plateau {
	p := plateau{to: len(y), noise: math.Max(quietScatter(y), least)}
	for {
		at, z := p.split(y, func(z, best float64) bool { return z > best })
		if at < 0 || z <= stepLimit {
			break
		}
		p.from = at
	}
	if at, z := p.split(y, func(z, best float64) bool { return z < best }); at >= 0 && z < -stepLimit {
		p.fell = mean(y[p.from:at]) - mean(y[at:p.to])
		p.to = at
	}
	p.level = mean(y[p.from:p.to])
	return p
}

// split finds the split of the plateau whose step is the most by the given order: where the later part begins, −1 where
// there are too few readings, and the step in standard deviations.
func (p plateau) split(y []float64, more func(z, best float64) bool) (at int, z float64) {
	y = y[p.from:p.to]
	at = -1
	total, before := 0.0, 0.0
	for _, v := range y {
		total += v - y[0]
	}
	for i, v := range y {
		if a, b := float64(i), float64(len(y)-i); i >= leastSide && len(y)-i >= leastSide {
			step := (total-before)/b - before/a
			if w := step / (p.noise * math.Sqrt(1/a+1/b)); at < 0 || more(w, z) {
				at, z = p.from+i, w
			}
		}
		before += v - y[0]
	}
	return at, z
}

// quietScatter is the standard deviation of readings about wherever they rest, from the smaller differences between
// neighbours, which the steps do not reach; never quite nothing.
func quietScatter(y []float64) float64 {
	var squares []float64
	for i := 1; i < len(y); i++ {
		squares = append(squares, sq(y[i]-y[i-1]))
	}
	slices.Sort(squares)
	n := int(quietShare * float64(len(squares)))
	sum := 0.0
	for _, s := range squares[:n] {
		sum += s
	}
	return math.Max(math.Sqrt(sum/float64(max(n, 1))/quietMean), 1e-7)
}

// highestBefore is the greatest mean of so many readings in a row that end before the plateau; −Inf where there are
// fewer.
func (p plateau) highestBefore(y []float64, row int) float64 {
	high := math.Inf(-1)
	for i := 0; i+row <= p.from; i++ {
		high = math.Max(high, mean(y[i:i+row]))
	}
	return high
}

// highestPair is the greatest height that two readings in a row both reach, from the first reading on.
func (p plateau) highestPair(y []float64) float64 {
	high := math.Inf(-1)
	for i := 1; i < p.to; i++ {
		high = math.Max(high, math.Min(y[i-1], y[i]))
	}
	return high
}

func mean(y []float64) float64 {
	sum := 0.0
	for _, v := range y {
		sum += v - y[0]
	}
	return y[0] + sum/float64(len(y))
}
