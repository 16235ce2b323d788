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
type element struct {
	part     byte   // 'l' literal, 'b' blanks, 's' sign, 'n' number, 'u' unit, 'c' channel, 't' status, 'x' skip
	lit      string // for 'l'
	width    int    // 0: as long as it fits
	filled   bool   // the width has no padding
	optional bool
}

var partNames = map[string]byte{"sign": 's', "number": 'n', "unit": 'u', "channel": 'c', "status": 't', "skip": 'x'}

type pattern struct {
	text     string
	elements []element
	has      [256]bool // which parts it has
}

// parsePattern reads a pattern; the error says what is wrong in it.
func parsePattern(text string) (pattern, string) {
	p := pattern{text: text}
	lit := func(s string) {
		if n := len(p.elements); n > 0 && p.elements[n-1].part == 'l' {
			p.elements[n-1].lit += s
			return
		}
		p.elements = append(p.elements, element{part: 'l', lit: s})
	}
	for i := 0; i < len(text); {
		c := text[i]
		switch {
		case strings.HasPrefix(text[i:], "{{") || strings.HasPrefix(text[i:], "}}"):
			lit(text[i : i+1])
			i += 2
		case c == '{':
			j := strings.IndexByte(text[i:], '}')
			if j < 0 {
				return p, "a { without its }"
			}
			e, why := parsePart(text[i+1 : i+j])
			if why != "" {
				return p, why
			}
			if e.part != 't' && e.part != 'x' && p.has[e.part] {
				return p, text[i:i+j+1] + " stands twice"
			}
			p.has[e.part] = true
			p.elements = append(p.elements, e)
			i += j + 1
		case c == '}':
			return p, "a } without its {"
		case c == ' ':
			if n := len(p.elements); n == 0 || p.elements[n-1].part != 'b' {
				p.elements = append(p.elements, element{part: 'b'})
			}
			i++
		case c < ' ' && c != '\t' || c > '~':
			return p, "only printable characters: " + strconv.QuoteRune(rune(c)) + " is none; terminators go into end"
		default:
			lit(string(c))
			i++
		}
	}
	switch {
	case !p.has['n'] && !p.has['t']:
		return p, "it needs {number} or {status}"
	case !p.has['n'] && p.has['s']:
		return p, "{sign} without {number}"
	}
	for _, e := range p.elements {
		if e.part == 'n' && e.optional {
			return p, "{number?}: give a second pattern for lines without a number"
		}
	}
	return p, ""
}

func parsePart(s string) (element, string) {
	name, width, hasWidth := strings.Cut(s, ":")
	var e element
	if strings.HasSuffix(s, "?") {
		e.optional = true
		name, width = strings.TrimSuffix(name, "?"), strings.TrimSuffix(width, "?")
	}
	part, ok := partNames[name]
	if !ok {
		return e, strconv.Quote(name) + " is no part: want sign, number, unit, channel, status or skip"
	}
	e.part = part
	if hasWidth {
		n, err := strconv.Atoi(width)
		if err != nil || n < 1 || n > 64 {
			return e, "{" + s + "}: want a width of 1 to 64"
		}
		e.width, e.filled = n, width[0] == '0'
	}
	switch {
	case part == 'x' && (e.width == 0 || e.optional):
		return e, "{skip} wants a width and is never optional"
	case part == 's' && hasWidth:
		return e, "{sign} is one character"
	case part == 'c' && e.optional:
		return e, "{channel?}: give a second pattern for lines without a channel"
	}
	return e, ""
}

// size is how many characters the pattern takes if that is the same for every line, else 0.
func (p pattern) size(t *textCodec) int {
	n := 0
	for _, e := range p.elements {
		switch {
		case e.part == 'l':
			n += len(e.lit)
		case e.part == 's' && !e.optional:
			n++
		case e.width > 0 && !e.optional:
			n += e.width
		case e.part == 'u' && sameLength(t.unitWords) > 0 && !e.optional:
			n += sameLength(t.unitWords)
		case e.part == 't' && sameLength(t.statusWords) > 0 && !e.optional:
			n += sameLength(t.statusWords)
		default:
			return 0
		}
	}
	return n
}

