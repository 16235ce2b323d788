package devices

import (
	"fmt"
	"slices"
)

// teachBits looks for described bit fields: a number in one of the known codings at one of all places, then bits that
// follow sign and unit, then a check sum, then what never changes. A frame is what one press brought, or what a gauge
// that streams sends between two pauses.
func teachBits(base Profile, presses []Press, streams bool) ([]candidate, string) {
	base.Family, base.Role, base.Bench = FamilyBits, "", nil
	base.Line.DataBits = 8
	frames, why := taughtFrames(presses, streams)
	if why != "" {
		return nil, why
	}
	layouts, why := fieldLayouts(frames, 8*len(frames[0].bytes), asTheyCame)
	var found []candidate
	for _, l := range layouts {
		p, b, notes := base, l.bits, l.notes
		if probe := (&bitsCodec{b: b}); !probe.shiftSafe() {
			if streams {
				why = "nothing in a frame shows where it begins, and the gauge sends without a long pause: its profile must be written by hand"
				continue
			}
			b.Gap = true
			notes = append(notes, "nothing in a frame shows where it begins: frames are told apart by the silence after each press")
		}
		p.Bits = &b
		found = append(found, candidate{profile: p, notes: notes})
	}
	kept, w := keep(found, presses, streams)
	if len(kept) == 0 && len(found) > 0 {
		why = w
	}
	return kept, why
}

// taughtFrame is one frame and what the display showed to it.
type taughtFrame struct {
	bytes []byte
	shown Press
}

// taughtFrames checks that every press brought one frame of the same length; the same frame several times over counts
// as one.
func taughtFrames(presses []Press, streams bool) ([]taughtFrame, string) {
	var frames []taughtFrame
	for i, p := range presses {
		list := []string{string(p.Bytes)}
		if streams {
			list = slices.Compact(pausedParts(p, 0xFF))
		}
		if len(list) == 0 {
			return nil, fmt.Sprintf("press %d brought no whole frame between two pauses", i+1)
		}
		for _, one := range list {
			if n := len(one); n > maxBitsFrame {
				return nil, fmt.Sprintf("%d bytes a press, more than the %d of a frame", n, maxBitsFrame)
			}
			if len(frames) > 0 && len(one) != len(frames[0].bytes) {
				return nil, fmt.Sprintf("press %d brought %d bytes, another %d", i+1, len(one), len(frames[0].bytes))
			}
			frames = append(frames, taughtFrame{[]byte(one), p})
		}
	}
	return frames, ""
}

// bitsLayout is one description of the bits, with what the frames could not show of it.
type bitsLayout struct {
	bits  Bits
	notes []string
}

// asTheyCame packs frames of bytes: an order says how they are read, not where their bits lie.
func asTheyCame(frame []byte, _ string) []byte { return frame }

// fieldLayouts tries every number that follows the display, in either order of the bits. bits is how many of the frames'
// bits came from the gauge; pack puts a frame's bits where an order has them. The likeliest come first.
func fieldLayouts(came []taughtFrame, bits int, pack func(frame []byte, order string) []byte) (found []bitsLayout, why string) {
	why = "no field of bits follows the display"
	for _, order := range []string{"high", "low"} {
		var frames []taughtFrame
		for _, f := range came {
			frames = append(frames, taughtFrame{pack(slices.Clone(f.bytes), order), f.shown})
		}
		c := &bitsCodec{b: Bits{Length: len(frames[0].bytes), Order: order, Scale: "1"}}
		for _, n := range numbers(c, frames, bits) {
			c.b.Number = n
			got, w := fields(*c, frames, bits)
			if w != "" {
				why = w
				continue
			}
			found = append(found, got)
		}
	}
	// More bits in the number leave fewer unexplained: the widest first, then what reads the plainest.
	slices.SortStableFunc(found, func(a, b bitsLayout) int { return width(&b.bits) - width(&a.bits) })
	return found, why
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
