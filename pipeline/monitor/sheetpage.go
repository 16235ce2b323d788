package monitor

import (
	"bytes"
	"net/http"
	"regexp"
	"slices"
	"strings"
)

// SheetData is what the page of the build sheet shows.
type SheetData struct {
	Job   string
	Jobs  []string
	Fault string
}

// sheetKinds are the formats of a sheet with their media types.
var sheetKinds = map[string]string{
	"html": "text/html; charset=utf-8", "pdf": "application/pdf", "csv": "text/csv; charset=utf-8", "json": "application/json",
}

// sheetPolicy is for the sheet itself: a page that stands alone, so it may bring its own style, but no script, and it may
// be shown only within a page of ours.
const sheetPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'self'"

func (s *Server) sheetPage(w http.ResponseWriter, r *http.Request) {
	state := s.cfg.Bench.State()
	d := SheetData{Job: r.URL.Query().Get("job")}
	for i := len(state.Index) - 1; i >= 0; i-- {
		d.Jobs = append(d.Jobs, state.Index[i].Job)
	}
	if d.Job == "" {
		d.Job = state.Place.Build
	}
	if d.Job == "" && len(d.Jobs) > 0 {
		d.Job = d.Jobs[0]
	}
	switch {
	case s.cfg.Sheets == nil:
		d.Fault = "this service prints no sheets"
	case len(d.Jobs) == 0:
		d.Fault = "there is no build yet"
	case !slices.Contains(d.Jobs, d.Job):
		d.Fault = "there is no job " + d.Job
	}
	w.Header().Set("Content-Security-Policy", contentPolicy+"; frame-src 'self'")
	s.page(w, r, "sheet", Page{Title: "Sheet", Data: d})
}

var notFileName = regexp.MustCompile(`[^A-Za-z0-9_-]+`)

// readingsName is the file's name of a sheet with every reading at its end.
const readingsName = "readings"

func (s *Server) sheetFile(w http.ResponseWriter, r *http.Request) {
	name, format, ok := strings.Cut(r.PathValue("file"), ".")
	ok = ok && (name == "sheet" || name == readingsName)
	kind, known := sheetKinds[format]
	job := r.URL.Query().Get("job")
	if _, found := s.cfg.Bench.State().Known(job); !ok || !known || !found || s.cfg.Sheets == nil {
		http.NotFound(w, r)
		return
	}
	system := "inch"
	if r.URL.Query().Get("system") == "mm" {
		system = "mm"
	}
	var b bytes.Buffer
	if err := s.cfg.Sheets.Sheet(r.Context(), SheetAsked{Job: job, Format: format, System: system, Readings: name == readingsName}, &b); err != nil {
		s.fail(w, err)
		return
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Security-Policy", sheetPolicy)
	if format != "html" {
		w.Header().Set("Content-Disposition", `attachment; filename="job-`+notFileName.ReplaceAllString(job, "-")+map[bool]string{true: "-" + readingsName}[name == readingsName]+"."+format+`"`)
	}
	if _, err := b.WriteTo(w); err != nil {
		s.cfg.Logger.Debug().Err(err).Msg("sheet not sent")
	}
}