// charset is a set of characters.
type charset [256]bool

func (s *charset) add(chars string) {
	for i := range len(chars) {
		s[chars[i]] = true
	}
}

func (s *charset) join(o charset) {
	for i := range o {
		s[i] = s[i] || o[i]
	}
}

func (s charset) meets(o charset) bool {
	for i := range s {
		if s[i] && o[i] {
			return true
		}
	}
	return false
}

// headAndTail gives the characters a part may begin with, and those it may have after its first.
func (p pattern) headAndTail(e element, t *textCodec) (head, tail charset) {
	words := func(list []string) {
		for _, w := range list {
			head.add(w[:1])
			tail.add(w[1:])
		}
	}
	switch e.part {
	case 'l':
		words([]string{e.lit})
	case 'b':
		words([]string{"  "})
	case 's':
		head.add("+-")
		if e.optional {
			head.add(" ")
		}
		return head, tail
	case 'n':
		head.add("0123456789")
		head[t.mark] = true
		if !p.has['s'] {
			head.add("+-")
		}
		tail.join(head)
	case 'u':
		words(t.unitWords)
	case 't':
		words(t.statusWords)
	case 'c':
		if words(t.channelWords); len(t.channelWords) == 0 {
			for c := range 256 {
				head[c] = isChannel(byte(c))
			}
			tail = head
		}
	case 'x':
		for c := range 256 {
			head[c] = true
		}
		tail = head
	}
	if e.width > 0 && !e.filled && t.padded(e) { // blanks on either side
		tail.join(head)
		head.add(" ")
		tail.add(" ")
	}
	return head, tail
}

// padded reports whether a part of a fixed width may hold blanks.
func (t *textCodec) padded(e element) bool {
	words := map[byte][]string{'u': t.unitWords, 't': t.statusWords, 'c': t.channelWords}[e.part]
	return e.optional || sameLength(words) != e.width
}

// runsOn reports whether the pattern has a channel of any length right before a part that is no fixed character.
func (p pattern) runsOn() bool {
	for i, e := range p.elements {
		if e.part == 'c' && e.width == 0 && i+1 < len(p.elements) && p.elements[i+1].part != 'l' && p.elements[i+1].part != 'b' {
			return true
		}
	}
	return false
}

// firstAndRest gives the characters a line may begin with, and those it may have after its first.
func (p pattern) firstAndRest(t *textCodec) (first, rest charset) {
	open := true // the line may still begin here
	for i, e := range p.elements {
		head, tail := p.headAndTail(e, t)
		if open {
			first.join(head)
		}
		if i > 0 {
			rest.join(head)
		}
		rest.join(tail)
		open = open && (e.optional || e.part == 'b')
	}
	return first, rest
}

// anchored reports whether a line that lost its beginning can never match one of the patterns: all lines are equally
// long, or no line may begin with a character that stands elsewhere in one.
func anchored(patterns []pattern, t *textCodec) bool {
	size := patterns[0].size(t)
	for _, p := range patterns {
		if p.size(t) != size {
			size = 0
		}
	}
	return size > 0 || marked(patterns, t)
}

// marked reports whether no line may begin with a character that stands elsewhere in one.
func marked(patterns []pattern, t *textCodec) bool {
	var first, rest charset
	for _, p := range patterns {
		f, r := p.firstAndRest(t)
		first.join(f)
		rest.join(r)
	}
	return !first.meets(rest)
}

func sameLength(words []string) int {
	for _, w := range words {
		if len(w) != len(words[0]) {
			return 0
		}
	}
	if len(words) == 0 {
		return 0
	}
	return len(words[0])
}

func isChannel(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '-' || c == '_'
}
