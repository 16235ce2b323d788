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

// What stands under an entry is set in from its left end, and ends within its column all the same.
func TestRemarksEndWithinTheirColumn(t *testing.T) {
	p, err := newPDFWriter(Sheet{Job: "1"}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for n := 40; n < 120; n++ {
		e := entry{Text: "a", Remark: strings.Repeat("word ", 6) + strings.Repeat("i", n) + " end"}
		_, lines, _ := p.entryLines(e, 90)
		for _, l := range lines {
			p.font("", remarkSize)
			if w := p.pdf.GetStringWidth(l); strings.Contains(l, " ") && remarkIndent+w > 90 {
				t.Errorf("%q ends at %.1f mm of 90", l, remarkIndent+w)
			}
		}
	}
}

// The gauges are called by words, and each letter of a source stands in brackets as it does beside the values.
func TestGaugesAndSourcesAreCalledInWords(t *testing.T) {
	p, err := newPDFWriter(Sheet{Job: "1"}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	got := p.gaugeEntries([]Gauge{{Name: "wheel-1", Role: "wheel", Readings: 2}})
	if len(got) != 1 || got[0].Text != "wheel-1, degree wheel, read by eye" {
		t.Errorf("the gauges: %+v", got)
	}
	data := []Datum{{Name: "a", Source: "example engine"}, {Name: "b", Source: "example engine"}, {Name: "c", Source: "example engine"}}
	if _, key := dataEntries(Sheet{Data: data}, Options{}); !strings.Contains(key, "Sources: (a) example engine.") {
		t.Errorf("the sources: %q", key)
	}
}
