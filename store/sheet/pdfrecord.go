package sheet

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"thoud/capture/bench"
	"thoud/capture/plan"

	"codeberg.org/go-pdf/fpdf"
)

// record is what follows the groups: what is open, what the engine data were, what was changed, what went in and out, the
// gauges, the signatures, the photos, and where the ledger ended.
func (p *pdfWriter) record(s Sheet) {
	if len(s.Open) > 0 {
		p.heading("Not settled")
		for _, l := range s.Open {
			p.bullet(l)
		}
	}
	p.overrides(s)
	p.data(s)
	p.tally(s)
	p.gauges(s)
	p.signatures(s)
	p.photos(s)
	p.ledger(s)
}

// columns sets short texts in so many columns, down and then across, on as many pages as they need.
func (p *pdfWriter) columns(n int, entries []entry) {
	const gap = 4.0
	wide := (p.width - gap*float64(n-1)) / float64(n)
	_, page := p.pdf.GetPageSize()
	for len(entries) > 0 {
		p.room(12)
		top := p.pdf.GetY()
		room := page - paperFoot - top
		// As many as this page holds, and no column longer than the others need.
		heights := make([]float64, len(entries))
		sum := 0.0
		for i, e := range entries {
			heights[i] = p.entryHeight(e, wide)
			sum += heights[i]
		}
		limit := min(room, max(slices.Max(heights), sum/float64(n)+0.6*slices.Max(heights)))
		taken, end := 0, top
		if top > paperTop+1 && slices.Max(heights) > room { // the highest has no room here: on the next page it has
			p.pdf.AddPage()
			continue
		}
		for c := 0; c < n && taken < len(entries); c++ {
			y := top
			// The first entry of a column is always set, or one higher than a page would never be.
			for taken < len(entries) && (y == top || y+heights[taken] <= top+limit+0.01) {
				p.entry(entries[taken], p.left+float64(c)*(wide+gap), y, wide)
				y += heights[taken]
				taken++
			}
			end = max(end, y)
		}
		p.pdf.SetXY(p.left, end+1)
		entries = entries[taken:]
		if len(entries) > 0 {
			p.pdf.AddPage()
		}
	}
}

// entry is a text with a value at its right end and a smaller remark under it.
type entry struct{ Text, Shown, Remark string }

// How an entry is set: in points, and in mm from line to line.
const (
	entrySize, entryLine   = leastSize, 2.75
	remarkSize, remarkLine = leastSize, 2.65
	remarkIndent           = 2.0
)

func (p *pdfWriter) entryLines(e entry, wide float64) (text, remark []string, side float64) {
	p.font("B", entrySize)
	if e.Shown != "" {
		value := p.pdf.GetStringWidth(p.text(e.Shown))
		side = max(min(value+2, wide*0.55), value*leastSize/entrySize)
	}
	p.font("", entrySize)
	text = p.pdf.SplitText(p.text(e.Text), wide-side)
	if e.Remark != "" {
		p.font("", remarkSize)
		remark = p.pdf.SplitText(p.text(e.Remark), wide-remarkIndent)
	}
	return text, remark, side
}

func (p *pdfWriter) entryHeight(e entry, wide float64) float64 {
	text, remark, _ := p.entryLines(e, wide)
	return entryLine*float64(max(1, len(text))) + remarkLine*float64(len(remark)) + 0.6
}

func (p *pdfWriter) entry(e entry, x, y, wide float64) {
	text, remark, side := p.entryLines(e, wide)
	p.font("", entrySize)
	for i, l := range text {
		p.pdf.Text(x, y+2.4+entryLine*float64(i), l)
	}
	if e.Shown != "" {
		v := p.text(e.Shown)
		p.narrowed(v, "B", entrySize, side)
		p.right(v, x+wide, y+2.4)
	}
	y += entryLine * float64(max(1, len(text)))
	p.font("", remarkSize)
	for i, l := range remark {
		p.pdf.Text(x+remarkIndent, y+2.2+remarkLine*float64(i), l)
	}
	y += remarkLine * float64(len(remark))
	p.pdf.SetDrawColor(190, 190, 190)
	p.pdf.SetLineWidth(0.1)
	p.pdf.Line(x, y+0.35, x+wide, y+0.35)
	p.pdf.SetDrawColor(0, 0, 0)
}

// data are the engine's values as the build used them. The common sources are said once, by a mark.
func (p *pdfWriter) data(s Sheet) {
	p.heading("Engine data as given")
	if len(s.Data) == 0 {
		p.para("The plan has none.")
		return
	}
	entries, key := dataEntries(s, p.o)
	p.columns(3, entries)
	p.small(key)
}

// longValue is how many characters stand beside a name.
const longValue = 16

