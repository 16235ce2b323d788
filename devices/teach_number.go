package devices

import (
	"fmt"
	"strings"
)

// numbers tries every coding at every place and gives the widest of each that reads all displays right. Only the first
// so many bits of a frame came from the gauge.
func numbers(c *bitsCodec, frames []taughtFrame, bits int) []Digits {
	var out []Digits
	// A number that lies within a wider one of the same coding and order is the same number without its leading zeros.
	try := func(d Digits, width int) {
		for _, o := range out {
			if o.Coding == d.Coding && o.First == d.First && o.At <= d.At && d.At+d.Count*width <= o.At+o.Count*width {
				return
			}
		}
		if readsAll(c, d, frames) {
			out = append(out, d)
		}
	}
	for _, first := range []string{"high", "low"} {
		for _, k := range []struct {
			coding string
			width  int
		}{{"ascii", 8}, {"digit", 8}, {"bcd", 4}} {
			for count := 10; count > 0; count-- {
				for at := 0; at+count*k.width <= bits; at++ {
					try(Digits{at, count, k.coding, first}, k.width)
				}
			}
		}
		for _, coding := range []string{"twos", "binary"} {
			binaryNumbers(c, coding, first, bits, try)
		}
	}
	return out
}

// binaryNumbers tries every width of a binary number, the widest first.
func binaryNumbers(c *bitsCodec, coding, first string, bits int, try func(d Digits, width int)) {
	for count := min(bits, 32); count > 3; count-- {
		if count%8 != 0 && first != c.b.Order {
			continue // no whole bytes that could be turned round
		}
		for at := 0; at+count <= bits; at++ {
			try(Digits{at, count, coding, first}, 1)
		}
	}
}

// readsAll reports whether a number reads what every display showed, but for its sign where the coding has none.
func readsAll(c *bitsCodec, d Digits, frames []taughtFrame) bool {
	c.b.Number = d
	for _, f := range frames {
		want, ok := shownDigits(f.shown.Shown)
		if !ok {
			return false
		}
		if d.Coding != "twos" {
			want = max(want, -want)
		}
		if got, why := c.number(f.bytes); why != "" || got != want {
			return false
		}
	}
	return true
}

// largest is the most figures a display showed, roomFor the most a number field holds.
func largest(frames []taughtFrame) int {
	most := 0
	for _, f := range frames {
		d, _ := shownDigits(f.shown.Shown)
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
