package sheet

import (
	"strings"
	"testing"
)

// Every entry is set, whatever the number of columns, also one alone and one that is higher than a page.
func TestColumnsSetEveryEntry(t *testing.T) {
	long := strings.Repeat("a long line of a value's name that goes over to the next line ", 150)
	for name, entries := range map[string][]entry{
		"none": nil, "one": {{Text: "a", Shown: "1"}}, "two": {{Text: "a"}, {Text: "b"}},
		"one higher than a page": {{Text: "a"}, {Text: long}, {Text: "b"}}, "three hundred": make([]entry, 300),
	} {
		for n := 1; n <= 4; n++ {
			p, err := newPDFWriter(Sheet{Job: "1"}, Options{})
			if err != nil {
				t.Fatal(err)
			}
			p.columns(n, entries)
			if pages := p.pdf.PageNo(); pages > 8 {
				t.Errorf("%s in %d columns takes %d pages", name, n, pages)
			}
			if err := p.pdf.Error(); err != nil {
				t.Errorf("%s in %d columns: %v", name, n, err)
			}
		}
	}
}
