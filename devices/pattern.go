package devices

import (
	"strconv"
	"strings"
)

// A pattern describes a line of text from left to right. What stands outside braces is sent as it is, except that a
// blank stands for any run of blanks, also none. "{{" and "}}" are the braces themselves. In braces:
//
//	{sign}     + or -; {sign?}: +, -, a blank or nothing
//	{number}   decimal digits, with a sign of its own where the pattern has no {sign}
//	{unit}     one of the profile's unit words
//	{channel}  one of the profile's channel words, or any run of letters, figures, - and _ where it names none
//	{status}   one of the profile's status words; may stand several times
//	{skip:N}   N characters that say nothing about the value
//
// A width after a colon, {number:8}, takes exactly so many characters, padded with blanks; {number:08} wants them all
// filled. A question mark, {unit?}, says that the part may be missing.
type pattern struct {
	text  string
	parts []part
	// The parts that say something, nil where the pattern has none.
	sign    *sign
	number  *number
	unit    *unitPart
	channel *channelPart
	status  *statusPart
}

// parsePattern reads a pattern with the codec's words; why says what is wrong in it, "" where nothing is.
func (c *textCodec) parsePattern(text string) (p pattern, why string) {
	p.text = text
	for rest := text; rest != ""; {
		n, why := p.next(c, rest)
		if why != "" {
			return p, why
		}
		rest = rest[n:]
	}
	switch {
	case p.number == nil && p.status == nil:
		return p, "it needs {number} or {status}"
	case p.number == nil && p.sign != nil:
		return p, "{sign} without {number}"
	case p.number != nil && p.number.missing:
		return p, "{number?}: give a second pattern for lines without a number"
	case p.number != nil:
		p.number.signed = p.sign == nil
	}
	for i, e := range p.parts[:len(p.parts)-1] {
		if looking, ok := e.(interface{ before(next part) }); ok {
			looking.before(p.parts[i+1])
		}
	}
	return p, ""
}

// next reads the part at the beginning of a pattern's text and gives how much of the text it is.
func (p *pattern) next(c *textCodec, text string) (n int, why string) {
	switch b := text[0]; {
	case strings.HasPrefix(text, "{{") || strings.HasPrefix(text, "}}"):
		p.literal(text[:1])
		return 2, ""
	case b == '{':
		end := strings.IndexByte(text, '}')
		if end < 0 {
			return 0, "a { without its }"
		}
		return end + 1, p.braces(c, text[1:end])
	case b == '}':
		return 0, "a } without its {"
	case b == ' ':
		if n := len(p.parts); n == 0 || p.parts[n-1] != part(blanks{}) {
			p.parts = append(p.parts, blanks{})
		}
	case b < ' ' && b != '\t' || b > '~':
		return 0, "only printable characters: " + strconv.QuoteRune(rune(b)) + " is none; terminators go into end"
	default:
		p.literal(text[:1])
	}
	return 1, ""
}

func (p *pattern) literal(s string) {
	if n := len(p.parts); n > 0 {
		if l, ok := p.parts[n-1].(*literal); ok {
			l.text += s
			return
		}
	}
	p.parts = append(p.parts, &literal{s})
}

// braces reads what stands between braces: "number:08" or "unit?".
func (p *pattern) braces(c *textCodec, s string) (why string) {
	name, e, hasWidth, why := readExtent(s)
	if why != "" {
		return why
	}
	twice := "{" + s + "} stands twice"
	switch name {
	case "sign":
		if hasWidth {
			return "{sign} is one character"
		}
		return addOnce(p, &p.sign, &sign{missing: e.missing}, twice)
	case "number":
		return addOnce(p, &p.number, &number{extent: e, mark: c.mark, places: c.t.Places}, twice)
	case "unit":
		return addOnce(p, &p.unit, &unitPart{wordPart{e, c.unitWords, "a unit"}, c.units}, twice)
	case "channel":
		if e.missing {
			return "{channel?}: give a second pattern for lines without a channel"
		}
		return addOnce(p, &p.channel, &channelPart{wordPart: wordPart{e, c.channelWords, "a channel"}, channels: c.t.Channel}, twice)
	case "status":
		p.status = &statusPart{wordPart{e, c.statusWords, "a status word"}, c.status}
		p.parts = append(p.parts, p.status)
		return ""
	case "skip":
		if e.width == 0 || e.missing {
			return "{skip} wants a width and is never optional"
		}
		p.parts = append(p.parts, skip(e.width))
		return ""
	}
	return strconv.Quote(name) + " is no part: want sign, number, unit, channel, status or skip"
}

// addOnce adds a part that may stand once, and keeps it under its name.
func addOnce[T interface {
	comparable
	part
}](p *pattern, slot *T, x T, twice string) (why string) {
	var none T
	if *slot != none {
		return twice
	}
	*slot = x
	p.parts = append(p.parts, x)
	return ""
}

// readExtent takes the width and the question mark off a part's name.
func readExtent(s string) (name string, e extent, hasWidth bool, why string) {
	name, width, hasWidth := strings.Cut(s, ":")
	if strings.HasSuffix(s, "?") {
		e.missing = true
		name, width = strings.TrimSuffix(name, "?"), strings.TrimSuffix(width, "?")
	}
	if hasWidth {
		n, err := strconv.Atoi(width)
		if err != nil || n < 1 || n > 64 {
			return name, e, true, "{" + s + "}: want a width of 1 to 64"
		}
		e.width, e.filled = n, width[0] == '0'
	}
	return name, e, hasWidth, ""
}

// size is how many characters the pattern takes if that is the same for every line, else 0.
func (p pattern) size() int {
	sum := 0
	for _, e := range p.parts {
		n := e.size()
		if n == 0 {
			return 0
		}
		sum += n
	}
	return sum
}

// holdsBlank reports whether a blank may stand in what the pattern reads.
func (p pattern) holdsBlank() bool {
	for _, e := range p.parts {
		if _, ok := e.(skip); ok {
			continue
		}
		if head, tail := e.chars(); head[' '] || tail[' '] {
			return true
		}
	}
	return false
}

// strictness counts the parts that pin down what a line may hold.
func (p pattern) strictness() float64 {
	points := 0.0
	if p.size() > 0 {
		points = 2
	}
	for _, e := range p.parts {
		if e.narrow() {
			points++
		}
	}
	return points
}
