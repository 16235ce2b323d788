package devices

import (
	"fmt"
	"slices"
	"strings"
)

// teachBits looks for described bit fields: a number in one of the known codings at one of all places, then bits that
// follow sign and unit, then a check sum, then what never changes. A frame is what one press brought.
func teachBits(base Profile, presses []Press) ([]candidate, string) {
	base.Family, base.Role = FamilyBits, ""
	base.Line.DataBits = 8
	frames, why := taughtFrames(presses)
	if why != "" {
		return nil, why
	}
	var found []candidate
	why = "no field of bits follows the display"
	for _, order := range []string{"high", "low"} {
		c := &bitsCodec{b: Bits{Length: len(frames[0]), Order: order, Scale: "1"}}
		for _, n := range numbers(c, frames, presses) {
			c.b.Number = n
			got, w := fields(base, *c, frames, presses)
			if w != "" {
				why = w
				continue
			}
			found = append(found, got)
		}
	}
	// More bits in the number leave fewer unexplained: the widest first, then what reads the plainest.
	slices.SortStableFunc(found, func(a, b candidate) int { return width(b.profile.Bits) - width(a.profile.Bits) })
	kept, w := keep(found, presses)
	if len(kept) == 0 {
		if len(found) > 0 {
			why = w
		}
		return nil, why
	}
	return kept, ""
}

func width(b *Bits) int {
	w := b.Number.Count
	switch b.Number.Coding {
	case "bcd":
		w *= 4
	case "digit", "ascii":
		w *= 8
	case "binary", "twos": // a few bits match by chance sooner than digits do
		w -= 8
	}
	if b.Check != nil {
		w += 8
	}
	return w
}

// taughtFrames checks that every press brought one frame of the same length; the same frame several times over counts
// as one.
func taughtFrames(presses []Press) ([][]byte, string) {
	n := len(presses[0].Bytes)
	for _, p := range presses {
		if len(p.Bytes) < n {
			n = len(p.Bytes)
		}
	}
	if n > maxBitsFrame {
		return nil, fmt.Sprintf("%d bytes a press, more than the %d of a frame", n, maxBitsFrame)
	}
	var frames [][]byte
	for i, p := range presses {
		if len(p.Bytes) != n {
			return nil, fmt.Sprintf("press %d brought %d bytes, another %d", i+1, len(p.Bytes), n)
		}
		frames = append(frames, p.Bytes)
	}
	return frames, ""
}

// numbers tries every coding at every place and gives the widest of each that reads all displays right.
func numbers(c *bitsCodec, frames [][]byte, presses []Press) []Digits {
	bits := 8 * len(frames[0])
	var out []Digits
	reads := func(d Digits) bool {
		c.b.Number = d
		for i, f := range frames {
			want, ok := shownDigits(presses[i].Shown)
			if !ok {
				return false
			}
			if d.Coding != "twos" {
				want = max(want, -want)
			}
			if got, why := c.number(f); why != "" || got != want {
				return false
			}
		}
		return true
	}
	// A number that lies within a wider one of the same coding and order is the same number without its leading zeros.
	add := func(d Digits, width int) {
		for _, o := range out {
			if o.Coding == d.Coding && o.First == d.First && o.At <= d.At && d.At+d.Count*width <= o.At+o.Count*width {
				return
			}
		}
		out = append(out, d)
	}
	for _, first := range []string{"high", "low"} {
		for _, k := range []struct {
			coding     string
			width, max int
		}{{"ascii", 8, 10}, {"digit", 8, 10}, {"bcd", 4, 10}} {
			for count := k.max; count > 0; count-- {
				for at := 0; at+count*k.width <= bits; at++ {
					if d := (Digits{at, count, k.coding, first}); reads(d) {
						add(d, k.width)
					}
				}
			}
		}
		for _, coding := range []string{"twos", "binary"} {
			for count := min(bits, 32); count > 3; count-- {
				if count%8 != 0 && first != c.b.Order {
					continue
				}
				for at := 0; at+count <= bits; at++ {
					if d := (Digits{at, count, coding, first}); reads(d) {
						add(d, 1)
					}
				}
			}
		}
	}
	return out
}

