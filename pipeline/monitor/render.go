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
	"thoud/pipeline/monitor/view"
)

//go:embed pages/*.html
var pages embed.FS

// renderer holds the templates.
type renderer struct{ t *template.Template }

func newRenderer() (*renderer, error) {
	t, err := template.New("").Funcs(template.FuncMap{
		"both": bothHTML,
		"capitalBoth": func(t view.Text) template.HTML {
			return bothHTML(view.Text{MM: view.Capital(t.MM), Inch: view.Capital(t.Inch)})
		},
		"capital": view.Capital,
		"named":   func(s string) string { return strings.ReplaceAll(s, "_", " ") },
		"clock":   view.Clock,
		"day":     view.Day,
		"shown":   view.Shown,
		"before":  func(n uint64) uint64 { return n - 1 },
		"next":    func(n uint64) uint64 { return n + 1 },
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
func bothHTML(t view.Text) template.HTML {
	if t.MM == t.Inch {
		return template.HTML(template.HTMLEscapeString(t.MM))
	}
	return template.HTML(`<span class="mm">` + template.HTMLEscapeString(t.MM) + `</span><span class="inch">` + template.HTMLEscapeString(t.Inch) + `</span>`)
}

// regions renders a page's regions from a view.
func (r *renderer) regions(page string, v view.View) (map[string]string, error) {
	out := map[string]string{}
	row, _ := pageOf(page)
	for _, name := range row.Regions {
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
	Script string     // a module of the page's own; "" none
	Menu   []MenuItem // pages that the viewer may go to
	Work   bool       // the viewer may work
	Code   bool       // a code was asked for, so that one can leave
	Fault  string
	R      map[string]template.HTML
	Data   any
}

// live serves a page that is kept up to date.
func (s *Server) live(row pageRow) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		regions, id, err := s.hub.regions(row.Name)
		if err != nil {
			s.fail(w, err)
			return
		}
		p := Page{Stream: row.Name, At: id, R: map[string]template.HTML{}}
		for k, html := range regions {
			p.R[k] = template.HTML(html) // rendered by a template of ours, so escaped already
		}
		s.page(w, r, row.Name, p)
	}
}

// page writes one whole page.
func (s *Server) page(w http.ResponseWriter, r *http.Request, name string, p Page) {
	row, _ := pageOf(name)
	who := s.access.role(r)
	p.Name, p.Pedal, p.Script, p.Menu = name, s.cfg.Pedal, row.Script, menu(who)
	p.Work, p.Code = who == roleWork, !s.access.open()
	if p.Title == "" {
		p.Title = row.Title
	}
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
