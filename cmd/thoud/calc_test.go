package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"thoud/calc"
	"thoud/calc/form"
)

// runCalc runs the command as main would and gives its output and exit status.
func runCalc(t *testing.T, stdin string, args ...string) (stdout, message string, status int) {
	t.Helper()
	cmd := newCalcCommand()
	var out bytes.Buffer
	cmd.SetIn(strings.NewReader(stdin))
	cmd.SetOut(&out)
	cmd.SetErr(&out)
	cmd.SetArgs(args)
	err := cmd.Execute()
	if err == nil {
		return out.String(), "", 0
	}
	var e *exitError
	if !errors.As(err, &e) {
		t.Fatalf("%v: an error without a status: %v", args, err)
	}
	return out.String(), err.Error(), e.code
}

const contact = `{"protrusion": "0.212 in", "clearance": "0.050 in", "side": "outside", "now": "0.240 in"}`

func TestCalcComputes(t *testing.T) {
	file := filepath.Join(t.TempDir(), "contact.json")
	if err := os.WriteFile(file, []byte(contact), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, args := range map[string][]string{"stdin": {"contact-clearance", "--units", "inch"}, "dash": {"contact-clearance", "-", "--units=inch"}, "file": {"contact-clearance", file, "--units", "inch"}} {
		out, message, status := runCalc(t, contact, args...)
		if status != 0 {
			t.Fatalf("%s: status %d: %s", name, status, message)
		}
		var got struct {
			Figures map[string]struct {
				Value float64
				Unit  string
			}
		}
		if err := json.Unmarshal([]byte(out), &got); err != nil {
			t.Fatalf("%s: %v in %s", name, err, out)
		}
		// 0.212 + 0.050 in by hand.
		if f := got.Figures["target"]; f.Value != 0.262 || f.Unit != "in" {
			t.Errorf("%s: target %+v, want 0.262 in", name, f)
		}
	}
}

func TestCalcStatuses(t *testing.T) {
	for _, tc := range []struct {
		name, stdin string
		args        []string
		status      int
		says        string
	}{
		{"wrong kind", `{"protrusion": "0.050 deg", "clearance": "1 mm"}`, []string{"contact-clearance"}, 2, `protrusion: got "0.050 deg"`},
		{"unknown field", `{"protrusions": "1 mm"}`, []string{"contact-clearance"}, 2, "protrusions"},
		{"no JSON", `protrusion`, []string{"contact-clearance"}, 2, "no JSON"},
		{"no method", ``, []string{"guesswork"}, 2, `"guesswork"`},
		{"no file", ``, []string{"decide", filepath.Join(t.TempDir(), "none.json")}, 2, "none.json"},
		{"two files", ``, []string{"decide", "a", "b"}, 2, "2 files"},
		{"units", contact, []string{"contact-clearance", "--units", "cubit"}, 2, `"cubit"`},
		{"flag", contact, []string{"contact-clearance", "--colour"}, 2, "--colour"},
		{"plot name", contact, []string{"contact-clearance", "--plot", "x.gif"}, 2, `"x.gif"`},
		{"no picture", contact, []string{"contact-clearance", "--plot", filepath.Join(t.TempDir(), "x.svg")}, 2, "no picture"},
		{"refused", `{"protrusion": "5 mm", "clearance": "1 mm", "start": "5 mm"}`, []string{"contact-clearance"}, 3, "never touched it"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			out, message, status := runCalc(t, tc.stdin, tc.args...)
			if status != tc.status || !strings.Contains(message, tc.says) {
				t.Fatalf("got status %d, %q, want %d with %q", status, message, tc.status, tc.says)
			}
			// Both come in their parts on standard output, with the sentence that standard error has.
			type why struct{ Field, Reason, Remedy, Words string }
			var got struct {
				Method             string
				Malformed, Refused *why
			}
			if err := json.Unmarshal([]byte(out), &got); err != nil {
				t.Fatalf("%v in %s", err, out)
			}
			told := got.Malformed
			if tc.status == 3 {
				told = got.Refused
			}
			if told == nil || (got.Malformed == nil) == (got.Refused == nil) || told.Field == "" || told.Reason == "" || !strings.Contains(message, told.Words) {
				t.Errorf("got %s", out)
			}
		})
	}
}

func TestCalcListAndHelp(t *testing.T) {
	list, _, status := runCalc(t, "")
	if status != 0 {
		t.Fatalf("status %d", status)
	}
	for _, m := range calc.Methods() {
		if !strings.Contains(list, m.Name+" ") || !strings.Contains(list, m.Title) {
			t.Errorf("%s is not in the list", m.Name)
		}
		for _, flag := range []string{"--help", "-h"} {
			help, _, status := runCalc(t, "", m.Name, flag)
			if status != 0 {
				t.Fatalf("%s %s: status %d", m.Name, flag, status)
			}
			var want []string
			for _, in := range m.Inputs {
				want = append(want, in.Name)
			}
			for _, f := range m.Figures {
				want = append(want, f.Name)
			}
			for _, s := range append(append(want, m.Formula, m.Source), m.Cautions...) {
				if !strings.Contains(help, s) {
					t.Errorf("%s %s does not say %q", m.Name, flag, s)
				}
			}
		}
	}
}

func TestCalcPlot(t *testing.T) {
	form := `{"angle": {"value": [0,45,90,135,180,225,270,315], "unit": "deg"}, "reading": {"value": [0.0, 0.012, 0.021, 0.022, 0.014, 0.003, -0.007, -0.008], "unit": "mm"}}`
	for ext, magic := range map[string]string{".svg": "<svg ", ".png": "\x89PNG"} {
		file := filepath.Join(t.TempDir(), "runout"+ext)
		if _, message, status := runCalc(t, form, "runout", "--plot", file); status != 0 {
			t.Fatalf("status %d: %s", status, message)
		}
		b, err := os.ReadFile(file)
		if err != nil || !strings.HasPrefix(string(b), magic) {
			t.Errorf("%s: %v, begins with %q", ext, err, b[:min(len(b), 8)])
		}
	}
}

// What a terminal shows: a table with units and honest digits.
func TestCalcPrintsForPeople(t *testing.T) {
	m, _ := calc.Find("contact-clearance")
	req, err := form.Read(m, []byte(`{"protrusion": {"value": 0.212, "unit": "in", "u": 0.0002}, "clearance": "0.050 in", "side": "outside", "now": "0.240 in", "limits": {"clearance_now": {"lower": "0.0279 in"}}}`))
	if err != nil {
		t.Fatal(err)
	}
	res, err := calc.Run(req)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := printCalculation(&b, m, res, "inch"); err != nil {
		t.Fatal(err)
	}
	want := `Guide-block clearance by contact transfer

  move the block 22 thou away from the cam

  contact          0.2120 in  ± 0.0004 in
  target           0.2620 in  ± 0.0004 in
  clearance now    0.0280 in  ± 0.0004 in  too close to call
  move             0.0220 in  ± 0.0004 in
  grind            0.0000 in
  built clearance  0.0280 in  ± 0.0004 in

clearance now: 0.0001 in from the limit, which is less than the uncertainty of 0.0004 in; use a better gauge, take another seating, or make it 0.0003 in more, which is clearly inside

verdict: too close to call
`
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}
