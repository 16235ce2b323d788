package monitor

import (
	"encoding/json"
	"fmt"
	"net/http"
	"time"
)

// Pace of a stream.
const (
	leastApart = 50 * time.Millisecond // of two live messages: 20 a second at most
	heartbeat  = 3 * time.Second       // a page that hears nothing for longer knows that it is not live
	writeWait  = 15 * time.Second      // a reader that takes nothing for so long is dropped
)

// stream sends a page its changes as server-sent events:
//
//	page  {"at": id, "place": {...}, "r": {region: html}}   only the regions that changed
//	live  [{...}]                                           the newest value of each gauge that moved
//	tone  {"tone": "taken", "words": "..."}
//	beat  {}
//
// A page's id says which run of the service and which state it shows. One that comes back with the newest id (in
// Last-Event-ID, or "last" where the browser began a new stream) is sent no page; any other is sent it whole, so that
// nothing can be missing after a gap.
func (s *Server) stream(w http.ResponseWriter, r *http.Request) {
	page := r.PathValue("page")
	if row, ok := pageOf(page); !ok || row.Regions == nil {
		http.NotFound(w, r)
		return
	}
	may := s.access.role(r)
	if page == "bench" && may != roleWork {
		page = "wall"
	}
	rc := http.NewResponseController(w)
	last := r.Header.Get("Last-Event-ID")
	if last == "" {
		last = r.URL.Query().Get("last")
	}
	head := w.Header()
	head.Set("Content-Type", "text/event-stream")
	head.Set("Cache-Control", "no-store")
	head.Set("X-Accel-Buffering", "no")
	v := s.hub.join()
	defer s.hub.leave(v)
	out := sender{w: w, rc: rc, hub: s.hub, page: page, shown: map[string]string{}}
	_, out.tone = s.hub.tonesSince(^uint64(0))
	if regions, id, err := s.hub.regions(page); err == nil && id == last {
		out.shown, out.id = regions, id
	}
	// The first beat tells the page at once that it is live, even where nothing is new.
	if out.event("beat", "", struct{}{}) != nil || out.send(true) != nil {
		return
	}
	beat := time.NewTicker(heartbeat)
	defer beat.Stop()
	pace := time.NewTimer(0)
	defer pace.Stop()
	due := true // live values may be sent
	for {
		select {
		case <-r.Context().Done():
			return
		case <-s.ctx.Done():
			return
		case <-pace.C:
			due = true
		case <-v.wake:
		case <-beat.C:
			if s.access.role(r) != may {
				return
			}
			if out.event("beat", "", struct{}{}) != nil {
				return
			}
			continue
		}
		if s.access.role(r) != may {
			return // logged out, or the session is over
		}
		sent := out.live
		if out.send(due) != nil {
			return
		}
		if out.live != sent {
			due = false
			pace.Reset(leastApart)
		}
	}
}

// sender writes one viewer's events and remembers what it has been sent.
type sender struct {
	w     http.ResponseWriter
	rc    *http.ResponseController
	hub   *hub
	page  string
	shown map[string]string
	id    string
	live  uint64
	tone  uint64
}

// send writes whatever is new; live values only where they are due.
func (o *sender) send(live bool) error {
	regions, id, err := o.hub.regions(o.page)
	if err != nil {
		return err
	}
	if id != o.id {
		changed := map[string]string{}
		for name, html := range regions {
			if old, ok := o.shown[name]; !ok || old != html {
				changed[name] = html
			}
		}
		o.shown, o.id = regions, id
		if err := o.event("page", id, map[string]any{"at": id, "r": changed}); err != nil {
			return err
		}
	}
	if live {
		items, seq := o.hub.liveSince(o.live)
		if len(items) > 0 {
			if err := o.event("live", "", items); err != nil {
				return err
			}
		}
		o.live = seq
	}
	tones, seq := o.hub.tonesSince(o.tone)
	for _, t := range tones {
		if err := o.event("tone", "", t); err != nil {
			return err
		}
	}
	o.tone = seq
	return nil
}

func (o *sender) event(name, id string, data any) error {
	body, err := json.Marshal(data) // JSON on one line: no newline can end the event early
	if err != nil {
		return err
	}
	// Without this the server's write timeout would cut every stream.
	if err := o.rc.SetWriteDeadline(time.Now().Add(writeWait)); err != nil {
		return err
	}
	if id != "" {
		if _, err := fmt.Fprintf(o.w, "id: %s\n", id); err != nil {
			return err
		}
	}
	if _, err := fmt.Fprintf(o.w, "event: %s\ndata: %s\n\n", name, body); err != nil {
		return err
	}
	return o.rc.Flush()
}
