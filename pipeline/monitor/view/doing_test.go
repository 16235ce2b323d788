package view

import (
	"strings"
	"testing"
	"time"

	"thoud/capture/bench"
)

// What a bench does is said in one line, from the first step to the time that holds the next, and after it. The compound cures
// for 90 minutes from the confirmation, as the plan of the test says.
func TestDoingInOneLine(t *testing.T) {
	if words, until := Doing(bench.Scene{}); words != "no build on the bench" || until != 0 {
		t.Errorf("without a build: %q until %d", words, until)
	}
	p := play(t, planOf(drilledStep))
	says := func(sc bench.Scene, want string) (until int64) {
		t.Helper()
		words, until := Doing(sc)
		if !strings.Contains(words, want) {
			t.Errorf("%q, want %q in it", words, want)
		}
		return until
	}
	says(p.scene(), "job 17: next: ")
	p.add(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "17", Step: "smeared"}})
	if until := says(p.scene(), "Compound on: asks: It is on?"); until != 0 {
		t.Errorf("nothing runs, and it changes at %d", until)
	}
	p.add(bench.Entry{Kind: bench.Confirmed, Place: bench.Place{Build: "17", Step: "smeared"}, Item: "on"})
	p.add(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "17", Step: "drilled"}})
	sc := p.scene()
	over := time.UnixMicro(sc.Now).Add(90 * time.Minute)
	until := says(sc, "Drilled: held until "+moment(over.UnixMicro(), sc.Now)+", compound of Compound on")
	if off := time.UnixMicro(until).Sub(over).Abs(); off > 10*time.Second {
		t.Errorf("it changes %v off", off)
	}
	sc.Now = until
	if until := says(sc, "step 2 of 2, Drilled: measuring, left"); until != 0 {
		t.Errorf("it is over, and changes again at %d", until)
	}
	p.add(bench.Entry{Kind: bench.GaugeLost, Link: &bench.Link{Gauge: "dial-1"}})
	sc = p.scene()
	sc.Now = until
	says(sc, `waits for gauge "dial-1"`)
}

// A time of another day is told with its day.
func TestMomentOfAnotherDay(t *testing.T) {
	at := time.Date(2027, 3, 1, 14, 30, 0, 0, time.Local)
	if got := moment(at.UnixMicro(), at.Add(-time.Hour).UnixMicro()); got != "14:30" {
		t.Error(got)
	}
	if got := moment(at.UnixMicro(), at.Add(-24*time.Hour).UnixMicro()); got != "2027-03-01 14:30" {
		t.Error(got)
	}
}
