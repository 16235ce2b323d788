package calc

import (
	"testing"

	"thoud/calc/quantity"
)

// A limit is shown on a face as the gauge can show it, rounded into the band; numbers by hand.
func TestLimitsAreShownAsTheyCanBeRead(t *testing.T) {
	const halfThou, hundredth = 0.0005 * inch, 0.01
	at := func(x float64) *float64 { return &x }
	for _, row := range []struct {
		l         Limit
		step      float64
		value     *float64
		mm, words string
	}{
		{Limit{Lower: at(0.00063 * inch), Upper: at(0.02063 * inch)}, halfThou, at(0.0106 * inch), "0.02 to 0.52 mm", "0.0010 to 0.0205 in"},
		{Limit{Lower: at(0.00063 * inch), Upper: at(0.02063 * inch)}, halfThou, at(0.0008 * inch), "0.02 to 0.52 mm", "0.00063 to 0.02063 in"}, // it is in: 0.0203 mm, not under 0.02
		{Limit{Lower: at(0.00063 * inch), Upper: at(0.02063 * inch)}, 0, nil, "≈ 0.017 to ≈ 0.524 mm", "0.00063 to 0.02063 in"},
		{Limit{Upper: at(0.0015 * inch)}, halfThou, nil, "at most 0.03 mm", "at most 0.0015 in"},
		{Limit{Upper: at(0.0004 * inch)}, halfThou, nil, "at most ≈ 0.01 mm", "at most 0.0004 in"},    // four places can be read
		{Limit{Upper: at(0.00037 * inch)}, halfThou, nil, "at most ≈ 0.009 mm", "at most 0.00037 in"}, // nothing would be left
		{Limit{Lower: at(0.5), Upper: at(0.75)}, hundredth, nil, "0.50 to 0.75 mm", "≈ 0.0197 to ≈ 0.0295 in"},
		{Limit{Lower: at(-0.004)}, hundredth, nil, "at least -0.004 mm", "at least ≈ -0.0001 in"},
	} {
		if got := ShowLimitsRead(quantity.Length, row.l, row.step, row.value); got.MM != row.mm || got.Inch != row.words {
			t.Errorf("%v by %g: %q and %q, want %q and %q", row.l, row.step, got.MM, got.Inch, row.mm, row.words)
		}
	}
	if got := ShowLimitsRead(quantity.Angle, Limit{Lower: at(-0.333), Upper: at(0.333)}, 0.1, nil); got.MM != "-0.3 to 0.3°" && got.MM != "-0.3° to 0.3°" {
		t.Errorf("by an angle gauge: %q", got.MM)
	}
	if got := ShowLimitRead(quantity.Length, 0.00063*inch, halfThou, true); got.Inch != "0.0007 in" || got.MM != "0.02 mm" {
		t.Errorf("beside the rule: %+v", got)
	}
}
