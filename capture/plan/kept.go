package plan

import (
	"maps"

	"thoud/calc"
)

// Kept is the text that a build keeps, read once: a plan is made of it for every way of answering its questions, which takes
// half as long as reading the text again. Safe for concurrent use.
type Kept struct {
	name string
	text []byte
	root *node   // nil where the text is no TOML
	odd  *faults // what reading the text found; it is not added to
}

// ReadKept reads the text that a build keeps; what is wrong with it is told by Answered.
func ReadKept(name string, text []byte) *Kept {
	fs := &faults{file: name, kept: true}
	return &Kept{name: name, text: text, root: parseTree(text, fs), odd: fs}
}

// Answered is ParseKept with answers to the plan's questions; those that are not answered stand as with their first choice.
func (k *Kept) Answered(answers map[string]string) (*Plan, error) {
	fs := k.odd.clone()
	if k.root == nil {
		return nil, fs.err()
	}
	return readAnswered(k.root, k.text, calc.Methods(), fs, maps.Clone(answers))
}

// ParseAnswered reads a text that a build keeps with its questions answered, see Kept.
func ParseAnswered(name string, text []byte, answers map[string]string) (*Plan, error) {
	return ReadKept(name, text).Answered(answers)
}