// dataEntries give each value with its source: one that many values share stands as a letter, explained in the key.
func dataEntries(s Sheet, o Options) (entries []entry, key string) {
	count := map[string]int{}
	var sources, confirmed []string
	open := false
	source := func(d Datum) string {
		if strings.HasPrefix(d.Source, "derived") {
			return "derived from other values"
		}
		return d.Source
	}
	for _, d := range s.Data {
		if count[source(d)] == 0 {
			sources = append(sources, source(d))
		}
		count[source(d)]++
	}
	letter := map[string]string{}
	var keys []string
	for _, src := range sources {
		if src != "" && count[src] > 2 {
			letter[src] = string(rune('a' + len(letter)))
			keys = append(keys, "("+letter[src]+") "+src)
		}
	}
	for _, d := range s.Data {
		var marks []string
		remark := ""
		if l := letter[source(d)]; l != "" {
			marks = append(marks, l)
		} else {
			remark = d.Source
		}
		switch {
		case d.Open:
			open = true
			marks = append(marks, "*")
		case d.Overridden:
			marks = append(marks, " changed")
		}
		text := d.Title
		if marks != nil {
			text += " (" + strings.TrimSpace(strings.Join(marks, "")) + ")"
		}
		value := shown(d.Shown, o.System)
		if len(value) > longValue { // a list of shims stands in a line of its own
			value, remark = "", strings.Join(notEmpty(value, remark), "; ")
		}
		entries = append(entries, entry{text, value, remark})
		if d.Confirmed != "" && !slices.Contains(confirmed, d.Confirmed) {
			confirmed = append(confirmed, d.Confirmed)
		}
	}
	var said []string
	if open {
		said = append(said, "* not confirmed.")
	}
	if keys != nil {
		said = append(said, "Sources: "+strings.Join(keys, "; ")+".")
	}
	if confirmed != nil {
		said = append(said, "What had to be confirmed was, by "+strings.Join(confirmed, ", ")+", unless it says otherwise.")
	}
	key = strings.Join(said, " ")
	return entries, key
}

func (p *pdfWriter) gauges(s Sheet) {
	p.heading("Gauges")
	if len(s.Gauges) == 0 {
		p.para("No gauge was read.")
		return
	}
	p.columns(2, p.gaugeEntries(s.Gauges))
	if slices.ContainsFunc(s.Gauges, func(g Gauge) bool { return g.Check == nil }) {
		p.small("Where no check is named, none is on record.")
	}
}

func (p *pdfWriter) gaugeEntries(gauges []Gauge) []entry {
	var entries []entry
	for _, g := range gauges {
		e := entry{Text: g.Name + ", " + plan.RoleWords(g.Role), Shown: counted(g.Readings, "reading")}
		of := []string{g.Profile}
		if r := p.show(g.Resolution); r != "" {
			of = append(of, "resolution "+r)
		}
		if c := calibrated(g, p.o); c != "" {
			of = append(of, "calibration "+c)
		}
		if g.Check != nil {
			of = append(of, "check: "+checked(g, p.o))
		}
		e.Remark = strings.Join(notEmpty(append(of, g.Identity)...), "; ")
		entries = append(entries, e)
	}
	return entries
}

// calibrated is a gauge's certificate in words.
func calibrated(g Gauge, o Options) string {
	c := in(g.Calibration, o.System)
	if g.K > 0 {
		c += fmt.Sprintf(" (k = %g)", g.K)
	}
	return c
}

// checked is a gauge's last check in words.
func checked(g Gauge, o Options) string {
	c := g.Check
	if c == nil {
		return "none on record"
	}
	out := "error " + in(c.Error, o.System) + ", standard uncertainty " + in(c.U, o.System)
	if c.Due != "" {
		out += ", due " + o.day(c.Due)
	}
	if c.Over {
		out += ", overdue"
	}
	return out
}

func (p *pdfWriter) overrides(s Sheet) {
	p.heading("Changed or passed over for this build")
	if len(s.Overrides) == 0 {
		p.para("Nothing.")
		return
	}
	t := p.table(col{"What", 52, false}, col{"Now", 32, false}, col{"Reason", 64, false}, col{"By", 36, false})
	for _, o := range overridesTold(s) {
		t.row(cells(o.What, p.show(o.Shown), o.Reason, o.By+", "+p.o.clock(o.At, false)))
	}
	t.end()
}

// toldOverride is an override, or several of one thing for one reason: the last of them, with how many there were.
type toldOverride struct {
	What string
	Override
}

func overridesTold(s Sheet) []toldOverride {
	var out []toldOverride
	count := map[string]int{}
	at := map[string]int{}
	for _, o := range s.Overrides {
		key := o.What + "\x00" + o.Name + "\x00" + o.Reason + "\x00" + o.By
		count[key]++
		what := overrideWords(s, o)
		if count[key] > 1 {
			out[at[key]] = toldOverride{fmt.Sprintf("%s, %d times, last", what, count[key]), o}
			continue
		}
		at[key] = len(out)
		out = append(out, toldOverride{what, o})
	}
	return out
}

