package sheet_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"html"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/store/sheet"
)

func paper(t *testing.T, s sheet.Sheet, o sheet.Options) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := sheet.PDF(&b, s, o); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Names in Greek and Cyrillic letters stand as they are, and what the font lacks is written as its code point and said.
func TestEveryNameCanBeWritten(t *testing.T) {
	s := play(t).sheet()
	s.Engine = "Νίκος Ψάλτης, Юрий Ёлкин, Łódź, ½ µm ≤ 3″"
	s.Front.Customer = "漢 & <Söhne>"
	text := pdfText(t, paper(t, s, sheet.Options{System: quantity.Inch}))
	if text == "" {
		return
	}
	for _, want := range []string{s.Engine, "[U+6F22] & <Söhne>", "lacks U+6F22: each stands as its code point"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in the PDF: %.600s", want, text)
		}
	}
	s.Front.Customer = "Söhne"
	if text := pdfText(t, paper(t, s, sheet.Options{System: quantity.Inch})); strings.Contains(text, "code point") {
		t.Error("a lacking character is spoken of, and there is none")
	}
}

func TestAdviceIsGivenOnce(t *testing.T) {
	s := play(t).sheet()
	s.Cautions = []string{"This plan advises only.", "Turn by hand, plugs out."}
	o := sheet.Options{System: quantity.Inch, Readings: true}
	var page bytes.Buffer
	if err := sheet.HTML(&page, s, o); err != nil {
		t.Fatal(err)
	}
	for where, text := range map[string]string{"page": html.UnescapeString(page.String()), "PDF": pdfText(t, paper(t, s, o))} {
		if text == "" {
			continue
		}
		for what, want := range map[string]int{"advises": 1, "no proof that an engine is fit": 1, "Turn by hand, plugs out.": 1} {
			if got := strings.Count(text, what); got != want {
				t.Errorf("the %s says %q %d times, want %d", where, what, got, want)
			}
		}
	}
}

// What a reader program asks of a PDF: a title, a language, an outline, and fonts inside it. Read by another program than the
// one that wrote it.
func TestThePDFIsWhole(t *testing.T) {
	b := paper(t, play(t).sheet(), sheet.Options{System: quantity.Inch})
	for _, want := range []string{"/Lang (en)", "/Outlines ", "/PageMode /UseOutlines"} {
		if !bytes.Contains(b, []byte(want)) {
			t.Errorf("the PDF has no %s", want)
		}
	}
	tool, err := exec.LookPath("pdffonts")
	if err != nil {
		t.Log("not run: no pdffonts here to look at the fonts with")
		return
	}
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, b, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, file).Output()
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")[2:]
	if len(lines) == 0 {
		t.Fatal("the PDF has no fonts")
	}
	for _, l := range lines {
		// name, type (two words), encoding, embedded, subset, to Unicode, object
		if f := strings.Fields(l); len(f) < 7 || f[4] != "yes" || f[6] != "yes" {
			t.Errorf("a font that is not inside, or whose text cannot be copied: %s", l)
		}
	}
	if len(b) > 600_000 {
		t.Errorf("%d bytes: the font was not cut down to what is used", len(b))
	}
}

func TestTimesAreTheShops(t *testing.T) {
	s := play(t).sheet()
	made, err := time.Parse(time.RFC3339, s.Made)
	if err != nil {
		t.Fatal(err)
	}
	o := sheet.Options{System: quantity.Inch, Zone: time.FixedZone("SHOP", 5*3600+1800)}
	want := made.Add(5*time.Hour+30*time.Minute).Format("2006-01-02 15:04") + " SHOP"
	var page bytes.Buffer
	if err := sheet.HTML(&page, s, o); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(page.String(), want) {
		t.Errorf("the page does not say %q", want)
	}
	if text := pdfText(t, paper(t, s, o)); text != "" && !strings.Contains(text, want) {
		t.Errorf("the PDF does not say %q", want)
	}
	var table bytes.Buffer
	if err := sheet.CSV(&table, s, o); err != nil {
		t.Fatal(err)
	}
	table.Next(len("\ufeff"))
	rows, err := csv.NewReader(&table).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at, hours := slices.Index(rows[0], "taken (local)"), slices.Index(rows[0], "hours from UTC")
	r := s.Steps[0].Passes[0].Readings[0]
	taken, err := time.Parse(time.RFC3339, r.At)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := rows[1][at], taken.Add(5*time.Hour+30*time.Minute).Format("2006-01-02 15:04:05"); got != want || rows[1][hours] != "5.5" {
		t.Errorf("the first reading was taken at %q, %q hours from UTC; want %q and 5.5", got, rows[1][hours], want)
	}
}

