package devices

import (
	"bytes"
	"fmt"
	"slices"
	"sort"
)

// Heard is what came over a port at one line setting.
type Heard struct {
	Line   Line
	Bytes  []byte
	Pauses []int  // after how many bytes the line fell silent, rising; the end is always a pause
	Asked  []byte // the request that was sent before, nil where it was only listened
}

// Guess is a profile that may fit what was heard.
type Guess struct {
	Profile Profile  // with the line settings at which it was heard
	Good    int      // frames that fit
	Bad     int      // frames refused
	Covered float64  // the share of the bytes that lie in good frames
	Score   float64  // for ranking only: higher fits better
	Samples []Sample // what was read, at most maxGuessed; they are copies
	// Longest is how many bytes a frame of this gauge may have: the longest that was heard, and room for two figures and a
	// sign more. What is longer is two frames that ran together. 0 where the profile bounds its frames itself.
	Longest int
	Why     []string // for people, the weightiest first
}

// maxGuessed is how many samples a guess shows.
const maxGuessed = 8

// Rank tries every profile on everything heard and gives those that read at least one frame, the best first. A profile
// that asks with its own request counts fully only where that was sent. No guess is made from silence: with nothing
// heard the list is empty.
func Rank(heard []Heard, profiles []Profile) []Guess {
	var list []Guess
	for _, p := range profiles {
		var best Guess
		for _, h := range heard {
			if g, ok := try(p, h); ok && (best.Good == 0 || g.Score > best.Score) {
				best = g
			}
		}
		if best.Good > 0 {
			list = append(list, best)
		}
	}
	sort.SliceStable(list, func(i, j int) bool {
		if list[i].Score != list[j].Score {
			return list[i].Score > list[j].Score
		}
		return list[i].Profile.Name < list[j].Profile.Name
	})
	return list
}

// try runs what was heard at one setting through a profile's decoder.
func try(p Profile, h Heard) (Guess, bool) {
	own := p.Line
	// 7 bits with parity heard through a port of 8 bits: the profile's own line says how to take them.
	if !(own.DataBits == 7 && h.Line.DataBits == 8) {
		p.Line.DataBits, p.Line.Parity, p.Line.StopBits = h.Line.DataBits, h.Line.Parity, h.Line.StopBits
	}
	p.Line.Baud = h.Line.Baud
	d, err := p.NewDecoder()
	if err != nil || len(h.Bytes) == 0 {
		return Guess{}, false
	}
	g := Guess{Profile: p}
	units, counted := false, false
	covered := 0
	var bound frameBound
	emit := func(s Sample, err error) {
		if err != nil {
			g.Bad++
			return
		}
		g.Good++
		units = units || s.Value.Valid()
		if !counted { // several samples of one frame count once
			covered += len(s.Frame)
			counted = true
			bound.heard(s.Frame)
		}
		bound.readings++
		if len(g.Samples) < maxGuessed {
			s.Frame, s.Text = append([]byte(nil), s.Frame...), append([]byte(nil), s.Text...)
			g.Samples = append(g.Samples, s)
		}
	}
	from := 0
	for _, to := range append(append([]int(nil), h.Pauses...), len(h.Bytes)) {
		if to < from || to > len(h.Bytes) {
			continue
		}
		for i := from; i < to; i++ {
			counted = false
			d.Feed(h.Bytes[i:i+1], emit)
		}
		counted = false
		d.Idle(emit)
		from = to
	}
	if g.Good == 0 {
		return g, false
	}
	g.Longest = bound.longest(p)
	g.Covered = min(float64(covered)/float64(len(h.Bytes)), 1)
	g.weigh(p, own, h, units)
	return g, true
}

// frameBound is what was heard of the length of a gauge's frames.
type frameBound struct {
	most             int // bytes of the longest
	frames, readings int
	signed           bool
}

func (b *frameBound) heard(frame []byte) {
	b.most = max(b.most, len(frame))
	b.frames++
	b.signed = b.signed || bytes.ContainsAny(frame, "+-")
}

// moreFigures is how many figures more than were heard a value may have: 0.000 becomes 123.456.
const moreFigures = 2

func (b frameBound) longest(p Profile) int {
	if p.Text == nil || p.Text.Length > 0 || b.frames == 0 {
		return 0
	}
	more := moreFigures
	if !b.signed {
		more++
	}
	return b.most + more*max(b.readings/b.frames, 1)
}

// weigh gives the score and says why.
func (g *Guess) weigh(p Profile, own Line, h Heard, values bool) {
	g.Score = 100 * g.Covered * float64(g.Good) / float64(g.Good+g.Bad)
	say := func(points float64, format string, args ...any) {
		g.Score += points
		g.Why = append(g.Why, fmt.Sprintf(format, args...))
	}
	say(0, "%d of %d frames fit, %.0f %% of the bytes", g.Good, g.Good+g.Bad, 100*g.Covered)
	if p.Checked() {
		say(40, "each frame's check sum fits")
	}
	if f, ok := p.family(); ok {
		f.weigh(p, values, say)
	}
	if i := slices.IndexFunc(g.Samples, func(s Sample) bool { return s.Unnamed }); i >= 0 {
		say(0, "the frames name no unit: %s is what the profile takes; look at the display", g.Samples[i].Value.Unit.Code)
	}
	if g.Good < 2 {
		say(-10, "one frame only: send another to be surer")
	}
	if own == h.Line || own.Baud == h.Line.Baud {
		say(4, "heard at the profile's own %d baud", own.Baud)
	} else {
		say(0, "heard at %s, the profile has %s", h.Line, own)
	}
	switch {
	case p.Poll.Polled() && string(h.Asked) == string(p.Poll.Request):
		say(6, "it answered the profile's request")
	case p.Poll.Polled():
		say(-8, "it was not asked with the profile's request")
	case len(h.Asked) == 0:
		say(2, "it pushes by itself, as the profile says")
	}
}

// weighText says what speaks for a text profile.
func weighText(p Profile, values bool, say func(float64, string, ...any)) {
	say(p.strictness(), "the pattern %q fits whole lines", p.Text.Pattern[0])
	if len(p.Text.Units) > 0 && values {
		say(5, "the lines name their unit")
	}
}

// weighBits says what speaks for a profile of bit fields, and against it.
func weighBits(p Profile, _ bool, say func(float64, string, ...any)) {
	switch {
	case p.Checked():
	case len(p.Bits.Fixed) > 0:
		say(5, "the fixed bits fit")
		fallthrough
	default:
		say(-20, "bit fields without a check sum fit many things: compare the values with the display")
	}
}

// weighBench says what speaks for a bench line: raw bits have no check sum of their own.
func weighBench(p Profile, values bool, say func(float64, string, ...any)) {
	if len(p.Bench.Bits) > 0 && values {
		say(-20, "the raw bits of a bridge fit many things: compare the values with the display")
	}
}

// strictness is a few points for what a text profile pins down, so that of two patterns that fit the narrower wins.
func (p Profile) strictness() float64 {
	c, err := p.compileText()
	if err != nil {
		return 0
	}
	t := c.(*textCodec)
	points := 0.0
	for _, p := range t.patterns {
		points += p.strictness()
	}
	if t.anchored {
		points++
	}
	if p.Text.Places >= 0 {
		points++
	}
	return points / float64(len(t.patterns))
}