// fields finds what the bits outside the number mean.
func fields(base Profile, c bitsCodec, frames [][]byte, presses []Press) (candidate, string) {
	b := c.b
	var notes []string
	var twins []int // bits that follow sign or unit beside the one that is taken
	free := make([]bool, 8*b.Length)
	for i := range free {
		free[i] = true
	}
	for _, s := range c.spans() {
		for i := s.at; i < s.at+s.bits; i++ {
			free[i] = false
		}
	}
	take := func(bit int) { free[bit] = false }
	bit := func(f []byte, i int) bool { return c.get(f, i, 1) == 1 }

	if b.Number.Coding != "twos" {
		if !anyNegative(presses) {
			notes = append(notes, "no value below zero was shown: every reading is taken for positive")
		} else {
			at, on, others := follows(free, frames, presses, bit, func(p Press) (bool, bool) { return p.Shown.N < 0, p.Shown.N != 0 })
			if at < 0 {
				return candidate{}, "no bit follows the sign"
			}
			b.Sign = &Field{At: at, Bits: 1, Values: map[uint64]string{one(!on): "+", one(on): "-"}}
			take(at)
			if len(others) > 0 {
				twins = append(twins, others...)
				notes = append(notes, fmt.Sprintf("the bits %v change with the sign as well as bit %d, which is taken for it", others, at))
			}
		}
	}
	others, why := c.learnUnit(&b, free, frames, presses, bit)
	if why != "" {
		return candidate{}, why
	}
	twins = append(twins, others...)
	switch {
	case b.Unit == nil:
		notes = append(notes, "one unit was shown only: "+b.DefaultUnit+" is taken for every reading")
	case len(others) > 0:
		notes = append(notes, fmt.Sprintf("the bits %v change with the unit as well as bit %d, which is taken for it", others, b.Unit.At))
	}
	b.Check = c.learnCheck(b, free, frames)
	if b.Check != nil {
		for i := b.Check.At; i < b.Check.At+checkBits[b.Check.Kind]; i++ {
			take(i)
		}
	}
	changing := slices.DeleteFunc(c.learnFixed(&b, free, frames, bit), func(i int) bool { return slices.Contains(twins, i) })
	if len(changing) > 0 {
		notes = append(notes, fmt.Sprintf("the bits %v change and are not understood: they are let pass", changing))
	}
	if len(b.Fixed) > 0 {
		notes = append(notes, "bits that were the same in every press are held fixed: a frame in which they change, as with a low battery, is refused")
	}
	p := base
	p.Bits = &b
	if probe := (&bitsCodec{b: b}); !probe.shiftSafe() {
		p.Bits.Gap = true
		notes = append(notes, "nothing in a frame shows where it begins: frames are told apart by the silence after each press")
	}
	if shown, room := largest(presses), roomFor(b); room > shown {
		notes = append(notes, fmt.Sprintf("figures before the %d that were shown were always 0: prove it with the largest value the gauge can show", shown))
	}
	return candidate{p, notes}, ""
}

func one(on bool) uint64 {
	if on {
		return 1
	}
	return 0
}

