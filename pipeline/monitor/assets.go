package monitor

import (
	"bytes"
	"compress/gzip"
	"embed"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"

	"thoud/calc/chart"
	"thoud/calc/drawing"
)

//go:embed static
var static embed.FS

// modules are those that every page uses, named so that a browser asks for them at once and not one after the other.
var modules = []string{"dom.js", "settings.js", "sound.js", "verbs.js", "dialog.js", "stream.js", "regions.js", "live.js", "approach.js", "trace.js", "fit.js", "entry.js", "keys.js", "forms.js", "sheet.js"}

// styles are the parts of the style, a file a concern, in the order in which they hold: a later one may narrow an earlier.
var styles = []string{"base.css", "frame.css", "bench.css", "rule.css", "verdict.css", "act.css", "trace.css", "wall.css", "drawing.css", "pages.css", "steps.css", "engine.css", "small.css", "print.css"}

// asset is a file that never changes while the service runs, as it is and packed.
type asset struct {
	kind         string
	body, packed []byte
}

// newAssets reads the files of the pages: all of static, and the style put together from its parts.
func newAssets(root string) (map[string]asset, error) {
	out := map[string]asset{}
	files, err := fs.Glob(static, "static/*")
	if err != nil {
		return nil, fmt.Errorf("static files: %w", err)
	}
	for _, file := range files {
		if ext := path.Ext(file); ext != ".js" && ext != ".svg" {
			continue // what only the checks need
		}
		body, err := static.ReadFile(file)
		if err != nil {
			return nil, fmt.Errorf("static files: %w", err)
		}
		if path.Ext(file) == ".js" {
			body = scriptUnder(root, body)
		}
		out[path.Base(file)] = newAsset(mime.TypeByExtension(path.Ext(file)), body)
	}
	var style strings.Builder
	for _, name := range styles {
		body, err := static.ReadFile("static/style/" + name)
		if err != nil {
			return nil, fmt.Errorf("style: %w", err)
		}
		style.Write(body)
	}
	style.WriteString(chart.Style())
	style.WriteString(drawing.Style())
	out["style.css"] = newAsset("text/css; charset=utf-8", []byte(style.String()))
	return out, nil
}

func newAsset(kind string, body []byte) asset {
	var b bytes.Buffer
	z, _ := gzip.NewWriterLevel(&b, gzip.BestCompression) // the level is a right one
	_, _ = z.Write(body)                                  // never fails into memory
	_ = z.Close()
	return asset{kind: kind, body: body, packed: b.Bytes()}
}

func (s *Server) staticFile(w http.ResponseWriter, r *http.Request) {
	a, ok := s.assets[r.PathValue("file")]
	if !ok {
		http.NotFound(w, r)
		return
	}
	h := w.Header()
	h.Set("Content-Type", a.kind)
	h.Set("Cache-Control", "no-cache")
	h.Set("Vary", "Accept-Encoding")
	body := a.body
	if takesGzip(r) {
		h.Set("Content-Encoding", "gzip")
		body = a.packed
	}
	if _, err := w.Write(body); err != nil {
		s.cfg.Logger.Debug().Err(err).Msg("file not sent")
	}
}

func takesGzip(r *http.Request) bool {
	for _, part := range strings.Split(r.Header.Get("Accept-Encoding"), ",") {
		name, q, _ := strings.Cut(strings.TrimSpace(part), ";")
		if name == "gzip" && strings.TrimSpace(q) != "q=0" {
			return true
		}
	}
	return false
}

// writeSmall writes a page, packed where the browser takes it so.
func writeSmall(w http.ResponseWriter, r *http.Request, body []byte) error {
	w.Header().Set("Vary", "Accept-Encoding")
	if !takesGzip(r) {
		_, err := w.Write(body)
		return err
	}
	w.Header().Set("Content-Encoding", "gzip")
	z := gzip.NewWriter(w)
	if _, err := z.Write(body); err != nil {
		return err
	}
	return z.Close()
}
