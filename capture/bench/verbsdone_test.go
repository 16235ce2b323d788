package bench

import (
	"fmt"
	"testing"
)

// A verb is remembered for at least 512 further ones, two states made of one do not disturb each other, and remembering
// one more costs the same however many there are.
func TestVerbsAreRemembered(t *testing.T) {
	var v Verbs
	for n := range uint64(3000) {
		v = v.with(VerbDone{fmt.Sprint(n), n})
	}
	s := State{Verbs: v}
	for n := uint64(3000 - verbsKept); n < 3000; n++ {
		if got, ok := s.Did(fmt.Sprint(n)); !ok || got != n {
			t.Fatalf("verb %d: entry %d, %v", n, got, ok)
		}
	}
	if _, ok := s.Did("1000"); ok {
		t.Error("a verb of long ago is still remembered: they grow without end")
	}
	a, b := v.with(VerbDone{"a", 3001}), v.with(VerbDone{"b", 3001})
	if _, ok := (State{Verbs: a}).Did("b"); ok {
		t.Error("one state remembers what was done in another")
	}
	if _, ok := (State{Verbs: b}).Did("a"); ok {
		t.Error("one state remembers what was done in another")
	}
	all := v.All()
	for i := 1; i < len(all); i++ {
		if all[i].N != all[i-1].N+1 {
			t.Fatalf("verb %d follows %d", all[i].N, all[i-1].N)
		}
	}
	if n := testing.AllocsPerRun(100, func() { v.with(VerbDone{"x", 1}) }); n > 1 {
		t.Errorf("%g allocations for one verb, want 1", n)
	}
}
