package devices

import "bytes"

// textDecoder frames and matches lines. The bytes are kept twice: as they came, and with a 7-bit line's eighth bit
// taken off.
type textDecoder struct {
	*textCodec
	raw, clean []byte
	skipping   bool // the line is too long: wait for its end
	unsure     bool // the next byte may be in the middle of a line
	slid       int  // bytes dropped since the last good line of a fixed length
	out        []Sample
	names      names
	fitting    fitting // kept here so that a good frame costs no allocation
}

var _ Decoder = (*textDecoder)(nil)

func (c *textCodec) decoder() Decoder {
	d := &textDecoder{textCodec: c, names: names{}}
	d.Reset()
	return d
}

func (d *textDecoder) Reset() {
	d.clear()
	d.skipping, d.slid = false, 0
	d.unsure = !d.anchored && !d.polled && !d.t.Gap
}

func (d *textDecoder) Idle(emit func(Sample, error)) {
	switch {
	case len(d.raw) == 0 || d.skipping:
	case d.t.Gap:
		d.line(len(d.clean), emit)
	default:
		emit(Sample{}, frameError(d.raw, "the line fell silent in the middle of a frame; read again"))
	}
	d.clear()
	d.skipping, d.unsure, d.slid = false, false, 0
}

func (d *textDecoder) clear() { d.raw, d.clean = d.raw[:0], d.clean[:0] }

func (d *textDecoder) Feed(p []byte, emit func(Sample, error)) {
	for _, b := range p {
		d.raw = append(d.raw, b)
		d.clean = append(d.clean, b&d.mask)
		if d.t.Length > 0 {
			d.fixed(emit)
			continue
		}
		if d.end != "" && bytes.HasSuffix(d.clean, []byte(d.end)) {
			d.ended(emit)
		} else if len(d.raw) >= maxLine {
			if !d.skipping {
				emit(Sample{}, frameError(d.raw, "no end of line in %d bytes; are the line settings right?", maxLine))
			}
			d.skipping = true
			keep := max(len(d.end)-1, 0)
			d.raw = append(d.raw[:0], d.raw[len(d.raw)-keep:]...)
			d.clean = append(d.clean[:0], d.clean[len(d.clean)-keep:]...)
		}
	}
}

// ended handles a line whose terminator has come.
func (d *textDecoder) ended(emit func(Sample, error)) {
	unsure, skipping := d.unsure, d.skipping
	d.unsure, d.skipping = false, false
	switch {
	case skipping: // its beginning was refused already
	case unsure && len(d.raw) > len(d.end):
		emit(Sample{}, frameError(d.raw, "the first line after opening may have lost its beginning; read again"))
	default:
		d.line(len(d.clean)-len(d.end), emit)
	}
	d.clear()
}

// fixed handles lines of a fixed length: where they do not fit, bytes are dropped until they do.
func (d *textDecoder) fixed(emit func(Sample, error)) {
	for len(d.raw) >= d.t.Length {
		d.out = d.out[:0]
		err := d.match(d.raw, d.clean)
		if err == nil {
			for _, s := range d.out {
				emit(s, nil)
			}
			d.slid = 0
			d.clear()
			return
		}
		// Where the line begins as one should, it is this frame that is spoilt; say so once for each length of garbage.
		if d.slid%d.t.Length == 0 {
			emit(Sample{}, err)
		}
		d.slid++
		d.raw = append(d.raw[:0], d.raw[1:]...)
		d.clean = append(d.clean[:0], d.clean[1:]...)
	}
}

// line takes one whole line, n bytes without its terminator: all of its readings or none.
func (d *textDecoder) line(n int, emit func(Sample, error)) {
	body := d.clean[:n]
	if n == 0 {
		return // an empty line says nothing
	}
	for _, w := range d.t.Ignore {
		if string(body) == w {
			return
		}
	}
	d.out = d.out[:0]
	if d.t.Separator == "" {
		if err := d.match(d.raw, body); err != nil {
			emit(Sample{}, err)
			return
		}
		if len(d.t.Channels) == 1 {
			d.out[0].Channel = d.t.Channels[0]
		}
	} else if err := d.pieces(body); err != nil {
		emit(Sample{}, err)
		return
	}
	for _, s := range d.out {
		emit(s, nil)
	}
}

// pieces matches the readings of several channels on one line.
func (d *textDecoder) pieces(body []byte) error {
	sep := []byte(d.t.Separator)
	blank := d.t.Separator == " "
	for rest, more := body, true; more; {
		piece := rest
		if i := bytes.Index(rest, sep); i >= 0 {
			piece, rest = rest[:i], rest[i+len(sep):]
		} else {
			more = false
		}
		if blank && len(piece) == 0 {
			continue
		}
		if err := d.match(d.raw, piece); err != nil {
			return err
		}
		last := len(d.out) - 1
		if len(d.t.Channels) > 0 {
			if last >= len(d.t.Channels) {
				return frameError(d.raw, "more than %d readings on the line; is the profile right?", len(d.t.Channels))
			}
			d.out[last].Channel = d.t.Channels[last]
		}
		for _, s := range d.out[:last] {
			if s.Channel == d.out[last].Channel {
				return frameError(d.raw, "channel %q stands twice on the line; is the profile right?", s.Channel)
			}
		}
	}
	if len(d.out) == 0 || len(d.t.Channels) > 0 && len(d.out) != len(d.t.Channels) {
		return frameError(d.raw, "%d readings on the line, want %d; is the profile right?", len(d.out), len(d.t.Channels))
	}
	return nil
}
