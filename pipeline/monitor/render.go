package monitor

import (
	"bytes"
	"crypto/rand"
	"embed"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"regexp"
	"strings"

	"thoud/calc"
	"thoud/calc/markup"
	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

//go:embed pages/*.html
var pages embed.FS

// renderer holds the templates.
type renderer struct {
	t *markup.Set
	// Marks of rows in what a template writes. They hold a random part, so that no text of a plan or a gauge can be taken
	// for one.
	rowOpen, rowKey, rowEnd string
	root                    string // path under which the pages are served
}

func newRenderer(root string) (*renderer, error) {
	var salt [8]byte
	_, _ = rand.Read(salt[:]) // never fails
	mark := "\x01" + hex.EncodeToString(salt[:])
	r := &renderer{rowOpen: mark + "(", rowKey: mark + ":", rowEnd: mark + ")", root: root}
	funcs := markup.Funcs{
		"row":       func(key any) markup.HTML { return markup.HTML(r.rowOpen + fmt.Sprint(key) + r.rowKey) },
		"rowEnd":    func() markup.HTML { return markup.HTML(r.rowEnd) },
		"both":      bothHTML,
		"bothTspan": bothTspan,
		"large":     largeHTML,
		"capitalBoth": func(t view.Text) markup.HTML {
			return bothHTML(view.Text{MM: view.Capital(t.MM), Inch: view.Capital(t.Inch)})
		},
		"capital": view.Capital,
		"named":   calc.FigureWords,
		"clock":   view.Clock,
		"day":     view.Day,
		"moment":  view.Moment,
		"shown":   view.Shown,
		"before":  func(n uint64) uint64 { return n - 1 },
		"next":    func(n uint64) uint64 { return n + 1 },
		"place": func(p bench.Place) (string, error) {
			b, err := json.Marshal(p)
			return string(b), err
		},
	}
	maps.Copy(funcs, methods())
	t, err := markup.ParseFS(pages, "pages/*.html", funcs)
	if err != nil {
		return nil, fmt.Errorf("templates: %w", err)
	}
	r.t = t
	return r, nil
}

// inBoth writes a text in both systems; the style shows the one that is chosen.
func inBoth(t view.Text, write func(s string) string, element string) markup.HTML {
	if t.MM == t.Inch {
		return markup.HTML(write(t.MM))
	}
	return markup.HTML(`<` + element + ` class="mm">` + write(t.MM) + `</` + element + `><` + element + ` class="inch">` + write(t.Inch) + `</` + element + `>`)
}

func typeset(s string) string { return markup.Escape(view.Typeset(s)) }

func bothHTML(t view.Text) markup.HTML { return inBoth(t, typeset, "span") }

// bothTspan is bothHTML within the text of a picture.
func bothTspan(t view.Text) markup.HTML { return inBoth(t, markup.Escape, "tspan") }

// largeHTML writes an amount in the largest figures, its unit smaller.
func largeHTML(t view.Text) markup.HTML {
	return inBoth(t, func(s string) string {
		n, unit := view.Parted(s)
		if unit == "" {
			return `<span data-number>` + markup.Escape(n) + `</span>`
		}
		return `<span data-number>` + markup.Escape(n) + `</span><span class="unit">` + markup.Escape(unit) + `</span>`
	}, "span")
}

// region is a part of a page as it was rendered: whole, and taken apart into its rows.
type region struct {
	html  string
	frame string // without its rows
	keys  []string
	rows  map[string]string
}

// apart takes what a template wrote apart at the marks of its rows.
func (r *renderer) apart(out string) region {
	reg := region{rows: map[string]string{}}
	var html, frame strings.Builder
	for {
		before, rest, ok := strings.Cut(out, r.rowOpen)
		html.WriteString(before)
		frame.WriteString(before)
		if !ok {
			break
		}
		key, rest, _ := strings.Cut(rest, r.rowKey)
		row, rest, _ := strings.Cut(rest, r.rowEnd)
		html.WriteString(row)
		frame.WriteString("\x00")
		reg.keys = append(reg.keys, key)
		reg.rows[key] = row
		out = rest
	}
	reg.html, reg.frame = html.String(), frame.String()
	return reg
}

// since gives what changed of a region: nothing, single rows, or the whole of it.
func (reg region) since(old region) (whole string, rows map[string]string) {
	if reg.html == old.html {
		return "", nil
	}
	if reg.frame != old.frame || len(reg.keys) == 0 || len(reg.keys) != len(reg.rows) || strings.Join(reg.keys, "\x00") != strings.Join(old.keys, "\x00") {
		return reg.html, nil
	}
	rows = map[string]string{}
	for _, key := range reg.keys {
		if reg.rows[key] != old.rows[key] {
			rows[key] = reg.rows[key]
		}
	}
	return "", rows
}

// regions renders a page's regions from a view.
func (r *renderer) regions(page string, v view.View) (map[string]region, error) {
	out := map[string]region{}
	row, _ := pageOf(page)
	for _, name := range row.Regions {
		var b bytes.Buffer
		if err := r.t.Execute(&b, name, v); err != nil {
			return nil, fmt.Errorf("page %s, %s: %w", page, name, err)
		}
		out[name] = r.apart(string(under(r.root, b.Bytes())))
	}
	return out, nil
}

// Page is what every page's frame needs, and the page's own data.
type Page struct {
	Name    string
	Title   string
	Stream  string // name of the stream; "" none
	At      string // id of the state the page was rendered from
	Pedal   string
	Script  string     // a module of the page's own; "" none
	Modules []string   // those that every page has
	Menu    []MenuItem // pages that the viewer may go to
	Work    bool       // the viewer may work
	Code    bool       // a code was asked for, so that one can leave
	Fault   string
	Bench   string   // at a hub: whose page it is
	Known   []string // at a hub, on a page that is not live: what is wrong at the bench, or to be known of it
	R       map[string]markup.HTML
	Data    any
}

// live serves a page that is kept up to date.
func (s *Server) live(row pageRow) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		regions, id, err := s.hub.regions(row.Name)
		if err != nil {
			s.fail(w, err)
			return
		}
		p := Page{Stream: row.Name, At: id, R: map[string]markup.HTML{}}
		for k, reg := range regions {
			p.R[k] = markup.HTML(reg.html) // rendered by a template of ours, so escaped already
		}
		s.page(w, r, row.Name, p)
	}
}

