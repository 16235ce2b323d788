package calc

import (
	"math"
	"slices"
)

// tightSpot is the tightest place of a chain over all phases that its two sprockets meet in.
type tightSpot struct {
	fitted     float64 // least excess of the curve
	excess     float64 // excess length there: that, or the least read
	at         float64 // angle of the reference sprocket, counted on over the turns
	turns      float64 // of the reference sprocket until the phases repeat
	read       bool    // a reading was taken near it
	otherPhase float64 // what another phase of fitting the sprockets could give
}

// Bounds of the search for turns after which the sprockets meet again.
const (
	mostRepeatTurns = 150
	sameRatio       = 0.0005
	manyPhases      = 15 // turns in which the curve comes within 2.2 % of an amplitude of its lowest
)

// tightest finds the tightest place of the fitted curve; never slacker than the tightest reading.
func (h harmonics) tightest(in Args, run chainRun) tightSpot {
	angle, slack := in.List("angle"), in.List("slack")
	s := tightSpot{turns: 1, at: wrap(h.peak(0)+180/h.order[0], 360)}
	s.otherPhase = h.mean
	for k := range h.order {
		s.otherPhase -= h.amplitude(k)
	}
	s.excess = s.otherPhase
	if len(h.order) > 1 {
		s.turns = repeatTurns(h.order[1])
		s.at = h.lowest(360*math.Floor(slices.Min(angle)/360), s.turns)
		if s.turns < manyPhases {
			s.excess = h.at(s.at)
		}
	}
	s.fitted = s.excess
	s.read = s.nearReading(angle)
	least := 0
	for i, x := range slack {
		if x < slack[least] {
			least = i
		}
	}
	if e := run.excess(slack[least]); e < s.excess {
		s.excess, s.at, s.read = e, angle[least], true
		if len(h.order) == 1 {
			s.at = wrap(s.at, 360)
		}
	}
	return s
}

// repeatTurns is the least q ≤ 150 for which q turns are a whole number of the other sprocket's, within 0.0005 a turn; 150
// where there is none.
func repeatTurns(ratio float64) float64 {
	for q := 1.0; q <= mostRepeatTurns; q++ {
		if math.Abs(ratio-math.Round(ratio*q)/q) <= sameRatio {
			return q
		}
	}
	return mostRepeatTurns
}

// lowest is where two terms together are lowest over so many turns on from an angle. The term that bends more has its own
// low places near all low places of the sum: the lowest few of these are looked at closely.
func (h harmonics) lowest(from, turns float64) float64 {
	main := 0
	if h.amplitude(1)*h.order[1]*h.order[1] > h.amplitude(0)*h.order[0]*h.order[0] {
		main = 1
	}
	period := 360 / h.order[main]
	first := h.peak(main) + period/2
	type low struct{ at, y float64 }
	var best [4]low
	for i := range best {
		best[i].y = math.Inf(1)
	}
	for k := math.Ceil((from - first) / period); first+k*period < from+360*turns; k++ {
		l := low{first + k*period, 0}
		l.y = h.at(l.at)
		for i := range best {
			if l.y < best[i].y {
				l, best[i] = best[i], l
			}
		}
	}
	at, y := best[0].at, best[0].y
	for _, l := range best {
		if math.IsInf(l.y, 1) {
			continue
		}
		for j := -45; j <= 45; j++ {
			if x := l.at + float64(j)/90*period; h.at(x) < y {
				at, y = x, h.at(x)
			}
		}
	}
	step := period / 90
	if h.slope(at-step) < 0 && h.slope(at+step) > 0 {
		at = root(h.slope, at-step, at+step, 1e-12)
	}
	return from + wrap(at-from, 360*turns)
}

// nearReading reports that a reading was taken within half the usual step of the place, in the same phase of both
// sprockets.
func (s tightSpot) nearReading(angle []float64) bool {
	near := math.Max(15, widestGap(angle, 360)/2+1e-9)
	for _, a := range angle {
		if math.Abs(signed(a-s.at, 360*s.turns)) <= near {
			return true
		}
	}
	return false
}
