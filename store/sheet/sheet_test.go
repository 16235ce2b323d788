package sheet_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"html"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/store/sheet"

	"github.com/google/go-cmp/cmp"
)

func picture(t *testing.T) []byte {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, 320, 200))
	for y := range 200 {
		for x := range 320 {
			m.SetGray(x, y, color.Gray{Y: uint8((x*y/40 + x) % 256)})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// begun is a build on which nothing was done yet, with hostile names.
func begun(t *testing.T) *scene {
	s := &scene{t: t}
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	s.add(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: "17", Engine: `<script>alert("1")</script> 机 ` + strings.Repeat("long ", 60), Plan: "first-fit", Text: string(text)}})
	return s
}

// What was told, what was done and what was left, against subtraction by hand: the left block was to go 0.0500 in, and
// was read at 0.3900, then 0.3445, then 0.3400 in; the right one was not touched between passes 3 and 4.
func TestDidTheHandDoAsTold(t *testing.T) {
	s := play(t).sheet()
	type line struct {
		Pass, Next                int
		Key, Told, Done, LeftOver string
	}
	inches := func(x *float64) string {
		if x == nil {
			return ""
		}
		return quantity.OfLength(int64(math.Round(*x*quantity.PerMillimetre)), quantity.Inch.For(quantity.Length), 4).Round(quantity.Inch.For(quantity.Length), 4)
	}
	var got []line
	for _, p := range s.Steps[0].Passes {
		for _, a := range p.Adjustments {
			got = append(got, line{p.Number, a.NextPass, a.Key, inches(&a.Told), inches(a.Done), inches(a.Left)})
		}
	}
	want := []line{
		{1, 3, "left", "0.0500", "0.0455", "0.0045"}, {1, 3, "right", "0.0500", "0.0495", "0.0005"},
		{3, 4, "left", "0.0045", "0.0045", "0.0000"}, {3, 4, "right", "0.0005", "0.0000", "0.0005"},
		{4, 0, "left", "0.0000", "", ""}, {4, 0, "right", "0.0005", "", ""},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("adjustments (-want +got):\n%s", diff)
	}
	if a := s.Steps[0].Passes[0].Adjustments[0]; a.ShownDone.Inch != "45.5 thou" || a.ShownDone.MM != "1.16 mm" {
		t.Errorf("done is shown as %+v, want the digits the telling had", a.ShownDone)
	}
}

// Gone past the mark: told 0.0500 in, moved 0.0520 in, so the next pass asks for 0.0020 in back.
func TestGoneTooFarIsSaidInWords(t *testing.T) {
	sc := play(t)
	for i := range sc.history {
		if r := &sc.history[i]; r.Pass == 3 && r.Key == "left" {
			r.Adjustment[0].Amount = -0.002 * 25.4
		}
	}
	s := sc.sheet()
	if a := s.Steps[0].Passes[0].Adjustments[0]; a.ShownDone.Inch != "52.0 thou" || a.ShownLeft.Inch != "too far by 2.0 thou" {
		t.Errorf("done %q, left %q", a.ShownDone.Inch, a.ShownLeft.Inch)
	}
	// And told to go back by 0.0020 in, it stands at 0.0000 in to do: 0.0020 in were done.
	if a := s.Steps[0].Passes[2].Adjustments[0]; a.ShownDone.Inch != "2.0 thou" || a.ShownLeft.Inch != "0.0 thou" {
		t.Errorf("back: done %q, left %q", a.ShownDone.Inch, a.ShownLeft.Inch)
	}
}

func TestWhatTheSheetSays(t *testing.T) {
	sc := play(t)
	s := sc.sheet()
	if got, want := s.Open, []string{"something dropped and was not found: one 5 mm washer", "step 2, Crankshaft runout: too close to call", "gauge dial-1: its check was due on 2026-09-20"}; !slices.Equal(got, want) {
		t.Errorf("not settled %q, want %q", got, want)
	}
	if s.Ledger.N != sc.chain.N || s.Ledger.Seal != sc.chain.Seal.String() {
		t.Errorf("ledger %+v, want the end of the chain", s.Ledger)
	}
	d := s.Data[2]
	if !d.Overridden || d.Shown.Inch != "0.053 in" || d.Shown.MM != "0.053 in" || !strings.Contains(d.Source, "later bulletin") {
		t.Errorf("overridden engine data %+v", d)
	}
	st := s.Steps[0]
	if st.InForce != 4 || st.Verdict != "in" || st.Signed == nil || st.Signed.By != "K.B." || st.Progress != bench.SignedOff {
		t.Errorf("step 1: in force %d, %q, signed %+v, %s", st.InForce, st.Verdict, st.Signed, st.Progress)
	}
	if l := st.Limits; len(l) != 1 || l[0].Shown.Inch != "0.048 to 0.053 in" || !strings.Contains(l[0].Source, "later bulletin") || !l[0].Overridden {
		t.Errorf("limits %+v", l)
	}
	if r := st.Passes[0].Readings[0]; !r.Withdrawn || r.Text != "0.4120 in" || r.Shown.Inch != "0.4000 in" || r.Shown.MM != "10.160 mm" {
		t.Errorf("the withdrawn reading %+v", r)
	}
	if g := s.Gauges; len(g) != 1 || g[0].Readings != 17 || g[0].Resolution.Inch != "0.0005 in" || !g[0].Check.Over {
		t.Errorf("gauges %+v", g)
	}
}

