package plan_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"thoud/capture/plan"
)

// banned are words that no sentence of a plan that ships has: a reading is read and not taken, what is to go is not
// left, and nothing is ensured or done carefully. Promises and judgements can't be answered with yes or no.
var banned = []string{"ensure", "carefully", "as required", "properly", "take the reading", "make sure", "please",
	"left over", "is left", "none left", "travel left"} // left is a side, and nothing else

// signs finds a direction that is told by its sign; it is told in words of the trade.
var signs = regexp.MustCompile(`(^|\s)[+−-]\d`)

// words counts the words of a sentence; a figure with its unit is one.
func words(s string) int {
	s = regexp.MustCompile(`(\d[\d./,]*) (in|mm|deg|degrees|thou|lbf·ft|N|kN|cm3|minutes|hours)\b`).ReplaceAllString(s, "$1")
	return len(strings.Fields(s))
}

// A point has a sentence of at most eight words; the lines of a list have eight at most, and a list five. What is said is
// said in the plan's own few words.
func TestShippedPlanSpeaksShort(t *testing.T) {
	for _, p := range shapes(t, "first-fit", "pushrod-twin", "pushrod-v") {
		for _, s := range p.Steps {
			short := map[string]string{"do": s.Do}
			for _, pt := range s.Points {
				short["point "+pt.ID] = pt.Do
			}
			for _, c := range s.Confirms {
				short["confirms "+c.ID] = c.Text
			}
			for where, text := range short {
				if n := words(text); n > 8 {
					t.Errorf("%s, %s: %d words: %s", s.ID, where, n, text)
				}
			}
			if len(s.Confirms) > 5 {
				t.Errorf("%s asks %d things in one list", s.ID, len(s.Confirms))
			}
			long := slices.Concat([]string{s.Title, s.Do}, s.Notes, s.Cautions)
			for _, text := range append(long, shortTexts(short)...) {
				for _, b := range banned {
					if strings.Contains(strings.ToLower(text), b) {
						t.Errorf("%s says %q: %s", s.ID, b, text)
					}
				}
			}
			for _, pt := range s.Points {
				if m := signs.FindString(pt.Title); m != "" {
					t.Errorf("%s, point %s tells a direction by its sign, %q: %s", s.ID, pt.ID, m, pt.Title)
				}
			}
			for _, text := range shortTexts(short) {
				if m := signs.FindString(text); m != "" {
					t.Errorf("%s tells a direction by its sign, %q: %s", s.ID, m, text)
				}
			}
		}
	}
}

func shortTexts(m map[string]string) []string {
	var out []string
	for _, s := range m {
		out = append(out, s)
	}
	return out
}

// A sentence about a part of one side names the side.
func TestShippedPlanNamesTheSide(t *testing.T) {
	for _, p := range shapes(t, "first-fit", "pushrod-twin", "pushrod-v") {
		namesTheSide(t, p)
	}
}

func namesTheSide(t *testing.T, p *plan.Plan) {
	t.Helper()
	for _, s := range p.Steps {
		for _, pt := range s.Points {
			first, _, _ := strings.Cut(pt.ID, ".")
			if slices.Contains(p.Cylinders, first) && !strings.Contains(pt.Title, first) {
				t.Errorf("%s/%s: the title does not name the %s: %s", s.ID, pt.ID, first, pt.Title)
			}
			if slices.Contains(p.Cylinders, first) && pt.FromPass < 2 && !strings.Contains(pt.Do, first) {
				t.Errorf("%s/%s: the sentence does not name the %s: %s", s.ID, pt.ID, first, pt.Do)
			}
		}
	}
}

// A step has one caution at most, and the plan few of them: what is shown at every step is read at none.
func TestShippedCautionsAreFew(t *testing.T) {
	for _, p := range shapes(t, "first-fit", "pushrod-twin", "pushrod-v") {
		all := map[string]bool{} // one that was read is not shown again on that day
		for _, s := range p.Steps {
			if len(s.Cautions) > 1 {
				t.Errorf("%s has %d cautions; put them into one", s.ID, len(s.Cautions))
			}
			for _, c := range s.Cautions {
				all[c] = true
			}
		}
		if len(all) > 32 {
			t.Errorf("%d cautions", len(all))
		}
	}
}
