package plan

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// A formula is parted as strings.Fields parts it (Go's standard library) with a blank put around every sign.
func TestFormulaIsPartedAtBlanksAndSigns(t *testing.T) {
	around := strings.NewReplacer("+", " + ", "*", " * ", "/", " / ", "−", " - ")
	rapid.Check(t, func(t *rapid.T) {
		s := strings.Join(rapid.SliceOf(rapid.SampledFrom([]string{"bore", "rod-end", "2.5", " ", "\t", "+", "*", "/", "−", "-", "½", "\xff", "\u00a0"})).Draw(t, "parts"), "")
		if got, want := formulaWords(s), strings.Fields(around.Replace(s)); !slices.Equal(got, want) {
			t.Errorf("%q: %q, want %q", s, got, want)
		}
	})
}
