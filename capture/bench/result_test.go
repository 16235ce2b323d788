package bench

import (
	"fmt"
	"testing"
)

// A result put in leaves the older results as they were, and copies nothing of another build or step.
func TestResultsCopyWhatTheyTouchAlone(t *testing.T) {
	var r Results
	for b := range 8 {
		for s := range 40 {
			r = r.With(Result{Build: fmt.Sprint(b), Step: fmt.Sprint(s), Pass: 1, N: 1})
		}
	}
	next := r.With(Result{Build: "3", Step: "7", Pass: 1, N: 2})
	slot := Slot{Build: "3", Step: "7", Pass: 1}
	if old, _ := r.Get(slot); old.N != 1 {
		t.Errorf("the older results changed: entry %d", old.N)
	}
	if now, _ := next.Get(slot); now.N != 2 {
		t.Errorf("the newer results say entry %d, want 2", now.N)
	}
	if len(next.All()) != 320 || len(next.Without("3").All()) != 280 {
		t.Errorf("%d results, %d without a build; want 320 and 280", len(next.All()), len(next.Without("3").All()))
	}
	// One build's table of steps, the table of builds and one run: not the other 319 results.
	size := testing.AllocsPerRun(100, func() { next = r.With(Result{Build: "3", Step: "7", Pass: 1, N: 2}) })
	if size > 20 {
		t.Errorf("%g allocations for one result", size)
	}
	if same := next.builds["4"]["7"][run{pass: 1}]; same != r.builds["4"]["7"][run{pass: 1}] {
		t.Error("another build's result was copied")
	}
}
