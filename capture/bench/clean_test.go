package bench_test

import (
	"reflect"
	"strings"
	"testing"
	"unicode"

	"thoud/capture/bench"
)

func TestTextsOfAVerbAreCleaned(t *testing.T) {
	place := bench.Place{Build: "17", Step: "deck\x1b[2J"}
	v := bench.Verb{ID: "01a2", Name: bench.DoOverride, By: "a\x9b31mb", Reason: " torn \x1b]0;title\x07\r\ngasket\u202e ", Initials: "\x00AB",
		Place: &place, Override: &bench.Override{What: "limit", Name: "deck\x7f"}, Build: &bench.Started{Job: "17", Text: "[[step]]\nid = \"a\"\n"}}
	got, err := v.Clean()
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ got, want string }{
		"by": {got.By, "a\ufffd31mb"}, "reason": {got.Reason, "torn  ]0;title   gasket"}, "initials": {got.Initials, "AB"},
		"place": {got.Place.Step, "deck [2J"}, "override": {got.Override.Name, "deck"}, "plan, word for word": {got.Build.Text, "[[step]]\nid = \"a\"\n"},
	} {
		if c.got != c.want {
			t.Errorf("%s: got %q, want %q", name, c.got, c.want)
		}
	}
	if place.Step != "deck\x1b[2J" {
		t.Error("the sender's own place was changed")
	}
}

// Every text of a verb has a limit, those that will be added too: the test goes by the fields there are.
func TestEveryTextHasALength(t *testing.T) {
	texts := 0
	for i, f := range reflect.VisibleFields(reflect.TypeFor[bench.Verb]()) {
		switch {
		case f.Type.Kind() == reflect.String:
			texts++
			v := bench.Verb{}
			reflect.ValueOf(&v).Elem().Field(i).SetString(strings.Repeat("x", 1<<20))
			if _, err := v.Clean(); err == nil {
				t.Errorf("a megabyte of %s is kept", f.Name)
			}
		case f.Type.Kind() == reflect.Pointer && f.Type.Elem().Kind() == reflect.Struct && f.Type.Elem().PkgPath() == "thoud/capture/bench":
			for j := range f.Type.Elem().NumField() {
				sub := f.Type.Elem().Field(j)
				if sub.Type.Kind() != reflect.String {
					continue
				}
				texts++
				v := bench.Verb{}
				in := reflect.New(f.Type.Elem())
				in.Elem().Field(j).SetString(strings.Repeat("x", 1<<20))
				reflect.ValueOf(&v).Elem().Field(i).Set(in)
				if _, err := v.Clean(); err == nil {
					t.Errorf("a megabyte of %s.%s is kept", f.Name, sub.Name)
				}
			}
		}
	}
	if texts < 20 {
		t.Errorf("only %d texts were found in a verb", texts)
	}
}

func FuzzCleanText(f *testing.F) {
	for _, s := range []string{"", "plain", "\x1b[31m", "é\u202e\u0000", "\xff\xfe", "\u2028"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := bench.CleanText(s)
		for _, r := range got {
			if unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) {
				t.Fatalf("%q keeps %U", got, r)
			}
		}
		if bench.CleanText(got) != got {
			t.Fatalf("%q is cleaned twice to another text", got)
		}
	})
}
