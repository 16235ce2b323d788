package devices

import (
	"fmt"
	"strings"
)

// number is the decimal digits of the value, with a sign of its own where the pattern has none.
type number struct {
	extent
	signed bool // its sign stands in front of its digits
	mark   byte
	places int // -1: they may differ
	// What follows ends a number that has no width.
	stop  byte // a character that stands right behind it
	words bool // a part that is no fixed text: the number ends where figures and marks do
}

// before tells the number what follows it.
func (n *number) before(next part) {
	if l, ok := next.(*literal); ok {
		n.stop = l.text[0]
		return
	}
	n.words = true
}

func (n *number) match(f *fitting) ([]byte, string) {
	rest, none, why := n.room(f)
	if none || why != "" {
		return rest, why
	}
	token := rest
	if n.width == 0 {
		token = n.run(rest)
	}
	used := len(token)
	if n.width > 0 && !n.filled {
		token = trimmed(token)
	}
	neg := f.neg
	if n.signed && len(token) > 0 && (token[0] == '+' || token[0] == '-') {
		neg, token = token[0] == '-', token[1:]
	}
	v, why := parseDigits(token, n.mark)
	if why == "" && n.places >= 0 && v.places != n.places {
		why = "has not the profile's decimal places"
	}
	if why != "" {
		return token, why
	}
	f.num, f.neg = v, neg
	f.at += used
	return nil, ""
}

// run is the characters meant as the number: up to a blank or the character that must follow; right before a word it
// ends where digits and marks do.
func (n *number) run(b []byte) []byte {
	for i, c := range b {
		switch {
		case c == ' ', n.stop != 0 && c == n.stop:
			return b[:i]
		case n.words && !(c >= '0' && c <= '9' || c == '.' || c == ',' || i == 0 && (c == '+' || c == '-')):
			return b[:i]
		}
	}
	return b
}

func (n *number) write(w *writing) error {
	sign := ""
	if n.signed && w.neg {
		sign = "-"
	}
	pad := max(n.width-len(sign)-len(w.digits), 0)
	text := strings.Repeat(" ", pad) + sign + w.digits
	if n.filled {
		text = sign + strings.Repeat("0", pad) + w.digits
	}
	if n.width > 0 && len(text) != n.width {
		return fmt.Errorf("%s: %q is wider than %d", w.sample.Value, text, n.width)
	}
	w.WriteString(text)
	return nil
}

func (n *number) size() int { return n.width }

func (n *number) chars() (head, tail charset) {
	head.add("0123456789")
	head[n.mark] = true
	if n.signed {
		head.add("+-")
	}
	tail.join(head)
	return n.blanked(head, tail, nil)
}
