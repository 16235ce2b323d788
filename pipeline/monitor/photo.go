package monitor

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	_ "image/jpeg" // the two kinds of photo that are taken
	_ "image/png"
	"io"
	"net/http"
	"strings"

	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// photoBytes is how large a photo may be: it becomes part of an entry, for ever. The page shrinks larger ones.
const photoBytes = 512 << 10

// photoNote is how long its note may be, in bytes.
const photoNote = 200

// photoSide is how many pixels a side of it may have: a few bytes can claim more than any viewer has memory for.
const photoSide = 12_000

// photoKind tells by its content what kind of picture a photo is, "image/jpeg" or "image/png". What anybody called it
// does not count.
func photoKind(b []byte) (string, error) {
	c, kind, err := image.DecodeConfig(bytes.NewReader(b))
	switch {
	case err != nil || kind != "jpeg" && kind != "png": // other packages may have taught image more kinds
		return "", fmt.Errorf("this is no photo that can be kept: want a JPEG or PNG picture")
	case c.Width > photoSide || c.Height > photoSide:
		return "", fmt.Errorf("this photo is %d by %d pixels: want at most %d a side", c.Width, c.Height, photoSide)
	}
	return "image/" + kind, nil
}

// pin pins a photo to the step in work. The body is the picture as it is; id and note are in the address.
func (s *Server) pin(w http.ResponseWriter, r *http.Request) {
	if !strings.HasPrefix(r.Header.Get("Content-Type"), "image/") { // a form of another page cannot send one
		http.Error(w, "want image/jpeg or image/png", http.StatusUnsupportedMediaType)
		return
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, photoBytes))
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		http.Error(w, fmt.Sprintf("the photo is larger than %d kB: nothing is kept", photoBytes>>10), http.StatusRequestEntityTooLarge)
		return
	case err != nil:
		http.Error(w, "the photo did not come whole: "+err.Error(), http.StatusBadRequest)
		return
	}
	kind, err := photoKind(body)
	if err != nil {
		http.Error(w, view.Capital(err.Error()), http.StatusUnsupportedMediaType)
		return
	}
	q := r.URL.Query()
	id, note := q.Get("id"), strings.TrimSpace(q.Get("note"))
	if len(id) < 8 || len(id) > 64 || len(note) > photoNote {
		http.Error(w, fmt.Sprintf("want an id, and a note of at most %d letters", photoNote), http.StatusBadRequest)
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), doWait)
	defer cancel()
	answer := s.cfg.Bench.Do(ctx, bench.Verb{ID: id, Name: bench.DoPhoto, By: "screen", Picture: &bench.Picture{Type: kind, Bytes: body, Note: note}})
	w.Header().Set("Content-Type", "application/json")
	if err := json.NewEncoder(w).Encode(answer); err != nil {
		s.cfg.Logger.Debug().Err(err).Msg("answer not sent")
	}
}

// photo serves a photo from the ledger by the id of its entry. Its type is looked at again: an entry may have come from
// elsewhere than the page.
func (s *Server) photo(w http.ResponseWriter, r *http.Request) {
	if s.cfg.Archive == nil {
		http.NotFound(w, r)
		return
	}
	rec, err := s.cfg.Archive.EntryOf(r.Context(), r.PathValue("id"))
	switch {
	case errors.Is(err, ErrNoEntry) || err == nil && (rec.Entry.Kind != bench.Photo || rec.Entry.Picture == nil):
		http.NotFound(w, r)
		return
	case err != nil:
		s.fail(w, err)
		return
	}
	kind, err := photoKind(rec.Entry.Picture.Bytes)
	if err != nil {
		http.Error(w, view.Capital(err.Error()), http.StatusUnsupportedMediaType)
		return
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "private, max-age=86400, immutable") // an entry never changes, and regions are drawn anew often
	if _, err := w.Write(rec.Entry.Picture.Bytes); err != nil {
		s.cfg.Logger.Debug().Err(err).Msg("photo not sent")
	}
}
