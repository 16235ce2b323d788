package devices

// Asks lists what a gauge is set to while it is taught, in order, and how many of them it takes at the least; the last may
// be left out by a gauge that has one unit only. The raw bits of a bridge want more values. Whatever was taught is then
// proved by one more value.
func Asks(raw bool) (asks []string, least int) {
	if raw {
		return []string{"0", "something positive, three figures or more", "the same below zero", "something positive with quite other figures",
			"the largest value that it can show", "the other unit, if it has one"}, 5
	}
	return []string{"0", "something positive, three figures or more", "the same below zero", "the other unit, if it has one"}, 3
}

// AskProof is what a gauge is set to at last.
const AskProof = "one more value, quite another, to prove it"