// page writes one whole page.
func (s *Server) page(w http.ResponseWriter, r *http.Request, name string, p Page) {
	row, _ := pageOf(name)
	who := s.access.role(r)
	p.Name, p.Pedal, p.Script, p.Menu, p.Modules = name, s.cfg.Pedal, row.Script, menu(who), modules
	p.Work, p.Code = who == roleWork, !s.access.open()
	if p.Title == "" {
		p.Title = row.Title
	}
	if s.cfg.Root != "" { // at a hub: whose page it is, and the way back
		p.Bench = s.cfg.Bench.State().Bench
		p.Title += ", bench " + p.Bench
		p.Menu = append(p.Menu, MenuItem{Name: "hub", Path: hubPath, Title: "All benches"})
		for _, n := range s.cfg.Bench.Troubles() {
			if p.Stream == "" {
				p.Known = append(p.Known, view.Whole(n.Words))
			}
		}
	}
	var b bytes.Buffer
	if err := s.render.t.Execute(&b, "page-"+name, p); err != nil {
		s.fail(w, fmt.Errorf("page %s: %w", name, err))
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if err := writeSmall(w, r, under(s.cfg.Root, b.Bytes())); err != nil {
		s.cfg.Logger.Debug().Err(err).Str("page", name).Msg("page not sent")
	}
}

func (s *Server) fail(w http.ResponseWriter, err error) {
	s.cfg.Logger.Error().Err(err).Msg("page failed")
	http.Error(w, "this page could not be made: "+withoutFolders(err.Error())+" (the whole of it is in the service's log)", http.StatusInternalServerError)
}

// folders are the folders of a path in a text; where the shop keeps its files is nothing for whoever only looks.
var folders = regexp.MustCompile(`(?:/[^/\s:"',;()]+)+/`)

// withoutFolders leaves of each path in a text its last name.
func withoutFolders(text string) string { return folders.ReplaceAllString(text, "") }
