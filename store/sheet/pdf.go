package sheet

import (
	"bytes"
	"fmt"
	"io"

	"thoud/calc/chart"

	"codeberg.org/go-pdf/fpdf"
)

// PDF writes the sheet for paper, A4 or Letter, in black on white, with the fonts every reader has.
func PDF(w io.Writer, s Sheet, o Options) error {
	p := newPress(s, o)
	p.front(s)
	p.overview(s)
	p.data(s)
	if o.Brief {
		p.small(briefly)
	} else {
		for _, st := range s.Steps {
			p.step(st)
		}
	}
	p.gauges(s)
	p.overrides(s)
	p.tally(s)
	p.photos(s)
	p.signatures(s)
	p.ledger(s)
	if err := p.pdf.Output(w); err != nil {
		return fmt.Errorf("sheet of job %s as PDF: %w", s.Job, err)
	}
	return nil
}

// briefly says on a brief sheet where the rest is.
const briefly = "This is the brief sheet. Every step, reading by reading and pass by pass, stands in the full one; the ledger has the bytes."

func (p *press) front(s Sheet) {
	p.font("B", 18)
	p.line("Build sheet, job "+s.Job, 8.5)
	engine := s.Engine
	if engine == "" {
		engine = "engine not named"
	}
	p.font("", 11)
	p.line(engine, 6)
	status := "open"
	if s.Closed {
		status = "closed"
	}
	p.font("", 8.5)
	p.line(fmt.Sprintf("Plan: %s (%s, version %d)", s.Plan.Title, s.Plan.Name, s.Plan.Version), 4.2)
	p.line(fmt.Sprintf("Started %s; sheet made %s; bench %s; build %s", short(s.Started), short(s.Made), s.Bench, status), 4.2)
	p.pdf.Ln(2)
	p.boxed(append([]string{s.Caution}, s.Cautions...))
	p.heading("Not settled")
	if len(s.Open) == 0 {
		p.para("Nothing: every step is done, nothing is loose, nothing is left in the engine.")
	}
	for _, line := range s.Open {
		p.bullet(line)
	}
}

func (p *press) overview(s Sheet) {
	p.heading("In short")
	t := p.table(col{"No.", 9, true}, col{"Step", 33, false}, col{"Figure", 29, false}, col{"Value", 19, true}, col{"Uncertainty", 19, true},
		col{"Wanted", 34, false}, col{"Band and mark", 24, false}, col{"Verdict", 17, false})
	for _, st := range s.Steps {
		large := largeFigures(st)
		for i, f := range large {
			number, title := "", ""
			if i == 0 {
				number, title = fmt.Sprint(st.Number), st.Title
			}
			name := label(f.Figure.Name)
			if f.Key != "" {
				name = runName(f.Key) + ": " + name
			}
			t.figureRow(f.Figure, number, title, name)
		}
		if large == nil {
			t.row(cells(fmt.Sprint(st.Number), st.Title, "", "", "", "", "", string(st.Progress)))
		}
	}
	t.end()
	p.small("Thick line: the wanted band. Pointer: the figure. Bar above it: its expanded uncertainty, at 95 % coverage unless stated. In and out are said only where the whole of that bar lies on one side of a limit (ISO 14253-1); otherwise the figure is too close to call.")
}

func (p *press) data(s Sheet) {
	p.heading("Engine data")
	if len(s.Data) == 0 {
		p.para("The plan has none.")
		return
	}
	t := p.table(col{"What", 80, false}, col{"Value", 38, false}, col{"Source", 36, false}, col{"Confirmed", 30, false})
	for _, d := range s.Data {
		said := ""
		switch {
		case d.Open:
			said = "not confirmed"
		case d.Overridden:
			said = "changed for this build"
		case d.Confirmed != "":
			said = "by " + d.Confirmed
		}
		t.row(cells(d.Title, p.show(d.Shown), d.Source, said))
	}
	t.end()
}

