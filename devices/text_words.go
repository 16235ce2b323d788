package devices

import (
	"fmt"
	"strings"

	"thoud/calc/quantity"
)

// wordPart is a part that holds one of a few words. What the word means is the business of the part that embeds it.
type wordPart struct {
	extent
	words []string // longest first
	what  string   // "a unit", for the refusal
}

// find takes the word off the front of the line; none reports that it is missing, and may be.
func (p *wordPart) find(f *fitting) (word string, none bool, text []byte, why string) {
	rest, none, why := p.room(f)
	if none || why != "" {
		return "", none, rest, why
	}
	for _, w := range p.words {
		if p.width == 0 && len(rest) >= len(w) && string(rest[:len(w)]) == w {
			f.at += len(w)
			return w, false, nil, ""
		}
		if p.width > 0 && (string(trimmed(rest)) == w || string(rest) == w) {
			f.at += p.width
			return w, false, nil, ""
		}
	}
	if p.missing && (p.width == 0 || len(trimmed(rest)) == 0) {
		f.at += p.width
		return "", true, nil, ""
	}
	return "", false, rest, "is not " + p.what + " of the profile"
}

func (p *wordPart) put(w *writing, word string) {
	w.WriteString(word + strings.Repeat(" ", max(p.width-len(word), 0)))
}

func (p *wordPart) size() int {
	switch {
	case p.missing:
		return 0
	case p.width > 0:
		return p.width
	}
	return sameLength(p.words)
}

func (p *wordPart) chars() (head, tail charset) {
	head, tail = charsOf(p.words)
	return p.blanked(head, tail, p.words)
}

// unitPart is one of the profile's unit words.
type unitPart struct {
	wordPart
	units map[string]quantity.Unit
}

func (p *unitPart) match(f *fitting) ([]byte, string) {
	word, none, text, why := p.find(f)
	if !none && why == "" {
		f.unit, f.named = p.units[word], true
	}
	return text, why
}

func (p *unitPart) write(w *writing) error {
	p.put(w, w.unit)
	return nil
}

// word finds the word for a value's unit, or "" where the line brings none and the profile's unit counts.
func (p *unitPart) word(v quantity.Value, usual quantity.Unit) (string, quantity.Unit, error) {
	if !v.Valid() {
		return p.words[0], usual, nil
	}
	for _, w := range p.words {
		if p.units[w].Code == v.Unit.Code {
			return w, p.units[w], nil
		}
	}
	if p.missing && usual.Code == v.Unit.Code {
		return "", usual, nil
	}
	return "", usual, fmt.Errorf("%s: the profile has no word for %q", v, v.Unit.Code)
}

// statusPart is one of the profile's status words. It may stand several times.
type statusPart struct {
	wordPart
	status map[string]Status
}

func (p *statusPart) match(f *fitting) ([]byte, string) {
	word, none, text, why := p.find(f)
	if !none && why == "" {
		f.status |= p.status[word]
	}
	return text, why
}

// write says as much of the status as one word can; the rest is for the next one.
func (p *statusPart) write(w *writing) error {
	for _, word := range p.words {
		if st := p.status[word]; st != 0 && w.status&st == st {
			w.status &^= st
			p.put(w, word)
			return nil
		}
	}
	for _, word := range p.words {
		if p.status[word] == 0 {
			p.put(w, word)
			return nil
		}
	}
	if p.missing {
		p.put(w, "")
		return nil
	}
	return fmt.Errorf("status %q: the profile has no word for it", w.status)
}

// channelPart is one of the profile's channel words, or any name where it has none.
type channelPart struct {
	wordPart
	channels map[string]string
	runsOn   bool // it ends nowhere: no fixed text follows, and it has no width
}

// before tells the channel what follows it.
func (p *channelPart) before(next part) {
	switch next.(type) {
	case *literal, blanks:
	default:
		p.runsOn = p.width == 0
	}
}

func (p *channelPart) match(f *fitting) ([]byte, string) {
	if len(p.words) == 0 {
		return p.matchAny(f)
	}
	word, none, text, why := p.find(f)
	if !none && why == "" {
		f.channel = p.channels[word]
	}
	return text, why
}

// matchAny takes any run of letters, figures, - and _ for the channel's name.
func (p *channelPart) matchAny(f *fitting) ([]byte, string) {
	rest, none, why := p.room(f)
	if none || why != "" {
		return rest, why
	}
	name := rest
	if p.width > 0 {
		name = trimmed(rest)
	}
	n := 0
	for n < len(name) && isChannel(name[n]) {
		n++
	}
	if n == 0 || p.width > 0 && n < len(name) {
		return rest, "is not " + p.what + " of the profile"
	}
	f.channel = f.names.of(name[:n])
	f.at += max(p.width, n)
	return nil, ""
}

func (p *channelPart) write(w *writing) error {
	channel := w.sample.Channel
	if len(p.words) == 0 {
		if channel == "" {
			return fmt.Errorf("the profile names a channel and the reading has none")
		}
		p.put(w, channel)
		return nil
	}
	for _, word := range p.words {
		if p.channels[word] == channel {
			p.put(w, word)
			return nil
		}
	}
	return fmt.Errorf("channel %q: the profile has no word for it", channel)
}

func (p *channelPart) chars() (head, tail charset) {
	if len(p.words) > 0 {
		return p.wordPart.chars()
	}
	for c := range 256 {
		head[c] = isChannel(byte(c))
	}
	return p.blanked(head, head, nil)
}

func isChannel(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '-' || c == '_'
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
