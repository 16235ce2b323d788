package monitor

import (
	"context"
	"encoding/json"
	"net/http"
	"sync"
	"thoud/pipeline/monitor/view"
	"time"
)

// longWork carries out something that takes its time and tells the page how far it is, one JSON object a line:
//
//	{"done": 3, "total": 12, "words": "..."}   while it goes on, at most ten a second
//	{"fault": "..."}                           where it failed
//	what do gave                               where it did not
//
// It ends when the page goes away or the service ends.
func (s *Server) longWork(w http.ResponseWriter, r *http.Request, do func(ctx context.Context, progress func(done, total int, words string)) (map[string]any, error)) {
	ctx, cancel := context.WithCancel(r.Context())
	defer cancel()
	defer context.AfterFunc(s.ctx, cancel)()
	rc := http.NewResponseController(w)
	w.Header().Set("Content-Type", "application/x-ndjson")
	enc := json.NewEncoder(w)
	say := func(v any) {
		if rc.SetWriteDeadline(time.Now().Add(writeWait)) == nil && enc.Encode(v) == nil {
			_ = rc.Flush() // a page that has gone away ends the request's context
		}
	}
	var mu sync.Mutex
	var last time.Time
	got, err := do(ctx, func(done, total int, words string) {
		mu.Lock()
		defer mu.Unlock()
		if now := time.Now(); done == total || now.Sub(last) >= 100*time.Millisecond {
			last = now
			say(map[string]any{"done": done, "total": total, "words": words})
		}
	})
	mu.Lock()
	defer mu.Unlock()
	if err != nil {
		s.cfg.Logger.Warn().Err(err).Str("path", r.URL.Path).Msg("long work failed")
		say(map[string]any{"fault": view.Capital(err.Error())})
		return
	}
	say(got)
}

// keep verifies the ledger, or backs it up.
func (s *Server) keep(w http.ResponseWriter, r *http.Request) {
	if !isJSON(r) {
		http.Error(w, "want application/json", http.StatusUnsupportedMediaType)
		return
	}
	if s.cfg.Keeper == nil {
		http.NotFound(w, r)
		return
	}
	work, doing := s.cfg.Keeper.Verify, "verifying"
	switch r.PathValue("what") {
	case "verify":
	case "backup":
		work, doing = s.cfg.Keeper.Backup, "copying"
	default:
		http.NotFound(w, r)
		return
	}
	s.longWork(w, r, func(ctx context.Context, progress func(done, total int, words string)) (map[string]any, error) {
		words, err := work(ctx, func(done, total int) { progress(done, total, doing) })
		return map[string]any{"words": words}, err
	})
}
