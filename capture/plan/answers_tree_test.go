package plan

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/calc"
)

// Every way of answering a plan's questions is read of one tree, so reading must leave the tree as the text has it.
func TestReadingLeavesTheTreeAlone(t *testing.T) {
	p, err := Load("pushrod-twin")
	if err != nil {
		t.Fatal(err)
	}
	ways := p.waysToAnswer()
	if len(ways) < 2 {
		t.Fatalf("the shipped plan asks too little: %v", ways)
	}
	root := parseTree(p.Text, &faults{})
	for _, answers := range ways {
		if _, err := readAnswered(root, p.Text, calc.Methods(), &faults{}, answers); err != nil {
			t.Fatalf("%v: %v", answers, err)
		}
	}
	if diff := cmp.Diff(parseTree(p.Text, &faults{}), root, cmp.AllowUnexported(node{}, field{}, pos{})); diff != "" {
		t.Errorf("reading changed the tree (-text +read):\n%s", diff)
	}
}
