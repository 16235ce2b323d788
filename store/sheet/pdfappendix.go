package sheet

import (
	"fmt"
)

// appendix is every step as it went: reading by reading, pass by pass, with what was withdrawn and made void.
func (p *pdfWriter) appendix(s Sheet) {
	p.pdf.AddPage()
	p.heading("Appendix: every reading")
	p.small("Times are those of the shop's clock, " + p.o.zoneName(s.Made) + ".")
	for _, c := range cautionsOf(s) {
		p.cautionLine(c)
	}
	for _, st := range s.Steps {
		p.step(st)
	}
}

// runs are those of a step that reads nothing and computes from what others found.
func (p *pdfWriter) runs(st Step) {
	for _, r := range st.Runs {
		p.run(st, Pass{Number: st.InForce}, r)
	}
}

func (p *pdfWriter) step(st Step) {
	hold := ""
	if st.Hold {
		hold = ", hold point"
	}
	p.headingWith(fmt.Sprintf("%d. %s", st.Number, st.Title), fmt.Sprintf("%s, %s: %s%s", st.Phase, st.Kind, st.Progress, hold), 1)
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
			from := " stated as "
			if st.SetupDof > 0 {
				from = fmt.Sprintf(" of the builder's own hands, %.0f degrees of freedom: ", st.SetupDof)
			}
			text += " Set-up repeatability" + from + p.show(*st.Setup) + " (standard uncertainty)."
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
	p.runs(st)
	p.afterPasses(st)
}

func (p *pdfWriter) pass(st Step, pass Pass) {
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
			t.row(cells(point, p.show(r.Shown), sent, r.Gauge, p.o.clock(r.At, false), r.By, fmt.Sprint(r.Entry)))
		}
		t.end()
	}
	for _, r := range pass.Runs {
		p.run(st, pass, r)
	}
	if told := orders(pass.Adjustments); len(told) > 0 {
		t := p.table(col{"What was told", 100, false}, col{"Done", 28, true}, col{"Left to do", 28, true}, col{"Found in", 28, false})
		for _, a := range told {
			words, found := p.show(a.Words), "no later pass"
			if a.Key != "" {
				words = a.Name() + ": " + words
			}
			if a.NextPass > 0 {
				found = fmt.Sprintf("pass %d", a.NextPass)
			}
			t.row(cells(words, p.show(a.ShownDone), p.show(a.ShownLeft), found))
		}
		t.end()
	}
}

func (p *pdfWriter) run(st Step, pass Pass, r Run) {
	if r.Refused != "" {
		text := "no answer: " + r.Refused
		if r.Key != "" {
			text = r.Name() + ": " + text
		}
		p.para(text)
		return
	}
	name := "Figure"
	if r.Key != "" {
		name = r.Name()
	}
	if r.Provisional {
		name += " (provisional)"
	}
	t := p.table(col{name, 29, false}, col{"", 36, false}, col{"Value", 26, true}, col{"Uncertainty", 20, true}, col{"Wanted", 30, false}, col{"", 22, false}, col{"Verdict", 24, false})
	for _, f := range figuresOf(st, pass, r) {
		wanted := ""
		if f.Limit != nil {
			wanted = p.show(f.Limit.Shown)
		}
		row := cells(label(f.Name), f.Title, p.show(f.Shown), p.show(f.ShownU), wanted, "", "")
		one := line{Step: st, Name: label(f.Name), Figures: []runFigure{{r.Key, f}}}
		if mark, ok := one.rule(); ok {
			row[5].mark = &mark
		}
		row[6].judge = &one
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

func (p *pdfWriter) afterPasses(st Step) {
	if st.Changes != nil {
		p.sub("Computed again")
		t := p.table(col{"Because", 74, false}, col{"Figure", 36, false}, col{"Was", 22, true}, col{"Is", 22, true}, col{"Verdict", 30, false})
		for _, c := range st.Changes {
			figure, verdict := label(c.Figure), string(c.NowVerdict)
			if c.Key != "" {
				figure = c.Name() + ": " + figure
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
				said = c.By.By + ", " + p.o.clock(c.By.At, false)
			}
			t.row(cells(c.Text, said))
		}
		t.end()
	}
	for _, r := range st.Reopened {
		p.small(fmt.Sprintf("Reopened %s by %s: %s", p.o.clock(r.At, false), r.By, r.Reason))
	}
	if st.Signed != nil {
		p.para(fmt.Sprintf("Signed: %s, %s.", st.Signed.By, p.o.clock(st.Signed.At, false)))
	}
}