// overrideWords says what was changed or passed over, by the titles of steps and data.
func overrideWords(s Sheet, o Override) string {
	step := func(id string) string {
		for _, st := range s.Steps {
			if st.ID == id {
				return st.Title
			}
		}
		return id
	}
	switch o.What {
	case bench.OverEngine:
		for _, d := range s.Data {
			if d.Name == o.Name {
				return d.Title
			}
		}
	case bench.OverLimit:
		id, figure, _ := strings.Cut(o.Name, ".")
		return "limit of " + label(figure) + ", " + step(id)
	case bench.OverNeeds:
		return step(o.Name) + ", begun before what it needs"
	case bench.OverHold:
		return step(o.Name) + ", gone on from unsigned"
	case bench.OverVerdict:
		return step(o.Name) + ", gone on in spite of the verdict"
	case bench.OverSetup:
		return step(o.Name) + ", how well it is seated"
	case bench.OverTally:
		return plan.Called(o.Name) + ", left where it is"
	case bench.OverCure:
		return plan.Called(o.Name) + ", not waited for"
	}
	return strings.TrimSpace(o.What + " " + o.Name)
}

func (p *pdfWriter) tally(s Sheet) {
	p.heading("Counted in and out")
	if len(s.Tally.Items) == 0 {
		p.para("Nothing was put in for a time.")
	}
	var entries []entry
	for _, it := range s.Tally.Items {
		e := entry{Text: plan.Called(it.Name), Shown: fmt.Sprint(it.Count), Remark: "in " + p.o.clock(it.In.At, false) + "; still in the engine"}
		if it.Out != nil {
			out := p.o.clock(it.Out.At, false)
			if day := p.o.day(it.In.At); day == p.o.day(it.Out.At) {
				out = strings.TrimPrefix(out, day+" ")
			}
			e.Remark = "in " + p.o.clock(it.In.At, false) + ", out " + out + ", " + it.Out.By
		}
		entries = append(entries, e)
	}
	p.columns(3, entries)
	for _, l := range s.Tally.Loose {
		p.bullet("left loose: " + plan.Called(l.Name) + ", since " + p.o.clock(l.Since.At, false) + "; made fast at " + l.Ends)
	}
}

func (p *pdfWriter) signatures(s Sheet) {
	p.heading("Signatures")
	steps := signed(s)
	if steps == nil {
		p.para("No step was signed.")
		return
	}
	var entries []entry
	for _, st := range steps {
		entries = append(entries, entry{Text: fmt.Sprintf("%d. %s", st.Number, st.Title), Shown: st.Signed.By + ", " + p.o.clock(st.Signed.At, false)})
	}
	p.columns(3, entries)
}

func (p *pdfWriter) ledger(s Sheet) {
	p.heading("Ledger")
	p.small(ledgerWords(s, p.o))
	p.small("seal " + s.Ledger.Seal)
	p.small("plan " + s.Plan.SHA256)
	if s.Note != nil {
		p.pdf.Ln(1)
		p.small("Note, to be held against the ledger:")
		p.font("", 7)
		for _, l := range strings.Split(strings.TrimSpace(s.Note.Text), "\n") {
			p.line(l, 3.1)
		}
	}
}

// ledgerWords say what the seal stands for.
func ledgerWords(s Sheet, o Options) string {
	by := ""
	if s.Program != "" {
		by = " by thoud " + s.Program
	}
	return fmt.Sprintf("Made %s%s from the ledger of bench %s up to entry %d. The seal of that entry stands for it and every entry before it, byte for byte; the plan's sum for its text.",
		o.clock(s.Made, true), by, s.Bench, s.Ledger.N)
}

// photos stand two in a row, each with its note.
func (p *pdfWriter) photos(s Sheet) {
	if len(s.Photos) == 0 {
		return
	}
	p.heading("Photos")
	const gap, high = 4.0, 58.0
	wide := (p.width - 2*gap) / 3
	column, y := 0, 0.0
	for _, ph := range s.Photos {
		if column == 0 {
			p.room(high + 6)
			y = p.pdf.GetY() + 1
		}
		x := p.left + float64(column)*(wide+gap)
		kind := map[string]string{"image/jpeg": "JPG", "image/png": "PNG"}[ph.Type]
		if kind != "" && len(ph.Bytes) > 0 && readable(kind, ph.Bytes) {
			p.image("photo."+ph.ID, kind, ph.Bytes, x, y, wide, high-8)
		}
		p.caption(fmt.Sprintf("%s: %s (entry %d)", ph.Step, ph.Note, ph.Entry), x, y+high-6, wide)
		column = (column + 1) % 3
		p.pdf.SetXY(p.left, y+high)
	}
}

// image puts a picture into a box of so many mm, as large as it goes.
func (p *pdfWriter) image(name, kind string, b []byte, x, y, wide, high float64) {
	opt := fpdf.ImageOptions{ImageType: kind}
	info := p.pdf.RegisterImageOptionsReader(name, opt, bytes.NewReader(b))
	if info == nil || info.Width() <= 0 || info.Height() <= 0 {
		return
	}
	k := min(wide/info.Width(), high/info.Height())
	p.pdf.ImageOptions(name, x, y, info.Width()*k, info.Height()*k, false, opt, 0, "")
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
