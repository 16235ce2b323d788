package devices

import (
	"fmt"
	"maps"
	"slices"
)

// rawPresses is how many presses raw bits want: a frame of few bits is explained by many layouts.
const rawPresses = 5

// bridged reports whether every press brought raw bits of a bridge. Then nothing else is looked for: figures that happen
// to follow the display can be found in any hexadecimal text.
func bridged(presses []Press) bool {
	for _, p := range presses {
		if len(rawLines(p.Bytes)) == 0 {
			return false
		}
	}
	return len(presses) > 0
}

// teachBench learns the raw bits of the channel of a bridge that follows the display. Channels that base describes already
// are kept.
func teachBench(base Profile, presses []Press, _ bool) ([]candidate, string) {
	if !bridged(presses) {
		return nil, "no raw bits of a bridge came with every press"
	}
	if len(presses) < rawPresses {
		return nil, fmt.Sprintf("%d presses: raw bits want %d different values, one of them below zero and one as large as the gauge can show", len(presses), rawPresses)
	}
	names := map[string]bool{}
	for _, l := range rawLines(presses[0].Bytes) {
		names[l.channel] = true
	}
	base.Family, base.Role, base.Resolution = FamilyBench, "", Profile{}.Resolution
	why := "no channel has a field of bits that follows the display"
	var found []candidate
	for _, name := range slices.Sorted(maps.Keys(names)) {
		frames, count, w := rawFrames(presses, name)
		if w != "" {
			why = w
			continue
		}
		layouts, w := fieldLayouts(frames, count, turned)
		if len(layouts) == 0 {
			why = fmt.Sprintf("channel %q: %s", name, w)
		}
		for _, l := range layouts {
			found = append(found, candidate{withFrame(base, name, count, l.bits), name, otherChannels(l.notes, names, name)})
		}
	}
	kept, w := keep(found, presses, false)
	if len(kept) == 0 && len(found) > 0 {
		why = w
	}
	return kept, why
}

// withFrame adds a channel's layout to what a profile knows.
func withFrame(p Profile, channel string, count int, b Bits) Profile {
	b.Length, b.Gap = 0, false
	known := Bench{Checked: true}
	if p.Bench != nil {
		known = *p.Bench
	}
	known.Bits = maps.Clone(known.Bits)
	if known.Bits == nil {
		known.Bits = map[string]BitFrame{}
	}
	known.Bits[channel] = BitFrame{count, b}
	p.Bench = &known
	return p
}

func otherChannels(notes []string, names map[string]bool, taught string) []string {
	notes = slices.Clone(notes)
	for _, other := range slices.Sorted(maps.Keys(names)) {
		if other != taught {
			notes = append(notes, fmt.Sprintf("the bridge has the channel %q too: teach it with --keep and this profile", other))
		}
	}
	return notes
}

// rawFrames gives the frame that each press brought on a channel.
func rawFrames(presses []Press, channel string) (frames []taughtFrame, count int, why string) {
	for i, p := range presses {
		f, ok := agreed(p, channel)
		switch {
		case !ok:
			return nil, 0, fmt.Sprintf("channel %q: press %d brought no two frames that agree", channel, i+1)
		case i > 0 && f.count != count:
			return nil, 0, fmt.Sprintf("channel %q: press %d brought %d bits, another %d", channel, i+1, f.count, count)
		}
		count = f.count
		frames = append(frames, taughtFrame{slices.Clone(f.bits[:(count+7)/8]), p})
	}
	return frames, count, ""
}

// agreed gives the frame of a channel that came twice in a row, the last one of them; or the only frame, of a gauge that
// speaks on its key.
func agreed(p Press, channel string) (frame rawFrame, ok bool) {
	var list []rawFrame
	for _, l := range rawLines(p.Bytes) {
		if l.channel == channel && !l.frame.fault {
			list = append(list, l.frame)
		}
	}
	for i := len(list) - 1; i > 0; i-- {
		if list[i] == list[i-1] {
			return list[i], true
		}
	}
	if len(list) == 1 {
		return list[0], true
	}
	return frame, false
}

// agreedLines is what a press says on a channel, twice: a layout is tried on it.
func agreedLines(p Press, channel string) []byte {
	f, ok := agreed(p, channel)
	if !ok {
		return nil
	}
	line := fmt.Sprintf(":%s bits %d %s", channel, f.count, fmt.Sprintf("%X", f.bits)[:(f.count+3)/4])
	line = fmt.Sprintf("%s *%02X\n", line, crc8([]byte(line)))
	return []byte(line + line)
}
