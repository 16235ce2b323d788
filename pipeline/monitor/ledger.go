package monitor

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/pipeline/monitor/view"
)

// ledgerRows is how many entries a page of the ledger lists.
const ledgerRows = 100

// LedgerData is what the ledger's list shows.
type LedgerData struct {
	Filter Filter
	Kinds  []bench.KindRow
	Builds []string
	Steps  []StepChoice // of the build on the bench, and the one that is asked for
	Gauges []string
	Rows   []LedgerRow
	Older  string // address of the next page; "" none
	Keeps  bool   // the ledger can be verified and backed up from here
	Fault  string
	Within string // which entries a short text was looked for in; "" where all were
}

// StepChoice is a step that one may look for.
type StepChoice struct{ ID, Title string }

// Filtered reports whether anything is looked for.
func (d LedgerData) Filtered() bool {
	f := d.Filter
	return f.Build+f.Step+f.Gauge+string(f.Kind)+f.Text != "" || f.To != 0
}

// LedgerRow is one entry of the list.
type LedgerRow struct {
	bench.Entry
	Words     string // what happened
	Where     string
	Says      view.Text
	Withdrawn bool
}

func (s *Server) ledgerPage(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	f := Filter{Build: q.Get("build"), Step: q.Get("step"), Gauge: q.Get("gauge"), Kind: bench.Kind(q.Get("kind")), Text: strings.TrimSpace(q.Get("text")), Limit: ledgerRows + 1}
	if to, err := strconv.ParseUint(q.Get("to"), 10, 64); err == nil {
		f.To = to
	}
	state := s.cfg.Bench.State()
	d := LedgerData{Filter: f, Kinds: bench.KindTable(), Keeps: s.cfg.Keeper != nil}
	for _, b := range state.Index {
		d.Builds = append(d.Builds, b.Job)
	}
	d.Steps = stepChoices(state, f)
	for _, g := range state.Gauges {
		d.Gauges = append(d.Gauges, g.Name)
	}
	if s.cfg.Archive == nil {
		d.Fault = "this service has no ledger to look into"
		s.page(w, r, "ledger", Page{Title: "Ledger", Data: d})
		return
	}
	d.Within = f.shorten(state.N)
	records, err := s.cfg.Archive.Entries(r.Context(), f)
	if err != nil {
		s.fail(w, err)
		return
	}
	older := func(to uint64) {
		next := url.Values{}
		for k, vs := range q {
			next[k] = vs
		}
		next.Set("to", strconv.FormatUint(to, 10))
		d.Older = "/ledger?" + next.Encode()
	}
	if len(records) > ledgerRows {
		records = records[:ledgerRows]
		older(records[ledgerRows-1].Entry.N - 1)
	} else if f.From > 1 {
		older(f.From - 1)
	}
	for _, rec := range records {
		d.Rows = append(d.Rows, LedgerRow{Entry: rec.Entry, Words: view.Happened(rec.Entry.Kind), Where: view.Where(state, rec.Entry.Place), Says: view.Says(state, rec.Entry), Withdrawn: view.IsWithdrawn(state, rec.Entry)})
	}
	s.page(w, r, "ledger", Page{Title: "Ledger", Data: d})
}

// A text of fewer signs than the ledger's index is made of is looked for by reading entries: in so many at once, so that it
// costs the same whatever the ledger's length.
const (
	shortText      = 3
	shortTextLooks = 5_000
)

// shorten bounds a filter by a short text alone to the newest entries, and says which; "" where nothing need be bounded.
func (f *Filter) shorten(last uint64) string {
	if f.Text == "" || utf8.RuneCountInString(f.Text) >= shortText || f.Build != "" {
		return ""
	}
	if f.To == 0 {
		f.To = last
	}
	if f.To <= shortTextLooks {
		return ""
	}
	f.From = f.To - shortTextLooks + 1
	return fmt.Sprintf("%q is short: it was looked for in entries %d to %d. Three signs or more are looked for in the whole ledger", f.Text, f.From, f.To)
}

// stepChoices are the steps of the build that is looked for, else of the one on the bench; what was asked for is among them.
func stepChoices(s bench.State, f Filter) []StepChoice {
	job := f.Build
	if job == "" {
		job = s.Place.Build
	}
	var out []StepChoice
	if b, ok := s.Build(job); ok && b.Plan != nil {
		for _, st := range b.Plan.Steps {
			out = append(out, StepChoice{st.ID, st.Title})
		}
	}
	if f.Step != "" && !slices.ContainsFunc(out, func(c StepChoice) bool { return c.ID == f.Step }) {
		out = append(out, StepChoice{f.Step, f.Step})
	}
	return out
}

// EntryData is what the page of one entry shows.
type EntryData struct {
	Record
	Words     string // what happened
	Place     string
	Says      view.Text
	Withdrawn bool
	Frames    []FrameView
	Raw       view.Text
	Zero      *Record // the zero a reading was taken against
	Gauge     *bench.GaugeState
	Uses      []bench.Result
	JSON      string // the bytes as published, indented for reading
	Bytes     string // the bytes as published, as they are
}

// FrameView is one message of a gauge: as text with its control characters named, and in hex.
type FrameView struct{ Text, Hex string }

func (s *Server) entryPage(w http.ResponseWriter, r *http.Request) {
	n, err := strconv.ParseUint(r.PathValue("n"), 10, 64)
	if err != nil || n == 0 || s.cfg.Archive == nil {
		http.NotFound(w, r)
		return
	}
	records, err := s.cfg.Archive.Entries(r.Context(), Filter{From: n, To: n, Limit: 1})
	switch {
	case err == nil && len(records) == 0 || errors.Is(err, ErrNoEntry):
		http.Error(w, "the ledger has no entry "+r.PathValue("n"), http.StatusNotFound)
		return
	case err != nil:
		s.fail(w, err)
		return
	}
	rec, state := records[0], s.cfg.Bench.State()
	d := EntryData{Record: rec, Words: view.Happened(rec.Entry.Kind), Place: view.Where(state, rec.Entry.Place), Says: view.Says(state, rec.Entry), Withdrawn: view.IsWithdrawn(state, rec.Entry), Bytes: string(rec.Body)}
	var indented bytes.Buffer
	if json.Indent(&indented, rec.Body, "", "  ") == nil {
		d.JSON = indented.String()
	}
	if rd := rec.Entry.Reading; rd != nil {
		d.Raw = view.Shown(rd.Raw)
		for _, f := range rd.Frames {
			d.Frames = append(d.Frames, FrameView{Text: strconv.QuoteToASCII(string(f)), Hex: hexOf(f)})
		}
		if g, ok := state.Gauge(rd.Gauge); ok {
			d.Gauge = &g
		}
		if rd.Zero != "" {
			if z, err := s.cfg.Archive.EntryOf(r.Context(), rd.Zero); err == nil {
				d.Zero = &z
			} else if !errors.Is(err, ErrNoEntry) {
				s.fail(w, err)
				return
			}
		}
		if d.Uses, err = s.cfg.Archive.Using(r.Context(), rec.Entry.ID); err != nil {
			s.fail(w, err)
			return
		}
		for i, u := range d.Uses {
			d.Uses[i].Step, d.Uses[i].Key = view.StepTitle(state, u.Build, u.Step), plan.RunName(u.Key)
		}
	}
	s.page(w, r, "entry", Page{Title: "Entry " + r.PathValue("n"), Data: d})
}

// hexOf writes bytes in pairs.
func hexOf(b []byte) string {
	var parts []string
	for _, x := range b {
		parts = append(parts, hex.EncodeToString([]byte{x}))
	}
	return strings.Join(parts, " ")
}
