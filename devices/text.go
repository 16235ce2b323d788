package devices

import (
	"sort"
	"strings"

	"thoud/calc/quantity"
)

// Text is a gauge that sends lines of printable text.
type Text struct {
	Pattern   []string          // tried in turn, the first that fits whole is taken; see pattern for their form
	End       string            // the terminator: "\r", "\n", "\r\n" or any 1 to 4 bytes; "" where lines have a Length
	Length    int               // bytes of a line without terminator
	Gap       bool              // a line ends with silence: for a data key or a polled gauge only
	Separator string            // between the readings of several channels on one line; "" for one reading a line
	Channels  []string          // names of the readings of one line in order, where the line does not name them
	Mark      string            // the decimal mark: "." or ","
	Places    int               // decimal places of every number; -1 where they may differ
	Scale     string            // what a number is multiplied with, a decimal: "1", "0.001", "-1"
	Unit      string            // the unit of numbers that bring none
	Units     map[string]string // unit words as sent → unit codes
	Status    map[string]string // status words as sent → state names, "stable+low-battery"; "" says nothing
	Channel   map[string]string // channel words as sent → channel names
	Ignore    []string          // whole lines that are no readings: banners, echoes of the request
}

// maxLine is the longest line taken; what runs on longer is garbage.
const maxLine = 256

// textCodec is a Text ready for use.
type textCodec struct {
	t            Text
	patterns     []pattern
	end          string
	mark         byte
	mask         byte
	parity       string // "even" or "odd" where a 7-bit line may bring it in the eighth bit
	scale        decimal
	unit         quantity.Unit
	units        map[string]quantity.Unit
	status       map[string]Status
	unitWords    []string // longest first
	statusWords  []string
	channelWords []string
	anchored     bool
	polled       bool
}

func (p Profile) compileText() (codec, error) {
	if p.Text == nil {
		return nil, missingTable("text")
	}
	t := *p.Text
	c := &textCodec{t: t, end: t.End, mask: p.Line.mask(), polled: p.Poll.Polled(),
		units: map[string]quantity.Unit{}, status: map[string]Status{}}
	if p.Line.DataBits == 7 && (p.Line.Parity == "even" || p.Line.Parity == "odd") {
		c.parity = p.Line.Parity
	}
	switch t.Mark {
	case ".", ",":
		c.mark = t.Mark[0]
	default:
		return nil, fieldError("text.mark", "%q: want \".\" or \",\"", t.Mark)
	}
	if t.Places < -1 || t.Places > 12 {
		return nil, fieldError("text.places", "%d: want 0 to 12", t.Places)
	}
	var err error
	if c.scale, err = parseScale("text.scale", t.Scale); err != nil {
		return nil, err
	}
	if t.Unit != "" {
		if c.unit, err = quantity.UnitOf(t.Unit); err != nil {
			return nil, fieldError("text.unit", "%v", err)
		}
	}
	if err := c.compileWords(); err != nil {
		return nil, err
	}
	if err := c.compilePatterns(); err != nil {
		return nil, err
	}
	return c, c.checkFraming()
}

// compileWords reads what the profile's words mean.
func (c *textCodec) compileWords() error {
	for w, code := range c.t.Units {
		u, err := quantity.UnitOf(code)
		if err != nil {
			return fieldError("text.units."+w, "%v", err)
		}
		if w == "" {
			return fieldError("text.units", "an empty word: use {unit?} and unit for the unit of numbers that bring none")
		}
		c.units[w] = u
	}
	for w, name := range c.t.Status {
		if w == "" {
			return fieldError("text.status", "an empty word: use {status?}")
		}
		c.status[w] = 0
		if name == "" {
			continue
		}
		s, err := ParseStatus(name)
		if err != nil {
			return fieldError("text.status."+w, "%v", err)
		}
		c.status[w] = s
	}
	if _, ok := c.t.Channel[""]; ok {
		return fieldError("text.channel", "an empty word: give a second pattern for lines without a channel")
	}
	c.unitWords, c.statusWords, c.channelWords = longestFirst(c.t.Units), longestFirst(c.t.Status), longestFirst(c.t.Channel)
	return nil
}

func (c *textCodec) compilePatterns() error {
	if len(c.t.Pattern) == 0 {
		return fieldError("text.pattern", "missing: how a line reads, as \"{sign}{number} {unit}\"")
	}
	for _, text := range c.t.Pattern {
		p, why := c.parsePattern(text)
		if why != "" {
			return fieldError("text.pattern", "%q: %s", text, why)
		}
		switch {
		case p.unit != nil && len(c.unitWords) == 0:
			return fieldError("text.units", "missing: the pattern has {unit}, so its words must be known")
		case p.status != nil && len(c.statusWords) == 0:
			return fieldError("text.status", "missing: the pattern has {status}, so its words must be known")
		case p.number != nil && (p.unit == nil || p.unit.missing) && c.t.Unit == "":
			return fieldError("text.unit", "missing: %q gives numbers without a unit", text)
		case p.channel != nil && len(c.t.Channels) > 0:
			return fieldError("text.channels", "the line names its channels already, by {channel}")
		case p.channel != nil && p.channel.runsOn && len(c.channelWords) == 0:
			return fieldError("text.pattern", "%q: {channel} runs into the next part: give it a width, or the channel words", text)
		case c.t.Separator != "" && c.t.Separator != " " && strings.Contains(text, c.t.Separator):
			return fieldError("text.separator", "%q stands in the pattern too", c.t.Separator)
		case c.t.Separator == " " && p.holdsBlank():
			return fieldError("text.separator", "a blank separates the readings, so %q can have none", text)
		}
		c.patterns = append(c.patterns, p)
	}
	if len(c.t.Channels) > 1 && c.t.Separator == "" {
		return fieldError("text.separator", "missing: %d channels on one line", len(c.t.Channels))
	}
	return nil
}

func (c *textCodec) checkFraming() error {
	t := c.t
	c.anchored = anchored(c.patterns)
	switch {
	case t.Gap && (t.End != "" || t.Length != 0) || !t.Gap && (t.End == "") == (t.Length == 0):
		return fieldError("text.end", "want one of end, length and gap: how a line ends")
	case len(t.End) > 4:
		return fieldError("text.end", "%q: want 1 to 4 bytes", t.End)
	case t.Length < 0 || t.Length > maxLine:
		return fieldError("text.length", "%d: want 1 to %d", t.Length, maxLine)
	case t.Length > 0 && t.Separator == "":
		// Without a terminator only the line's own first character tells where the next one begins.
		for _, p := range c.patterns {
			if p.size() != t.Length {
				return fieldError("text.length", "%d: %q does not always take so many characters; give its parts widths", t.Length, p.text)
			}
		}
		if !marked(c.patterns) {
			return fieldError("text.length", "lines without a terminator must begin with a character that stands nowhere else in them, {sign} or a fixed one; these do not, so after a lost byte wrong numbers would be read")
		}
	case t.Length > 0:
		return fieldError("text.separator", "several readings a line need a terminator")
	}
	return nil
}

func longestFirst(words map[string]string) []string {
	var list []string
	for w := range words {
		list = append(list, w)
	}
	sort.Slice(list, func(i, j int) bool {
		if len(list[i]) != len(list[j]) {
			return len(list[i]) > len(list[j])
		}
		return list[i] < list[j]
	})
	return list
}
