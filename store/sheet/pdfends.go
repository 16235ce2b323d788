package sheet

import "fmt"

func (p *press) gauges(s Sheet) {
	p.heading("Gauges")
	if len(s.Gauges) == 0 {
		p.para("No gauge was read.")
		return
	}
	t := p.table(col{"Gauge", 34, false}, col{"Role", 20, false}, col{"Known as", 27, false}, col{"Resolution", 18, true}, col{"Calibration U", 28, true}, col{"Last check", 39, false}, col{"Readings", 18, true})
	for _, g := range s.Gauges {
		calibration, check := p.show(g.Calibration), "none on record"
		if g.K > 0 {
			calibration += fmt.Sprintf(" (k = %g)", g.K)
		}
		if c := g.Check; c != nil {
			check = "error " + p.show(c.Error) + ", standard uncertainty " + p.show(c.U)
			if c.Due != "" {
				check += ", due " + c.Due[:10]
			}
			if c.Over {
				check += ", overdue"
			}
		}
		t.row(cells(g.Name+" ("+g.Profile+")", g.Role, g.Identity, p.show(g.Resolution), calibration, check, fmt.Sprint(g.Readings)))
	}
	t.end()
}

func (p *press) overrides(s Sheet) {
	p.heading("Changed or passed over for this build")
	if len(s.Overrides) == 0 {
		p.para("Nothing.")
		return
	}
	t := p.table(col{"What", 52, false}, col{"Now", 32, false}, col{"Reason", 64, false}, col{"By", 36, false})
	for _, o := range s.Overrides {
		t.row(cells(o.What+" "+o.Name, p.show(o.Shown), o.Reason, o.By+", "+short(o.At)))
	}
	t.end()
}

func (p *press) tally(s Sheet) {
	p.heading("Counted in and out")
	if len(s.Tally.Items) == 0 {
		p.para("Nothing was put in for a time.")
	} else {
		t := p.table(col{"Item", 50, false}, col{"Pieces", 14, true}, col{"In", 70, false}, col{"Out", 50, false})
		for _, it := range s.Tally.Items {
			out := cell{text: "still in the engine", style: "B"}
			if it.Out != nil {
				out = cell{text: short(it.Out.At) + ", " + it.Out.By}
			}
			t.row(append(cells(it.Name, fmt.Sprint(it.Count), it.Step+", "+short(it.In.At)+", "+it.In.By), out))
		}
		t.end()
	}
	if len(s.Tally.Loose) > 0 {
		p.sub("Left loose")
		t := p.table(col{"What", 70, false}, col{"Since", 64, false}, col{"Made fast at", 50, false})
		for _, l := range s.Tally.Loose {
			t.row(cells(l.Name, l.Step+", "+short(l.Since.At), l.Ends))
		}
		t.end()
	}
}

func (p *press) signatures(s Sheet) {
	p.heading("Signatures")
	steps := signed(s)
	if steps == nil {
		p.para("No step was signed.")
	} else {
		t := p.table(col{"Step", 110, false}, col{"Signed", 34, false}, col{"When", 40, false})
		for _, st := range steps {
			t.row(cells(fmt.Sprintf("%d. %s", st.Number, st.Title), st.Signed.By, short(st.Signed.At)))
		}
		t.end()
	}
	p.room(20)
	p.pdf.Ln(12)
	y := p.pdf.GetY()
	p.pdf.SetLineWidth(0.2)
	for i, text := range []string{"Built by, date", "Looked through by, date"} {
		x := p.left + float64(i)*(p.width/2+4)
		p.pdf.Line(x, y, x+p.width/2-4, y)
		p.pdf.SetXY(x, y+0.8)
		p.font("", 8)
		p.pdf.CellFormat(p.width/2-4, 4, p.text(text), "", 0, "L", false, 0, "")
	}
	p.pdf.SetXY(p.left, y+6)
}

func (p *press) ledger(s Sheet) {
	p.heading("Ledger")
	p.small(fmt.Sprintf("Made from the ledger of bench %s up to entry %d. The seal of that entry stands for it and every entry before it, byte for byte; the plan's sum for its text.", s.Bench, s.Ledger.N))
	p.pdf.SetFont("Courier", "", 8)
	p.line("seal "+s.Ledger.Seal, 4)
	p.line("plan "+s.Plan.SHA256, 4)
}
