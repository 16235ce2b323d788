package devices

import (
	"fmt"

	"thoud/calc/quantity"
)

// Bench is thoud's own line for home-made bridges: a small controller that reads a gauge or a foot pedal its own way
// and sends one line of printable ASCII an event. The grammar, in the notation of RFC 5234:
//
//	line    = ":" ( reading / frame / gone / bridge / key ) [ SP "*" 2HEXDIG ] [ CR ] LF
//	reading = channel SP ( number / "-" ) SP unit [ SP state *( "+" state ) ]
//	frame   = channel SP "bits" SP count SP 1*HEXDIG [ SP "fault" ]
//	gone    = channel SP "gone"
//	bridge  = "bridge" SP ( "start" / "here" ) SP version
//	key     = "key" SP name
//	channel = 1*32( ALPHA / DIGIT / "." / "_" / "-" )      ; not "key"
//	name    = 1*32( ALPHA / DIGIT / "." / "_" / "-" )
//	number  = [ "+" / "-" ] 1*DIGIT [ "." 1*DIGIT ]
//	count   = 1*3DIGIT                                     ; 1 to 256 bits, as many figures as they need
//	version = 1*3DIGIT                                     ; of this grammar: 1
//	unit    = a unit code as "mm", "in", "deg", "g"; "1" for a plain number
//	state   = "stable" / "unstable" / "overload" / "low-battery" / "fault" / "reversed"
//
// as in
//
//	:left 12.345 mm
//	:left -0.4860 in unstable *D3
//	:left - mm overload
//	:left bits 31 C90BF042 *90
//	:left gone *61
//	:bridge start 1 *2B
//	:key pedal
//
// A "-" in place of the number goes with overload or fault, and only with them. The check sum is the CRC-8/SMBUS (check
// value 0xF4) of all bytes from the colon to the one before the blank and the star, as two hexadecimal digits. It is
// optional, or wanted on every line where the profile says so. The colon stands nowhere else, so a line that lost its
// beginning is never taken for another.
//
// A bridge that reads clock and data of a gauge does not know what its bits mean. It hands on each frame as raw bits, the
// first of them the high bit of the first figure, the rest of the last figure 0; the profile describes them, for each
// channel. "fault" says that clock or data did not stand still where they were read. "gone" says that a gauge which had
// sent has not for a while, and "start" that the bridge itself was switched on: what was attached before may be another
// gauge now. "here" comes from time to time, so that whoever opens the line later learns the version too.
type Bench struct {
	Checked  bool                // every line must bring its check sum
	Channels []string            // the channels that may come; empty for any
	Bits     map[string]BitFrame // how the raw bits of a channel are read
}

// BitFrame is how the raw bits of one channel are read. Bits has no Length, Gap or Chan: the bridge tells where a frame
// begins and whose it is.
type BitFrame struct {
	Count int // bits a frame
	Bits  Bits
}

const (
	benchMark = ':'
	benchName = 32 // characters of a channel or key
)

// benchVersion is the version of the grammar.
const benchVersion = 1

type benchCodec struct {
	b        Bench
	channels map[string]bool
	units    map[string]quantity.Unit
	bits     map[string]*bitsCodec
}

func (p Profile) compileBench() (codec, error) {
	if p.Bench == nil {
		return nil, missingTable("bench")
	}
	if p.Line.DataBits == 7 {
		return nil, fieldError("line.data_bits", "7: the bench line has 8")
	}
	c := &benchCodec{b: *p.Bench, channels: map[string]bool{}, units: map[string]quantity.Unit{}}
	for _, ch := range c.b.Channels {
		if !validBenchName([]byte(ch)) || ch == "key" {
			return nil, fieldError("bench.channels", "%q is not a channel: want letters, figures, . _ and -, at most %d, not \"key\"", ch, benchName)
		}
		if c.channels[ch] {
			return nil, fieldError("bench.channels", "%q stands twice", ch)
		}
		c.channels[ch] = true
	}
	for _, u := range quantity.Units() {
		if _, ok := c.units[u.Code]; !ok && u.Code != "" {
			c.units[u.Code] = u
		}
	}
	c.units["1"] = quantity.Base(quantity.Number)
	return c, c.compileFrames()
}

func validBenchName(b []byte) bool {
	for _, c := range b {
		if !isChannel(c) && c != '.' {
			return false
		}
	}
	return len(b) > 0 && len(b) <= benchName
}

func (c *benchCodec) encode(samples []Sample) ([]byte, error) {
	var out []byte
	for _, s := range samples {
		line, err := c.write(s)
		if err != nil {
			return nil, err
		}
		if c.b.Checked {
			line += fmt.Sprintf(" *%02X", crc8([]byte(line)))
		}
		out = append(append(out, line...), '\n')
	}
	return out, nil
}

// write gives the line of one sample, without its check sum.
func (c *benchCodec) write(s Sample) (string, error) {
	switch {
	case s.Key != "":
		if !validBenchName([]byte(s.Key)) {
			return "", fmt.Errorf("%q is not a key's name", s.Key)
		}
		return ":key " + s.Key, nil
	case s.Gone && s.Channel == "":
		return fmt.Sprintf(":bridge start %d", benchVersion), nil
	case !validBenchName([]byte(s.Channel)) || s.Channel == "key":
		return "", fmt.Errorf("%q is not a channel", s.Channel)
	case s.Gone:
		return ":" + s.Channel + " gone", nil
	case c.bits[s.Channel] != nil:
		return c.writeFrame(s)
	}
	number, unit := "-", "1"
	if s.Value.Valid() {
		number, unit = s.Value.Digits(), s.Value.Unit.Code
	}
	if unit == "" {
		unit = "1"
	}
	if (s.Status&(Overload|Fault) != 0) == s.Value.Valid() {
		return "", fmt.Errorf("value %s and status %q do not go together", s.Value, s.Status)
	}
	line := fmt.Sprintf(":%s %s %s", s.Channel, number, unit)
	if s.Status != 0 {
		line += " " + s.Status.String()
	}
	return line, nil
}
