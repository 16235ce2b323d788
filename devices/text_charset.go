package devices

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

// charsOf gives the characters that some words begin with, and those they have after their first.
func charsOf(words []string) (head, tail charset) {
	for _, w := range words {
		head.add(w[:1])
		tail.add(w[1:])
	}
	return head, tail
}

// firstAndRest gives the characters a line may begin with, and those it may have after its first.
func (p pattern) firstAndRest() (first, rest charset) {
	open := true // the line may still begin here
	for i, e := range p.parts {
		head, tail := e.chars()
		if open {
			first.join(head)
		}
		if i > 0 {
			rest.join(head)
		}
		rest.join(tail)
		open = open && e.optional()
	}
	return first, rest
}

// anchored reports whether a line that lost its beginning can never match one of the patterns: all lines are equally
// long, or no line may begin with a character that stands elsewhere in one.
func anchored(patterns []pattern) bool {
	size := patterns[0].size()
	for _, p := range patterns {
		if p.size() != size {
			size = 0
		}
	}
	return size > 0 || marked(patterns)
}

// marked reports whether no line may begin with a character that stands elsewhere in one.
func marked(patterns []pattern) bool {
	var first, rest charset
	for _, p := range patterns {
		f, r := p.firstAndRest()
		first.join(f)
		rest.join(r)
	}
	return !first.meets(rest)
}
