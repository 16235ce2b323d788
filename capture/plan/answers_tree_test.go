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
	root := parseTree(p.Text, &faults{})
	ways := p.waysToAnswer(root.decides(map[string]bool{}))
	if len(ways) < 2 {
		t.Fatalf("the shipped plan asks too little: %v", ways)
	}
	for _, answers := range ways {
		if _, err := readAnswered(root, p.Text, calc.Methods(), &faults{everyAnswer: true}, answers); err != nil {
			t.Fatalf("%v: %v", answers, err)
		}
	}
	for _, choices := range p.Shapes() {
		if _, err := readAnswered(root.shaped(choices), p.Text, calc.Methods(), &faults{}, nil); err != nil {
			t.Fatalf("%v: %v", choices, err)
		}
	}
	if diff := cmp.Diff(parseTree(p.Text, &faults{}), root, cmp.AllowUnexported(node{}, field{}, pos{})); diff != "" {
		t.Errorf("reading changed the tree (-text +read):\n%s", diff)
	}
}

// A text that is kept tells the same faults however often a plan is made of it.
func TestAKeptTextTellsItsFaultsEachTime(t *testing.T) {
	for _, text := range []string{"title = \"A\"\nversion = 0\n", "title = \"A\"\ntitle = \"B\"\n", "= ="} {
		k := ReadKept("one.toml", []byte(text))
		var said []string
		for range 2 {
			_, err := k.Answered(nil)
			if err == nil {
				t.Fatalf("%q is no plan, and was taken", text)
			}
			said = append(said, err.Error())
		}
		if _, err := ParseKept("one.toml", []byte(text)); said[0] != said[1] || said[0] != err.Error() {
			t.Errorf("%q: said %q, then %q; read by itself %q", text, said[0], said[1], err)
		}
	}
}