func (p *press) step(st Step) {
	hold := ""
	if st.Hold {
		hold = ", hold point"
	}
	p.headingWith(fmt.Sprintf("%d. %s", st.Number, st.Title), fmt.Sprintf("%s, %s: %s%s", st.Phase, st.Kind, st.Progress, hold))
	p.para(st.Do)
	for _, c := range st.Cautions {
		p.cautionLine(c)
	}
	if len(st.Cautions) > 0 {
		p.pdf.Ln(1)
	}
	for _, n := range st.Notes {
		p.small(n)
	}
	if st.Method != "" {
		text := fmt.Sprintf("Computed by %s (%s); %s.", st.MethodTitle, st.Method, st.MethodSource)
		if st.Setup != nil {
			text += " Set-up repeatability stated as " + p.show(*st.Setup) + " (standard uncertainty)."
		}
		p.small(text)
	}
	if st.Limits != nil {
		p.sub("Limits")
		t := p.table(col{"Figure", 60, false}, col{"Wanted", 60, false}, col{"Source", 64, false})
		for _, l := range st.Limits {
			source := l.Source
			if l.Overridden {
				source += ", changed for this build"
			}
			t.row(cells(label(l.Figure), p.show(l.Shown), source))
		}
		t.end()
	}
	for _, pass := range st.Passes {
		p.pass(st, pass)
	}
	p.drawings(st)
	p.afterPasses(st)
}

func (p *press) pass(st Step, pass Pass) {
	title := fmt.Sprintf("Pass %d, %s", pass.Number, pass.Status)
	if pass.Number == st.InForce {
		title += ", in force"
	}
	if pass.Ended != nil && pass.Ended.Reason != "" {
		title += ": " + pass.Ended.Reason
	}
	p.sub(title)
	if pass.Drift != nil {
		p.small("Datum read again at closing: wandered by " + p.show(pass.Drift.By) + ", " + p.show(pass.Drift.Allowed) + " allowed.")
	}
	if len(pass.Readings) > 0 {
		t := p.table(col{"Point", 58, false}, col{"Reading", 22, true}, col{"As sent", 28, false}, col{"Gauge", 22, false}, col{"Taken", 27, false}, col{"By", 15, false}, col{"Entry", 12, true})
		for _, r := range pass.Readings {
			point, sent := r.Title, r.Text
			if r.Seating > 1 {
				point += fmt.Sprintf(", seating %d", r.Seating)
			}
			if sent == "" {
				sent = r.Raw
			}
			if r.Keyed {
				sent = "typed: " + sent
			}
			t.struck = r.Withdrawn
			t.row(cells(point, p.show(r.Shown), sent, r.Gauge, short(r.At), r.By, fmt.Sprint(r.Entry)))
		}
		t.end()
	}
	for _, r := range pass.Runs {
		p.run(st, pass, r)
	}
	if len(pass.Adjustments) > 0 {
		t := p.table(col{"What was told", 100, false}, col{"Done", 28, true}, col{"Left to do", 28, true}, col{"Found in", 28, false})
		for _, a := range pass.Adjustments {
			words, found := p.show(a.Words), "no later pass"
			if a.Nothing {
				words = "nothing to move"
			}
			if a.Key != "" {
				words = runName(a.Key) + ": " + words
			}
			if a.NextPass > 0 {
				found = fmt.Sprintf("pass %d", a.NextPass)
			}
			t.row(cells(words, p.show(a.ShownDone), p.show(a.ShownLeft), found))
		}
		t.end()
	}
}