// follows finds the free bits that are set exactly where a press has a property, or exactly where it has not. The
// property may be open for a press. at is -1 for none.
func follows(free []bool, frames [][]byte, presses []Press, bit func([]byte, int) bool, has func(Press) (property, known bool)) (at int, on bool, others []int) {
	at = -1
	for i := range free {
		if !free[i] {
			continue
		}
		same, turned := true, true
		for k, f := range frames {
			property, known := has(presses[k])
			if known {
				same = same && bit(f, i) == property
				turned = turned && bit(f, i) != property
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

// learnUnit finds the bit that follows the unit, and with it the decimal places.
func (c *bitsCodec) learnUnit(b *Bits, free []bool, frames [][]byte, presses []Press, bit func([]byte, int) bool) (others []int, why string) {
	units := unitsOf(presses)
	places := map[string]int{}
	for _, p := range presses {
		if old, seen := places[p.Shown.Unit.Code]; seen && old != p.Shown.Places {
			return nil, fmt.Sprintf("the display showed %s with %d and with %d places", p.Shown.Unit.Code, old, p.Shown.Places)
		}
		places[p.Shown.Unit.Code] = p.Shown.Places
	}
	switch len(units) {
	case 1:
		b.DefaultUnit, b.Decimals = units[0], places[units[0]]
		return nil, ""
	case 2:
	default:
		return nil, "more than two units"
	}
	second := units[1]
	at, on, others := follows(free, frames, presses, bit, func(p Press) (bool, bool) { return p.Shown.Unit.Code == second, true })
	if at < 0 {
		return nil, "no bit follows the unit; teach the gauge in one unit and keep it in it"
	}
	free[at] = false
	values := func(of func(code string) string) map[uint64]string {
		return map[uint64]string{one(!on): of(units[0]), one(on): of(second)}
	}
	b.Unit = &Field{At: at, Bits: 1, Values: values(func(code string) string { return code })}
	if places[units[0]] != places[second] {
		b.Places = &Field{At: at, Bits: 1, Values: values(func(code string) string { return fmt.Sprint(places[code]) })}
	} else {
		b.Decimals = places[second]
	}
	return others, ""
}

// learnCheck looks for a check sum among the free bits: one that changes and fits every frame. The longest sum over the
// most bytes wins.
func (c *bitsCodec) learnCheck(b Bits, free []bool, frames [][]byte) *Check {
	for _, kind := range []string{"crc16", "crc8", "sum8", "xor8", "sum4"} {
		n := checkBits[kind]
		step := min(n, 8)
		for at := 8*b.Length - n; at >= 0; at -= step {
			if slices.Contains(free[at:at+n], false) {
				continue
			}
			for from := 0; from < b.Length; from++ {
				for to := b.Length; to > from; to-- {
					k := Check{Kind: kind, At: at, From: from, To: to}
					if at < 8*to && at+n > 8*from {
						continue
					}
					probe := bitsCodec{b: b}
					probe.b.Check = &k
					fits, varies := true, false
					for _, f := range frames {
						fits = fits && probe.checkRead(f) == probe.checkSum(f)
						varies = varies || probe.checkRead(f) != probe.checkRead(frames[0])
					}
					if fits && varies {
						return &k
					}
				}
			}
		}
	}
	return nil
}

// learnFixed holds fixed what never changed, in runs of at most 32 bits, and gives the bits that did.
func (c *bitsCodec) learnFixed(b *Bits, free []bool, frames [][]byte, bit func([]byte, int) bool) (changing []int) {
	start := -1
	end := func(i int) {
		if start >= 0 {
			b.Fixed = append(b.Fixed, Fixed{At: start, Bits: i - start, Value: c.get(frames[0], start, i-start)})
		}
		start = -1
	}
	for i := range free {
		constant := free[i]
		for _, f := range frames {
			constant = constant && bit(f, i) == bit(frames[0], i)
		}
		switch {
		case !constant:
			end(i)
			if free[i] {
				changing = append(changing, i)
			}
		case start < 0:
			start = i
		case i-start == 32:
			end(i)
			start = i
		}
	}
	end(len(free))
	return changing
}

// largest is the most figures a display showed, roomFor the most a number field holds.
func largest(presses []Press) int {
	most := 0
	for _, p := range presses {
		d, _ := shownDigits(p.Shown)
		most = max(most, len(strings.TrimPrefix(fmt.Sprint(d), "-")))
	}
	return most
}

func roomFor(b Bits) int {
	if b.Number.Coding == "binary" || b.Number.Coding == "twos" {
		return len(fmt.Sprint(uint64(1)<<b.Number.Count - 1))
	}
	return b.Number.Count
}