func TestNoSuchBuild(t *testing.T) {
	_, err := sheet.Build(sheet.Source{State: play(t).state, Job: "18", Made: time.Unix(0, 0)})
	if !errors.Is(err, sheet.ErrNoBuild) || !strings.Contains(err.Error(), "17") {
		t.Errorf("got %v, want ErrNoBuild and the jobs there are", err)
	}
}

func TestHTMLIsWholeAndSafe(t *testing.T) {
	for _, sys := range []quantity.System{quantity.Inch, quantity.Metric} {
		var b bytes.Buffer
		if err := sheet.HTML(&b, play(t).sheet(), sheet.Options{System: sys, Letter: sys == quantity.Inch, Readings: true}); err != nil {
			t.Fatal(err)
		}
		page := html.UnescapeString(b.String())
		want := []string{sheet.Caution, "too close to call", "K.B.: the maker", "the stand was knocked", "later bulletin", "data:image/png;base64,", "<svg", "one 5 mm washer"}
		if sys == quantity.Inch {
			want = append(want, "0.048 to 0.053 in", "size: letter", "0.3400 in")
		} else {
			want = append(want, "1.2192 to 1.3462 mm", "size: A4", "8.636 mm")
		}
		for _, w := range want {
			if !strings.Contains(page, w) {
				t.Errorf("%s: %q is not on the page", sys, w)
			}
		}
		// All figures of the pass in force, left and right; of earlier passes those that decide and those shown large.
		for figure, times := range map[string]int{"built clearance": 2, "clearance now": 6} {
			if n := strings.Count(page, `<td class="nowrap">`+figure+`</td>`); n != times {
				t.Errorf("%s: %q is told %d times, want %d", sys, figure, n, times)
			}
		}
		if m := regexp.MustCompile(`(?i)(src|href)="https?:|url\(`).FindString(b.String()); m != "" {
			t.Errorf("%s: the page asks for something beside it: %s", sys, m)
		}
	}
	var b bytes.Buffer
	if err := sheet.HTML(&b, begun(t).sheet(), sheet.Options{System: quantity.Inch}); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), "<script>") {
		t.Error("a name became part of the page's code")
	}
}

// pdfText reads a PDF with another program than the one that wrote it.
func pdfText(t *testing.T, b []byte) string {
	t.Helper()
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Log("not run: no pdftotext here to read the PDF with")
		return ""
	}
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, b, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(string(out)), " ")
}

func TestPDFSaysTheSame(t *testing.T) {
	s := play(t).sheet()
	for _, o := range []sheet.Options{{System: quantity.Inch, Readings: true}, {System: quantity.Metric, Letter: true, Readings: true}} {
		var b, again bytes.Buffer
		if err := errors.Join(sheet.PDF(&b, s, o), sheet.PDF(&again, s, o)); err != nil {
			t.Fatal(err)
		}
		if !bytes.HasPrefix(b.Bytes(), []byte("%PDF-")) {
			t.Fatal("this is no PDF")
		}
		if !bytes.Equal(b.Bytes(), again.Bytes()) {
			t.Error("the same sheet gave other bytes")
		}
		size := "[0 0 595.28 841.89]" // A4, 210 × 297 mm (ISO 216) at 72 points an inch
		if o.Letter {
			size = "[0 0 612.00 792.00]" // 8½ × 11 in
		}
		if !bytes.Contains(b.Bytes(), []byte("/MediaBox "+size)) {
			t.Errorf("the paper is not %s", size)
		}
		text := pdfText(t, b.Bytes())
		if text == "" {
			continue
		}
		want := []string{"too close", "K.B.", "the stand was knocked", "move the block", s.Ledger.Seal, "page 2 of", "1 of "}
		if o.System == quantity.Inch {
			want = append(want, "0.048 to 0.053 in", "± 0.0014 in", "188°")
		} else {
			want = append(want, "1.2192 to 1.3462 mm", "± 0.037 mm")
		}
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%q is not in the PDF", w)
			}
		}
	}
}