func (p *press) run(st Step, pass Pass, r Run) {
	if r.Refused != "" {
		text := "no answer: " + r.Refused
		if r.Key != "" {
			text = runName(r.Key) + ": " + text
		}
		p.para(text)
		return
	}
	name := "Figure"
	if r.Key != "" {
		name = runName(r.Key)
	}
	if r.Provisional {
		name += " (provisional)"
	}
	t := p.table(col{name, 29, false}, col{"", 36, false}, col{"Value", 26, true}, col{"Uncertainty", 20, true}, col{"Wanted", 34, false}, col{"", 23, false}, col{"Verdict", 16, false})
	for _, f := range figuresOf(st, pass, r) {
		wanted := ""
		if f.Limit != nil {
			wanted = p.show(f.Limit.Shown)
		}
		row := cells(label(f.Name), f.Title, p.show(f.Shown), p.show(f.ShownU), wanted, "", string(f.Verdict))
		if mark, ok := rule(f); ok {
			row[5].mark = &mark
		}
		row[6].style = "B"
		t.row(row)
		if f.Reason != "" {
			t.note(f.Reason)
		}
	}
	t.end()
	if r.GaugeOnly {
		p.small("The verdict knows the gauge only: no set-up repeatability was found or stated.")
	}
	for _, w := range r.Warnings {
		p.small("Note: " + w)
	}
}

// drawings puts in the pictures of the pass in force, as bitmaps: what paper shows of a line is the same.
func (p *press) drawings(st Step) {
	pass := st.shownPass()
	if pass == nil {
		return
	}
	for _, r := range pass.Runs {
		png, ok, err := chart.PNG(r.result, r.request, p.o.System)
		if err != nil || !ok {
			p.fail(err)
			continue
		}
		p.image(fmt.Sprintf("%s.%d.%s", st.ID, pass.Number, r.Key), "PNG", png, 110)
	}
}

func (p *press) afterPasses(st Step) {
	if st.Changes != nil {
		p.sub("Computed again")
		t := p.table(col{"Because", 74, false}, col{"Figure", 36, false}, col{"Was", 22, true}, col{"Is", 22, true}, col{"Verdict", 30, false})
		for _, c := range st.Changes {
			figure, verdict := label(c.Figure), string(c.NowVerdict)
			if c.Key != "" {
				figure = runName(c.Key) + ": " + figure
			}
			if c.WasVerdict != "" {
				verdict = string(c.WasVerdict) + ", then " + verdict
			}
			t.row(cells(c.Because, figure, p.show(c.Was), p.show(c.Now), verdict))
		}
		t.end()
	}
	if st.Confirmed != nil {
		p.sub("Confirmed")
		t := p.table(col{"", 130, false}, col{"", 54, false})
		for _, c := range st.Confirmed {
			said := "not confirmed"
			if c.By != nil {
				said = c.By.By + ", " + short(c.By.At)
			}
			t.row(cells(c.Text, said))
		}
		t.end()
	}
	for _, r := range st.Reopened {
		p.small(fmt.Sprintf("Reopened %s by %s: %s", short(r.At), r.By, r.Reason))
	}
	if st.Signed != nil {
		p.para(fmt.Sprintf("Signed: %s, %s.", st.Signed.By, short(st.Signed.At)))
	}
}

func (p *press) photos(s Sheet) {
	if len(s.Photos) == 0 {
		return
	}
	p.heading("Photos")
	for _, ph := range s.Photos {
		kind := map[string]string{"image/jpeg": "JPG", "image/png": "PNG"}[ph.Type]
		if kind != "" && len(ph.Bytes) > 0 && readable(kind, ph.Bytes) {
			p.image("photo."+ph.ID, kind, ph.Bytes, 110)
		}
		p.small(fmt.Sprintf("%s: %s (entry %d)", ph.Step, ph.Note, ph.Entry))
	}
}

// readable tries a picture by itself first: one that cannot be read must not cost the sheet.
func readable(kind string, b []byte) (ok bool) {
	defer func() {
		if recover() != nil {
			ok = false
		}
	}()
	trial := fpdf.New("P", "mm", "A4", "")
	trial.RegisterImageOptionsReader("trial", fpdf.ImageOptions{ImageType: kind}, bytes.NewReader(b))
	return trial.Ok()
}
