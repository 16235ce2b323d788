package devices

import (
	"bytes"
	"fmt"
	"math/bits"
	"slices"
	"strings"
)

// taughtLine is a line that came while the display showed a press's value.
type taughtLine struct {
	press int
	text  string
}

// ends are the terminators that are looked for, the longer ones first.
func ends() []string { return []string{"\r\n", "\n\r", "\r", "\n", "\x03"} }

// taughtLines takes what came apart into lines: each press has at least one, and none twice. It takes the parity off
// 7-bit characters, and finds how a line ends.
func taughtLines(base *Profile, presses []Press, streams bool) (lines []taughtLine, t Text, why string) {
	t.Places = -1
	mask, why := taughtMask(base, presses)
	if why != "" {
		return nil, t, why
	}
	var texts []string
	for _, p := range presses {
		texts = append(texts, masked(p.Bytes, mask))
	}
	t.End = commonEnd(texts, streams)
	t.Gap = t.End == "" && !streams
	for i, text := range texts {
		switch {
		case t.End != "" && streams:
			text = string(betweenEnds([]byte(text), t.End))
		case streams:
			text = masked(betweenPauses(presses[i]), mask)
		}
		list := []string{text}
		if t.End != "" {
			list = strings.Split(strings.TrimSuffix(text, t.End), t.End)
		} else if streams {
			list = pausedParts(presses[i], mask)
		}
		for _, one := range list {
			if c := unprintable(one); c != "" {
				return nil, t, fmt.Sprintf("press %d has the byte %s, no printable character", i+1, c)
			}
			if l := (taughtLine{i, one}); one != "" && !slices.Contains(lines, l) {
				lines = append(lines, l)
			}
		}
		if len(lines) == 0 || lines[len(lines)-1].press != i {
			return nil, t, fmt.Sprintf("press %d brought no whole line", i+1)
		}
	}
	return lines, t, ""
}

// taughtMask finds what of a byte counts. Bytes over 0x7F are 7-bit characters with their parity, or no text.
func taughtMask(base *Profile, presses []Press) (mask byte, why string) {
	var all []byte
	for _, p := range presses {
		all = append(all, p.Bytes...)
	}
	switch {
	case high(all):
		parity := commonParity(all)
		if parity == "" {
			return 0, "there are bytes over 0x7F whose eighth bit is no parity"
		}
		base.Line.DataBits, base.Line.Parity = 7, parity
		return 0x7F, ""
	case base.Line.DataBits == 7:
		return 0x7F, ""
	}
	return 0xFF, ""
}

func masked(b []byte, mask byte) string {
	out := append([]byte(nil), b...)
	for i := range out {
		out[i] &= mask
	}
	return string(out)
}

func unprintable(s string) string {
	for _, c := range []byte(s) {
		if c < ' ' && c != '\t' || c > '~' {
			return fmt.Sprintf("0x%02x", c)
		}
	}
	return ""
}

func high(b []byte) bool {
	for _, c := range b {
		if c > 0x7F {
			return true
		}
	}
	return false
}

func commonParity(b []byte) string {
	odd := bits.OnesCount8(b[0])%2 == 1
	for _, c := range b {
		if bits.OnesCount8(c)%2 == 1 != odd {
			return ""
		}
	}
	if odd {
		return "odd"
	}
	return "even"
}

// commonEnd is the terminator of all lines: of a press's last line, or of at least two lines of a gauge that streams.
func commonEnd(texts []string, streams bool) string {
	for _, end := range ends() {
		if streams && !slices.ContainsFunc(texts, func(s string) bool { return strings.Count(s, end) < 2 }) {
			return end
		}
		if !streams && allEnd(texts, end) {
			return end
		}
	}
	return ""
}

func allEnd(texts []string, end string) bool {
	for _, s := range texts {
		if !strings.HasSuffix(s, end) || len(s) == len(end) {
			return false
		}
	}
	return true
}

// A gauge that streams is heard from anywhere to anywhere: what came before the first end of a frame, and after the last
// one, is half a frame.

// betweenEnds cuts to whole lines with their terminators.
func betweenEnds(b []byte, end string) []byte {
	from, to := bytes.Index(b, []byte(end)), bytes.LastIndex(b, []byte(end))
	if from < 0 || from == to {
		return nil
	}
	return b[from+len(end) : to+len(end)]
}

// betweenPauses cuts to whole frames where the pauses between them show.
func betweenPauses(p Press) []byte {
	if len(p.Pauses) < 2 {
		return nil
	}
	return p.Bytes[p.Pauses[0]:p.Pauses[len(p.Pauses)-1]]
}

// pausedParts gives the whole frames between the pauses.
func pausedParts(p Press, mask byte) []string {
	var list []string
	for i := 1; i < len(p.Pauses); i++ {
		list = append(list, masked(p.Bytes[p.Pauses[i-1]:p.Pauses[i]], mask))
	}
	return list
}

// whole is what of a press holds whole frames of a layout.
func whole(c candidate, press Press, streams bool) []byte {
	switch p := c.profile; {
	case p.Bench != nil:
		return agreedLines(press, c.channel)
	case !streams:
		return press.Bytes
	case p.Text != nil && p.Text.End != "":
		clean := []byte(masked(press.Bytes, p.Line.mask()))
		from := bytes.Index(clean, []byte(p.Text.End))
		cut := betweenEnds(clean, p.Text.End)
		if cut == nil {
			return nil
		}
		from += len(p.Text.End)
		return press.Bytes[from : from+len(cut)]
	}
	return betweenPauses(press)
}
