package view

import (
	"strings"

	"thoud/calc"
	"thoud/capture/bench"
)

// ends are the direction keys of a method whose part is moved under the gauge: which way the gauge's value grows, and
// which way it falls.
var ends = map[string][2]string{
	"contact-clearance": {"towards", "away"},
	"bolt-preload":      {"tighten", "slacken"},
}

// endWords are the words at the two ends of a result's rule. A method that is not in the table is told by the value.
func endWords(r bench.Result) (up, down string) {
	keys, ok := ends[r.Method]
	if !ok {
		return "more", "less"
	}
	return directionWord(keys[0], r.Request), directionWord(keys[1], r.Request)
}

// directionWord is a direction in as few words as the plan has for it: of "into the cylinder, away from the cam" the last
// part, which tells the direction by the part that it leads to or from.
func directionWord(key string, req calc.Request) string {
	words := calc.Direction(key, req)
	if i := strings.LastIndex(words, ", "); i >= 0 {
		words = words[i+2:]
	}
	return words
}