// The first page stands alone: what the engine is, every figure that matters with its verdict, what is not settled, what was
// changed, who signs. The whole sheet has the record after it, and the readings only where they are asked for.
func TestTheFirstPageStandsAlone(t *testing.T) {
	s := play(t).sheet()
	var whole, brief, paper bytes.Buffer
	o := sheet.Options{System: quantity.Inch}
	ob := o
	ob.Brief = true
	or := o
	or.Readings = true
	var all bytes.Buffer
	if err := errors.Join(sheet.HTML(&whole, s, o), sheet.HTML(&brief, s, ob), sheet.PDF(&paper, s, ob), sheet.HTML(&all, s, or)); err != nil {
		t.Fatal(err)
	}
	page := html.UnescapeString(brief.String())
	for _, want := range []string{sheet.Caution, "signature, date", "one 5 mm washer", "later bulletin", "first page alone"} {
		if !strings.Contains(page, want) {
			t.Errorf("the brief sheet does not say %q", want)
		}
	}
	for _, st := range s.Steps {
		if !strings.Contains(page, st.Title) {
			t.Errorf("the brief sheet leaves out the step %q", st.Title)
		}
	}
	if strings.Contains(page, "As sent") || strings.Contains(whole.String(), "As sent") || !strings.Contains(all.String(), "As sent") {
		t.Error("readings one by one: want them in the appendix alone")
	}
	if text := pdfText(t, paper.Bytes()); text != "" && (strings.Contains(text, "As sent") || !strings.Contains(text, "first page alone")) {
		t.Errorf("the brief PDF: %.300s", text)
	}
}

func TestPDFOfOddThings(t *testing.T) {
	s := begun(t).sheet()
	s.Photos = []sheet.Photo{{Type: "image/jpeg", Bytes: []byte("no picture at all"), Note: "broken"}, {Type: "image/gif", Bytes: []byte("GIF89a"), Note: "another kind"}}
	var b bytes.Buffer
	if err := sheet.PDF(&b, s, sheet.Options{System: quantity.Metric}); err != nil {
		t.Fatal(err)
	}
	if text := pdfText(t, b.Bytes()); text != "" && (!strings.Contains(text, "broken") || !strings.Contains(text, "No gauge was read")) {
		t.Errorf("not all of it is there: %.300s", text)
	}
}

func TestCSVHasUnitsInItsHeadings(t *testing.T) {
	s := play(t).sheet()
	s.Steps[0].Passes[0].Readings[1].By = "=HYPERLINK(1)"
	for sys, heads := range map[quantity.System][]string{quantity.Inch: {"length (in)", "U of length (in)", "lower limit (in)", "upper limit (in)"}, quantity.Metric: {"length (mm)", "U of length (mm)", "lower limit (mm)", "upper limit (mm)"}} {
		var b bytes.Buffer
		if err := sheet.CSV(&b, s, sheet.Options{System: sys}); err != nil {
			t.Fatal(err)
		}
		if !bytes.HasPrefix(b.Bytes(), []byte("\ufeff")) {
			t.Error("nothing says that the table is UTF-8")
		}
		b.Next(len("\ufeff"))
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil {
			t.Fatal(err) // the reader asks that every row has as many fields as the first
		}
		col := func(name string) int { return slices.Index(rows[0], name) }
		for _, h := range heads {
			if col(h) < 0 {
				t.Fatalf("no column %q in %q", h, rows[0])
			}
		}
		find := func(what, run, name string, pass string) []string {
			for _, r := range rows[1:] {
				if r[col("what")] == what && r[col("run")] == run && r[col("name")] == name && r[col("pass")] == pass {
					return r
				}
			}
			t.Fatalf("no row %s %s %s in pass %s", what, run, name, pass)
			return nil
		}
		row := find("figure", "left", "clearance_now", "4")
		want := []string{"0.05", "0.048", "0.053"} // 0.3900 − 0.3400 in
		if sys == quantity.Metric {
			want = []string{"1.27", "1.2192", "1.3462"}
		}
		if got := []string{row[col(heads[0])], row[col(heads[2])], row[col(heads[3])]}; !slices.Equal(got, want) {
			t.Errorf("%s: clearance and limits %v, want %v", sys, got, want)
		}
		if row := find("figure", "", "high_point", "1"); row[col("unit of other value")] != "deg" || row[col(heads[0])] != "" {
			t.Errorf("%s: an angle's row %q", sys, row)
		}
		if row := find("told", "left", "block", "1"); !strings.Contains(row[col("words")], "move the block") {
			t.Errorf("%s: what was told: %q", sys, row)
		}
		for _, r := range rows {
			for _, f := range r {
				if strings.HasPrefix(f, "=") {
					t.Errorf("a spreadsheet takes %q for a formula", f)
				}
			}
		}
	}
}
