package bench_test

import (
	"testing"

	"thoud/calc"
	"thoud/capture/bench"
)

// TestAnOrderThatWasCarriedOutIsNotToldAgain: the lash that was found has no limits and asks for a move; once the locked lash is
// in, the move was done. Where a locked one is out, or nothing was judged, the order stands, and so does that of another
// computation.
func TestAnOrderThatWasCarriedOutIsNotToldAgain(t *testing.T) {
	of := func(method string, verdicts ...calc.Verdict) []bench.Result {
		var out []bench.Result
		for _, v := range verdicts {
			out = append(out, bench.Result{Result: calc.Result{Method: method, Verdict: v}})
		}
		return out
	}
	found := calc.Result{Method: "valve-lash"}
	for name, c := range map[string]struct {
		all  []bench.Result
		want bool
	}{
		"locked and in":       {of("valve-lash", calc.NoVerdict, calc.VerdictIn, calc.VerdictIn), true},
		"one locked is out":   {of("valve-lash", calc.NoVerdict, calc.VerdictIn, calc.VerdictOut), false},
		"too close to call":   {of("valve-lash", calc.NoVerdict, calc.VerdictTooClose), false},
		"nothing judged":      {of("valve-lash", calc.NoVerdict), false},
		"another computation": {of("statistics", calc.VerdictIn), false},
	} {
		if got := bench.ReadSince(c.all, found); got != c.want {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}
