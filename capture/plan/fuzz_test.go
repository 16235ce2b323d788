package plan_test

import (
	"errors"
	"strings"
	"testing"
	"unicode"

	"github.com/google/go-cmp/cmp"

	"thoud/capture/plan"
)

// Whatever is read: no panic, a fault stands inside the file and is fit to print, and a plan that was accepted holds
// what the bench counts on.
func FuzzParse(f *testing.F) {
	names, err := plan.Shipped()
	if err != nil {
		f.Fatal(err)
	}
	for _, name := range names {
		text, err := plan.ShippedText(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte(sound))
	for _, c := range faultCases {
		f.Add([]byte(strings.Replace(sound, c.old, c.new, 1)))
	}
	f.Add([]byte("[[a]]\n[a.b]\n[[a.b]]\nc.d=1\nc=2"))
	f.Add([]byte("step = [1, {id=2}, [3]]\nengine = 5\ncylinders = {a=1}"))
	f.Add([]byte("\xff\x00"))
	f.Fuzz(func(t *testing.T, text []byte) {
		p, err := plan.Parse("fuzz", text)
		if err != nil {
			if p != nil {
				t.Fatal("a plan besides an error")
			}
			checkFaults(t, text, err)
			return
		}
		checkSound(t, p)
		again, err := plan.Parse("fuzz", p.Text)
		if err != nil {
			t.Fatalf("the plan's own text: %v", err)
		}
		if d := cmp.Diff(p, again); d != "" {
			t.Fatalf("read twice:\n%s", d)
		}
	})
}

func checkFaults(t *testing.T, text []byte, err error) {
	t.Helper()
	var fs plan.Faults
	if !errors.As(err, &fs) || len(fs) == 0 {
		t.Fatalf("error is %T", err)
	}
	lines := strings.Split(string(text), "\n")
	for _, f := range fs {
		if f.Line < 1 || f.Line > len(lines) || f.Column < 1 || f.Column > len(lines[f.Line-1])+1 {
			t.Fatalf("%d:%d is not in the file: %s", f.Line, f.Column, f.What)
		}
		for _, r := range f.What {
			if !unicode.IsPrint(r) {
				t.Fatalf("fault is not fit to print: %q", f.What)
			}
		}
	}
}

func checkSound(t *testing.T, p *plan.Plan) {
	t.Helper()
	if p.Title == "" || len(p.Cylinders) == 0 || len(p.Steps) == 0 {
		t.Fatal("a plan without title, cylinders or steps")
	}
	for i, s := range p.Steps {
		if p.Index(s.ID) != i {
			t.Fatalf("step %q is not found where it is", s.ID)
		}
		for _, n := range s.Needs {
			if j := p.Index(n); j < 0 || j >= i {
				t.Fatalf("step %q needs %q", s.ID, n)
			}
		}
		if s.Seatings < 1 || s.Kind == plan.Measure && (len(s.Wanted(1)) == 0 || s.Capture.Mode == "" || s.Capture.Role == "") {
			t.Fatalf("step %q can't be measured", s.ID)
		}
		if s.Compute == nil {
			continue
		}
		for name, l := range s.Compute.Limits {
			if l.Lower == nil && l.Upper == nil || l.Lower != nil && l.Upper != nil && *l.Lower >= *l.Upper {
				t.Fatalf("step %q: limits of %s", s.ID, name)
			}
		}
	}
}
