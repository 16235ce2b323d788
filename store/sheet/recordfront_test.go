package sheet_test

import (
	"bytes"
	"errors"
	"html"
	"regexp"
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/store/sheet"
)

// What the engine's record says of whose engine it is stands on the first page, each in the box of its name: in the page and
// on paper.
func TestTheFirstPageSaysWhoseEngineItIs(t *testing.T) {
	record := []struct{ name, box, word string }{
		{"engine_number", "engine no.", "T 207"}, {"frame_number", "frame no.", "F 1138"}, {"customer", "customer", "A. Rider"},
		{"shop", "shop", "The Lower Shed"}, {"builder", "built by", "K. Bolt"},
	}
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	s := &scene{t: t}
	set := &bench.EngineSet{Engine: "shop twin no. 4"}
	for _, r := range record {
		set.Values = append(set.Values, bench.EngineValue{Name: r.name, Word: r.word, Source: "builder's choice"})
	}
	s.add(bench.Entry{Kind: bench.EngineValues, Engine: set, By: "K.B."})
	s.add(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: "17", Engine: "shop twin no. 4", Plan: "first-fit", Text: string(text)}})
	o := sheet.Options{System: quantity.Inch, Brief: true}
	var page, paper bytes.Buffer
	if err := errors.Join(sheet.HTML(&page, s.sheet(), o), sheet.PDF(&paper, s.sheet(), o)); err != nil {
		t.Fatal(err)
	}
	shown := strings.Join(strings.Fields(html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(page.String(), " "))), " ")
	onPaper := pdfText(t, paper.Bytes())
	for _, r := range record {
		if want := r.box + " " + r.word; !strings.Contains(shown, want) {
			t.Errorf("the page has no %q", want)
		}
		if onPaper != "" && (!strings.Contains(onPaper, r.box) || !strings.Contains(onPaper, r.word)) {
			t.Errorf("the paper has no %s %q", r.box, r.word)
		}
	}
}
