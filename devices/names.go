package devices

// names keeps the texts of channels and keys, so that each is made once and a good frame allocates nothing.
type names map[string]string

// maxNames bounds what garbage can make it keep.
const maxNames = 64

func (n names) of(b []byte) string {
	if s, ok := n[string(b)]; ok {
		return s
	}
	s := string(b)
	if len(n) < maxNames {
		n[s] = s
	}
	return s
}
