package devices

import (
	"fmt"
	"slices"
)

// fieldFinder finds what the bits outside the number mean.
type fieldFinder struct {
	*bitsCodec
	frames []taughtFrame
	free   []bool // bits that mean nothing yet
	twins  []int  // bits that follow sign or unit beside the one that is taken
	notes  []string
}

// fields finds sign, unit, check sum and fixed bits. Only the first so many bits came from the gauge.
func fields(c bitsCodec, frames []taughtFrame, bits int) (bitsLayout, string) {
	f := &fieldFinder{bitsCodec: &c, frames: frames, free: make([]bool, 8*c.b.Length)}
	for i := range bits {
		f.free[i] = true
	}
	for _, s := range c.spans() {
		f.take(s.at, s.bits)
	}
	if why := f.learnSign(); why != "" {
		return bitsLayout{}, why
	}
	if why := f.learnUnit(); why != "" {
		return bitsLayout{}, why
	}
	f.learnCheck()
	f.learnFixed()
	if shown, room := largest(frames), roomFor(c.b); room > shown {
		f.note("figures before the %d that were shown were always 0: prove it with the largest value the gauge can show", shown)
	}
	return bitsLayout{c.b, f.notes}, ""
}

func (f *fieldFinder) note(format string, args ...any) {
	f.notes = append(f.notes, fmt.Sprintf(format, args...))
}

func (f *fieldFinder) take(at, n int) {
	for i := at; i < at+n; i++ {
		f.free[i] = false
	}
}

func (f *fieldFinder) bit(frame taughtFrame, i int) bool { return f.get(frame.bytes, i, 1) == 1 }

func one(on bool) uint64 {
	if on {
		return 1
	}
	return 0
}

// follows finds the free bits that are set exactly where a press has a property, or exactly where it has not. The
// property may be open for a press. at is -1 for none.
func (f *fieldFinder) follows(has func(Press) (property, known bool)) (at int, on bool, others []int) {
	at = -1
	for i := range f.free {
		if !f.free[i] {
			continue
		}
		same, turned := true, true
		for _, frame := range f.frames {
			if property, known := has(frame.shown); known {
				same = same && f.bit(frame, i) == property
				turned = turned && f.bit(frame, i) != property
			}
		}
		if !same && !turned {
			continue
		}
		if at < 0 {
			at, on = i, same
		} else {
			others = append(others, i)
		}
	}
	return at, on, others
}

// learnSign finds the bit that follows the sign; a number in two's complement has none.
func (f *fieldFinder) learnSign() (why string) {
	b := &f.b
	if b.Number.Coding == "twos" {
		return ""
	}
	if !slices.ContainsFunc(f.frames, func(x taughtFrame) bool { return x.shown.Shown.N < 0 }) {
		f.note("no value below zero was shown: every reading is taken for positive")
		return ""
	}
	at, on, others := f.follows(func(p Press) (bool, bool) { return p.Shown.N < 0, p.Shown.N != 0 })
	if at < 0 {
		return "no bit follows the sign"
	}
	b.Sign = &Field{At: at, Bits: 1, Values: map[uint64]string{one(!on): "+", one(on): "-"}}
	f.take(at, 1)
	if len(others) > 0 {
		f.twins = append(f.twins, others...)
		f.note("the bits %v change with the sign as well as bit %d, which is taken for it", others, at)
	}
	return ""
}