// An order beside "in" is in the JSON form and nowhere else.
func TestWhatIsInIsLeft(t *testing.T) {
	s := play(t).sheet()
	kept := 0
	for _, p := range s.Steps[0].Passes {
		for _, a := range p.Adjustments {
			if a.Answers == "in" {
				kept++
			}
		}
	}
	if kept == 0 {
		t.Fatal("the scene has no order beside in")
	}
	s.Steps[0].Passes[3].Adjustments[0].Words.Inch = "never to be told"
	if s.Steps[0].Passes[3].Adjustments[0].Answers != "in" {
		t.Fatalf("the last pass is not in: %+v", s.Steps[0].Passes[3].Adjustments[0])
	}
	o := sheet.Options{System: quantity.Inch, Readings: true}
	var page, table, data bytes.Buffer
	if err := errors.Join(sheet.HTML(&page, s, o), sheet.CSV(&table, s, o), sheet.JSON(&data, s)); err != nil {
		t.Fatal(err)
	}
	for where, text := range map[string]string{"page": page.String(), "table": table.String(), "PDF": pdfText(t, paper(t, s, o))} {
		if strings.Contains(text, "never to be told") {
			t.Errorf("the %s tells it", where)
		}
	}
	if !strings.Contains(data.String(), "never to be told") {
		t.Error("the JSON form lost it")
	}
}

func TestASpreadsheetTakesTextsAsTexts(t *testing.T) {
	for _, text := range []string{"=1+1", "+0.0120 in", "-3", "@x", "3-4", "1/2", "12:30", "2026-11-26", "12E5", "007", "1.2.3", "3 Mar", "mar-4"} {
		if got := sheet.Plain(text); got != "'"+text {
			t.Errorf("%q is written as %q", text, got)
		}
	}
	for _, text := range []string{"", "left", "0.0120 in", "dial-1", "0.5", "12", "left.3", "march past"} {
		if got := sheet.Plain(text); got != text {
			t.Errorf("%q is written as %q", text, got)
		}
	}
}

// A note stands on the sheet as its text, line by line, and as a code; a sheet without one has neither.
func TestTheNoteStandsOnTheSheet(t *testing.T) {
	s := play(t).sheet()
	o := sheet.Options{System: quantity.Inch}
	var bare bytes.Buffer
	if err := sheet.HTML(&bare, s, o); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(bare.String(), "Note, to be held") || strings.Contains(bare.String(), `class="code"`) {
		t.Error("a note on a sheet that has none")
	}
	code := make([][]bool, 21)
	for i := range code {
		code[i] = make([]bool, 21)
		code[i][i] = true
	}
	s.Note = &sheet.Note{Text: "bench-1\n42\n— key abc=\n", QR: code}
	s = sheet.Clean(s)
	var page bytes.Buffer
	if err := sheet.HTML(&page, s, o); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(page.String(), "bench-1\n42\n") || !regexp.MustCompile(`class="code" viewBox="0 0 21 21"`).MatchString(page.String()) {
		t.Error("the page has no note, or no code")
	}
	if text := pdfText(t, paper(t, s, o)); text != "" && !strings.Contains(text, "bench-1 42 — key abc=") {
		t.Error("the PDF has no note")
	}
}

// A time that runs stands on the first page with its end, and is gone once it is over.
func TestWhatStillRunsIsSaid(t *testing.T) {
	const text = `
title = "A plan with a cure"
version = 1
cylinders = ["left"]

[[step]]
id = "lock"
title = "Block locked"
do = "Lock it."
kind = "check"
phase = "final"
confirms = [{ id = "locked", text = "It is locked." }]
cures = [{ name = "thread-compound", time = "20 min", holds = ["next"] }]

[[step]]
id = "next"
title = "Followers"
do = "Put them in."
kind = "check"
phase = "final"
needs = ["lock"]
confirms = [{ id = "in", text = "They are in." }]
`
	s := &scene{t: t}
	s.add(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: "17", Engine: "shop twin", Plan: "cure", Text: text}})
	s.place = bench.Place{Build: "17", Step: "lock"}
	s.add(bench.Entry{Kind: bench.StepEntered})
	e := s.add(bench.Entry{Kind: bench.Confirmed, Item: "locked", By: "K.B."})
	begun := time.UnixMicro(e.At)
	made := func(after time.Duration) sheet.Sheet {
		sh, err := sheet.Build(sheet.Source{State: s.state, Job: "17", Chain: s.chain, Made: begun.Add(after)})
		if err != nil {
			t.Fatal(err)
		}
		return sh
	}
	sh := made(5 * time.Minute)
	until := begun.Add(20 * time.Minute).UTC().Format("2006-01-02 15:04")
	want := "thread compound of Block locked, until " + until + " UTC; before it is over not: Followers"
	var page bytes.Buffer
	if err := sheet.HTML(&page, sh, sheet.Options{System: quantity.Inch, Brief: true}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(html.UnescapeString(page.String()), want) {
		t.Errorf("the page does not say %q", want)
	}
	if text := pdfText(t, paper(t, sh, sheet.Options{System: quantity.Inch})); text != "" && !strings.Contains(text, want) {
		t.Errorf("the PDF does not say %q: %.900s", want, text)
	}
	if sh := made(21 * time.Minute); len(sh.Running) != 0 {
		t.Errorf("over, and still told: %+v", sh.Running)
	}
}

