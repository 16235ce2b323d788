package devices

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"math/bits"
	"slices"
	"strings"
)

// compileFrames makes a codec of every channel's layout: a frame of whole bytes whose bits past Count are fixed at 0, so
// that no field can lie there.
func (c *benchCodec) compileFrames() error {
	c.bits = map[string]*bitsCodec{}
	for _, name := range slices.Sorted(maps.Keys(c.b.Bits)) {
		f, path := c.b.Bits[name], "bench.bits."+name
		b := f.Bits
		switch {
		case !validBenchName([]byte(name)) || name == "key":
			return fieldError(path, "%q is not a channel: want letters, figures, . _ and -, at most %d, not \"key\"", name, benchName)
		case len(c.channels) > 0 && !c.channels[name]:
			return fieldError(path, "%q does not stand in bench.channels", name)
		case f.Count < 1 || f.Count > 8*maxBitsFrame:
			return fieldError(path+".count", "%d: want 1 to %d bits", f.Count, 8*maxBitsFrame)
		case b.Length != 0 || b.Gap || b.Chan != nil:
			return fieldError(path, "length, gap and channel are the bridge's own: give count")
		}
		b.Length, b.Gap = (f.Count+7)/8, true
		if pad := 8*b.Length - f.Count; pad > 0 {
			b.Fixed = append(slices.Clone(b.Fixed), Fixed{At: f.Count, Bits: pad})
		}
		made, err := (Profile{Line: Line{DataBits: 8}, Bits: &b}).compileBits()
		var fe *FieldError
		if errors.As(err, &fe) {
			return fieldError(path+strings.TrimPrefix(fe.Path, "bits"), "%s", fe.Why)
		}
		if err != nil {
			return err
		}
		c.bits[name] = made.(*bitsCodec)
	}
	return nil
}

// turned packs bits that came high bit first as an order has them, in place.
func turned(frame []byte, order string) []byte {
	if order == "low" {
		for i := range frame {
			frame[i] = bits.Reverse8(frame[i])
		}
	}
	return frame
}

func (c *benchCodec) writeFrame(s Sample) (string, error) {
	bc, count := c.bits[s.Channel], c.b.Bits[s.Channel].Count
	channel := s.Channel
	s.Channel = ""
	frame, err := bc.encode([]Sample{s})
	if err != nil {
		return "", err
	}
	hex := fmt.Sprintf("%X", turned(frame, bc.b.Order))
	return fmt.Sprintf(":%s bits %d %s", channel, count, hex[:(count+3)/4]), nil
}

// rawFrame is what stands behind "bits" in a line.
type rawFrame struct {
	count int
	bits  [maxBitsFrame]byte // the first bit is the high one of the first byte
	fault bool
}

// readRaw reads "31 C90BF042"; why is "" where it is good.
func readRaw(b []byte) (f rawFrame, why string) {
	number, hex, _ := bytes.Cut(b, []byte{' '})
	hex, state, said := bytes.Cut(hex, []byte{' '})
	if said && string(state) != "fault" {
		return f, quoteBytes(state) + " is not a state of raw bits"
	}
	n, wrong := parseDigits(number, 0)
	if wrong != "" || n.digits < 1 || n.digits > 8*maxBitsFrame {
		return f, fmt.Sprintf("%s is no count of bits: want 1 to %d", quoteBytes(number), 8*maxBitsFrame)
	}
	f.count, f.fault = int(n.digits), said
	if len(hex) != (f.count+3)/4 {
		return f, fmt.Sprintf("%d figures for %d bits, want %d", len(hex), f.count, (f.count+3)/4)
	}
	for i, h := range hex {
		v, ok := hexDigit(h)
		if !ok {
			return f, quoteBytes(hex) + " are no hexadecimal figures"
		}
		f.bits[i/2] |= v << (4 * (1 - i%2))
	}
	if f.bits[(f.count-1)/8]<<((f.count-1)%8+1) != 0 {
		return f, fmt.Sprintf("the last figure has more bits than the %d", f.count)
	}
	return f, ""
}

// confirmed keeps the last raw frame of a channel: such frames have no check sum, so a value counts only where two frames
// in a row agree.
type confirmed struct {
	have bool
	bits [maxBitsFrame]byte
}

// rawBits reads a channel's raw bits. noise reports that the frame was spoilt on its way, as happens now and then, and not
// that the profile is wrong or the bridge.
func (d *benchDecoder) rawBits(channel string, b []byte) (s Sample, why string, noise bool) {
	f, why := readRaw(b)
	if why != "" {
		return s, why, false
	}
	if d.newer > 0 {
		return s, newerBridge(d.newer), false
	}
	c, ok := d.bits[channel]
	if !ok {
		return s, fmt.Sprintf("%d raw bits, and the profile does not say what they mean on the channel %q: teach it (thoud teach)", f.count, channel), false
	}
	last := d.last[channel]
	if last == nil {
		last = &confirmed{}
		d.last[channel] = last
	}
	was := *last
	last.have = false
	switch want := d.b.Bits[channel].Count; {
	case f.fault:
		return s, "the bridge saw clock or data falter in this frame", true
	case f.count != want:
		return s, fmt.Sprintf("%d bits, a frame of %q has %d", f.count, channel, want), true
	}
	last.have, last.bits = true, f.bits
	turned(f.bits[:c.b.Length], c.b.Order)
	s, why = c.read(f.bits[:c.b.Length])
	if why != "" {
		last.have = false
		return s, why, true
	}
	s.Unconfirmed = !was.have || was.bits != last.bits
	return s, "", false
}

func newerBridge(version int64) string {
	return fmt.Sprintf("the bridge speaks version %d of the bench line, this program knows version %d: bring thoud up to date, or load the bridge with the firmware that came with it", version, benchVersion)
}

// RawChannel is a channel on which a bridge sent raw bits.
type RawChannel struct {
	Channel string
	Count   int // bits of most frames
	Frames  int
}

// RawChannels finds the raw bits in bytes of a bench line, whatever profile may fit them.
func RawChannels(b []byte) []RawChannel {
	counts := map[string]map[int]int{}
	for _, l := range rawLines(b) {
		if counts[l.channel] == nil {
			counts[l.channel] = map[int]int{}
		}
		counts[l.channel][l.frame.count]++
	}
	var list []RawChannel
	for _, name := range slices.Sorted(maps.Keys(counts)) {
		one := RawChannel{Channel: name}
		most := 0
		for count, n := range counts[name] {
			one.Frames += n
			if n > most || n == most && count > one.Count {
				one.Count, most = count, n
			}
		}
		list = append(list, one)
	}
	return list
}

// rawLine is one good line of raw bits.
type rawLine struct {
	channel string
	frame   rawFrame
}

// rawLines gives the good lines of raw bits among others.
func rawLines(b []byte) []rawLine {
	var list []rawLine
	for _, l := range bytes.Split(b, []byte{'\n'}) {
		body, _, why := benchBody(bytes.TrimRight(l, "\r"))
		if why != "" {
			continue
		}
		channel, rest, _ := bytes.Cut(body[1:], []byte{' '})
		word, rest, _ := bytes.Cut(rest, []byte{' '})
		if string(word) != "bits" || !validBenchName(channel) {
			continue
		}
		if f, why := readRaw(rest); why == "" {
			list = append(list, rawLine{string(channel), f})
		}
	}
	return list
}