// learnUnit finds the bit that follows the unit, and with it the decimal places.
func (f *fieldFinder) learnUnit() (why string) {
	b := &f.b
	var units []string
	places := map[string]int{}
	for _, frame := range f.frames {
		v := frame.shown.Shown
		if old, seen := places[v.Unit.Code]; !seen {
			units = append(units, v.Unit.Code)
		} else if old != v.Places {
			return fmt.Sprintf("the display showed %s with %d and with %d places", v.Unit.Code, old, v.Places)
		}
		places[v.Unit.Code] = v.Places
	}
	switch len(units) {
	case 1:
		b.DefaultUnit, b.Decimals = units[0], places[units[0]]
		f.note("one unit was shown only: %s is taken for every reading", b.DefaultUnit)
		return ""
	case 2:
	default:
		return "more than two units"
	}
	second := units[1]
	at, on, others := f.follows(func(p Press) (bool, bool) { return p.Shown.Unit.Code == second, true })
	if at < 0 {
		return "no bit follows the unit; teach the gauge in one unit and keep it in it"
	}
	f.take(at, 1)
	f.twins = append(f.twins, others...)
	values := func(of func(code string) string) map[uint64]string {
		return map[uint64]string{one(!on): of(units[0]), one(on): of(second)}
	}
	b.Unit = &Field{At: at, Bits: 1, Values: values(func(code string) string { return code })}
	if places[units[0]] != places[second] {
		b.Places = &Field{At: at, Bits: 1, Values: values(func(code string) string { return fmt.Sprint(places[code]) })}
	} else {
		b.Decimals = places[second]
	}
	if len(others) > 0 {
		f.note("the bits %v change with the unit as well as bit %d, which is taken for it", others, b.Unit.At)
	}
	return ""
}

// learnCheck looks for a check sum among the free bits: one that changes and fits every frame. The longest sum over the
// most bytes wins.
func (f *fieldFinder) learnCheck() {
	for _, kind := range []string{"crc16", "crc8", "sum8", "xor8", "sum4"} {
		n := checkBits[kind]
		for at := 8*f.b.Length - n; at >= 0; at -= min(n, 8) {
			if slices.Contains(f.free[at:at+n], false) {
				continue
			}
			if k := f.checkAt(kind, at, n); k != nil {
				f.b.Check = k
				f.take(at, n)
				return
			}
		}
	}
}

// checkAt tries a check sum over all runs of whole bytes that it is not part of.
func (f *fieldFinder) checkAt(kind string, at, n int) *Check {
	for from := 0; from < f.b.Length; from++ {
		for to := f.b.Length; to > from; to-- {
			k := Check{Kind: kind, At: at, From: from, To: to}
			if (at >= 8*to || at+n <= 8*from) && f.sumFits(k) {
				return &k
			}
		}
	}
	return nil
}

// sumFits reports whether a check sum fits every frame, and changes: one that never does proves nothing.
func (f *fieldFinder) sumFits(k Check) bool {
	probe := bitsCodec{b: f.b}
	probe.b.Check = &k
	varies := false
	for _, frame := range f.frames {
		if probe.checkRead(frame.bytes) != probe.checkSum(frame.bytes) {
			return false
		}
		varies = varies || probe.checkRead(frame.bytes) != probe.checkRead(f.frames[0].bytes)
	}
	return varies
}

// learnFixed holds fixed what never changed, in runs of at most 32 bits, and tells of the bits that did.
func (f *fieldFinder) learnFixed() {
	start := -1
	end := func(i int) {
		if start >= 0 {
			f.b.Fixed = append(f.b.Fixed, Fixed{At: start, Bits: i - start, Value: f.get(f.frames[0].bytes, start, i-start)})
		}
		start = -1
	}
	var changing []int
	for i := range f.free {
		constant := f.free[i] && !slices.ContainsFunc(f.frames, func(x taughtFrame) bool { return f.bit(x, i) != f.bit(f.frames[0], i) })
		switch {
		case !constant:
			end(i)
			if f.free[i] && !slices.Contains(f.twins, i) {
				changing = append(changing, i)
			}
		case start < 0:
			start = i
		case i-start == 32:
			end(i)
			start = i
		}
	}
	end(len(f.free))
	if len(changing) > 0 {
		f.note("the bits %v change and are not understood: they are let pass", changing)
	}
	if len(f.b.Fixed) > 0 {
		f.note("bits that were the same in every press are held fixed: a frame in which they change, as with a low battery, is refused")
	}
}
