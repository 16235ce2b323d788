package plan_test

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"thoud/capture/plan"
)

// A plan that is remembered is given for every way of answering that comes to the same. So what does not decide must change
// nothing, in every plan that shipped or is kept: the first choices given as answers, and answers to what is not asked. What
// decides is left as it was given.
func TestAnswersThatDoNotDecideChangeNothing(t *testing.T) {
	texts := map[string][]byte{}
	kept, err := filepath.Glob("../../testdata/plan/*.toml")
	if err != nil || len(kept) == 0 {
		t.Fatalf("no kept plans: %v", err)
	}
	for _, f := range kept {
		if texts[strings.TrimSuffix(filepath.Base(f), ".toml")], err = os.ReadFile(f); err != nil {
			t.Fatal(err)
		}
	}
	shipped, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range shipped {
		p, err := plan.Load(name)
		if err != nil {
			t.Fatal(err)
		}
		texts[name] = p.Text
	}
	asked, decided := 0, 0
	for name, text := range texts {
		k := plan.ReadKept(name, text)
		without, err := k.Answered(nil)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		first := map[string]string{"nobody-asks-this": "yes"}
		for _, s := range without.Steps {
			for _, a := range s.Asks {
				asked++
				first[a.ID] = a.Choice[0]
				for _, other := range a.Choice[1:] {
					given := map[string]string{a.ID: other, "nobody-asks-this": "yes"}
					if diff := cmp.Diff(map[string]string{a.ID: other}, without.Deciding(given)); diff != "" {
						t.Errorf("%s, %v (-want +got):\n%s", name, given, diff)
					}
					with, err := k.Answered(given)
					if err != nil {
						t.Fatalf("%s, %v: %v", name, given, err)
					}
					if !reflect.DeepEqual(without, with) {
						decided++
					}
				}
			}
		}
		if got := without.Deciding(first); len(got) != 0 {
			t.Errorf("%s: of the first choices %v decide", name, got)
		}
		with, err := k.Answered(first)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(without, with) {
			t.Errorf("%s: its first choices as answers make another plan of it", name)
		}
	}
	if asked < 5 || decided < 5 {
		t.Errorf("too little was looked at: %d questions, %d answers that decide", asked, decided)
	}
}
