package monitor

import (
	"bytes"
	"embed"
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"strings"

	"thoud/capture/bench"
)

//go:embed pages/*.html
var pages embed.FS

// livePages are the pages that are kept up to date over a stream, each made of regions that are replaced as they change.
var livePages = []string{"bench", "wall", "steps", "gauges"}

// regionsOf lists a page's regions; each is a template of the same name.
func regionsOf(page string) []string {
	switch page {
	case "bench":
		return []string{"head", "alert", "now", "adjust", "live", "act", "side", "more"}
	case "wall":
		return []string{"head", "alert", "now", "adjust", "live", "side"}
	case "steps":
		return []string{"head", "alert", "plan"}
	case "gauges":
		return []string{"head", "alert", "gauges"}
	}
	return nil
}

// renderer holds the templates.
type renderer struct{ t *template.Template }

func newRenderer() (*renderer, error) {
	t, err := template.New("").Funcs(template.FuncMap{
		"both":        bothHTML,
		"capitalBoth": func(t Text) template.HTML { return bothHTML(Text{MM: capital(t.MM), Inch: capital(t.Inch)}) },
		"capital":     capital,
		"named":       func(s string) string { return strings.ReplaceAll(s, "_", " ") },
		"clock":       clock,
		"day":         day,
		"shown":       shown,
		"before":      func(n uint64) uint64 { return n - 1 },
		"next":        func(n uint64) uint64 { return n + 1 },
		"place": func(p bench.Place) (string, error) {
			b, err := json.Marshal(p)
			return string(b), err
		},
	}).ParseFS(pages, "pages/*.html")
	if err != nil {
		return nil, fmt.Errorf("templates: %w", err)
	}
	return &renderer{t}, nil
}

// bothHTML writes a text in both systems; the style shows the one that is chosen.
func bothHTML(t Text) template.HTML {
	if t.MM == t.Inch {
		return template.HTML(template.HTMLEscapeString(t.MM))
	}
	return template.HTML(`<span class="mm">` + template.HTMLEscapeString(t.MM) + `</span><span class="inch">` + template.HTMLEscapeString(t.Inch) + `</span>`)
}

// regions renders a page's regions from a view.
func (r *renderer) regions(page string, v View) (map[string]string, error) {
	out := map[string]string{}
	for _, name := range regionsOf(page) {
		var b bytes.Buffer
		if err := r.t.ExecuteTemplate(&b, name, v); err != nil {
			return nil, fmt.Errorf("page %s, %s: %w", page, name, err)
		}
		out[name] = b.String()
	}
	return out, nil
}

// Page is what every page's frame needs, and the page's own data.
type Page struct {
	Name   string
	Title  string
	Stream string // name of the stream; "" none
	At     string // id of the state the page was rendered from
	Pedal  string
	Work   bool // the viewer may work
	Code   bool // a code was asked for, so that one can leave
	Fault  string
	R      map[string]template.HTML
	Data   any
}

// live serves a page that is kept up to date.
func (s *Server) live(name string, least role) http.HandlerFunc {
	return s.need(least, func(w http.ResponseWriter, r *http.Request) {
		regions, id, err := s.hub.regions(name)
		if err != nil {
			s.fail(w, err)
			return
		}
		p := Page{Title: capital(name), Stream: name, At: id, R: map[string]template.HTML{}}
		for k, html := range regions {
			p.R[k] = template.HTML(html) // rendered by a template of ours, so escaped already
		}
		s.page(w, r, name, p)
	})
}

// page writes one whole page.
func (s *Server) page(w http.ResponseWriter, r *http.Request, name string, p Page) {
	p.Name, p.Pedal = name, s.cfg.Pedal
	p.Work, p.Code = s.access.role(r) == roleWork, !s.access.open()
	var b bytes.Buffer
	if err := s.render.t.ExecuteTemplate(&b, "page-"+name, p); err != nil {
		s.fail(w, fmt.Errorf("page %s: %w", name, err))
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if _, err := b.WriteTo(w); err != nil {
		s.cfg.Logger.Debug().Err(err).Str("page", name).Msg("page not sent")
	}
}

func (s *Server) fail(w http.ResponseWriter, err error) {
	s.cfg.Logger.Error().Err(err).Msg("page failed")
	http.Error(w, "this page could not be made: "+err.Error(), http.StatusInternalServerError)
}