// A step that reads nothing and computes from what is known has its figures on the sheet, in every form.
func TestAComputedCheckIsTold(t *testing.T) {
	const text = `
title = "A plan with a computed check"
version = 1
cylinders = ["left"]

[[step]]
id = "lash-positions"
title = "Where lash is set"
do = "Turn to the angles shown."
kind = "check"
phase = "final"
confirms = [{ id = "read", text = "They were read." }]
    [step.compute]
    method = "lash-positions"
    per = "pass"
    shown = ["inlet_1"]
    [step.compute.inputs]
    inlet_centre = "105 deg"
    exhaust_centre = "107 deg"
`
	s := &scene{t: t}
	s.add(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: "17", Engine: "shop twin", Plan: "check", Text: text}})
	s.place = bench.Place{Build: "17", Step: "lash-positions"}
	s.add(bench.Entry{Kind: bench.StepEntered})
	s.run(0, "", calc.Request{Method: "lash-positions", Inputs: map[string]calc.Val{"inlet_centre": {Num: &calc.Num{X: 105}}, "exhaust_centre": {Num: &calc.Num{X: 107}}}})
	sh := s.sheet()
	o := sheet.Options{System: quantity.Inch, Readings: true}
	var page, table, data bytes.Buffer
	if err := errors.Join(sheet.HTML(&page, sh, o), sheet.CSV(&table, sh, o), sheet.JSON(&data, sh)); err != nil {
		t.Fatal(err)
	}
	// Lash is set at the lobe's centre and one turn more, by the method's own formula.
	for where, text := range map[string]string{"page": page.String(), "PDF": pdfText(t, paper(t, sh, sheet.Options{System: quantity.Inch}))} {
		if text != "" && !strings.Contains(text, "1 turn and 105.0°") {
			t.Errorf("the %s does not tell it", where)
		}
	}
	for where, text := range map[string]string{"table": table.String(), "JSON form": data.String()} {
		if !strings.Contains(text, "465") {
			t.Errorf("the %s has no 465°", where)
		}
	}
}

// Signs that act on a terminal, that turn the direction of writing, or that end a string in a PDF, come through nowhere: not
// in the text, not in what the file says of itself, and the file stays whole.
func TestControlCharactersStayOutOfThePDF(t *testing.T) {
	const nasty = "ab\x00\x07\x1b[31m\u202e\u0085\u009b)\\(\r\n\tcd>>endobj"
	s := play(t).sheet()
	s.Job, s.Engine, s.Program = nasty, nasty, nasty
	s.Front = sheet.Front{Customer: nasty, EngineNumber: nasty, Shop: nasty, Builders: []string{nasty}}
	s.Steps[0].Title, s.Steps[0].Notes = nasty, []string{nasty}
	s.Note = &sheet.Note{Text: nasty}
	for name, cleaned := range map[string]sheet.Sheet{"as the service writes it": sheet.Clean(s), "as it came": s} {
		file := filepath.Join(t.TempDir(), "sheet.pdf")
		if err := os.WriteFile(file, paper(t, cleaned, sheet.Options{System: quantity.Inch, Readings: true}), 0o600); err != nil {
			t.Fatal(err)
		}
		for _, look := range [][]string{{"pdftotext", "-enc", "UTF-8", file, "-"}, {"pdfinfo", "-enc", "UTF-8", file}} {
			if _, err := exec.LookPath(look[0]); err != nil && os.Getenv("CI") == "" {
				t.Skip(look[0] + " is not installed")
			}
			out, err := exec.Command(look[0], look[1:]...).CombinedOutput()
			if err != nil || strings.Contains(string(out), "Syntax") || !strings.Contains(string(out), "cd>>endobj") {
				t.Errorf("%s, %s: %v\n%.300s", name, look[0], err, out)
			}
			for _, r := range string(out) {
				if r < ' ' && r != '\n' && r != '\f' || r >= 0x7f && r < 0xa0 || r == '\u202e' {
					t.Errorf("%s, %s: U+%04X comes through", name, look[0], r)
					break
				}
			}
		}
	}
}
