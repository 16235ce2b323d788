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
	heartbeat  = time.Second           // a page that hears nothing for more than two of them says that it is not live
	writeWait  = 15 * time.Second      // a reader that takes nothing for so long is dropped
)

// stream sends a page its changes as server-sent events:
//
//	page  {"at": id, "r": {region: html}, "rows": {region: {row: html}}}   only the regions and the rows that changed
//	live  [{...}]                                                          the newest value of each gauge that moved
//	turn  {"on": true, "points": [[angle, value], ...]}                    the curve of a sweep that runs
//	tone  {"tone": "taken", "words": "..."}
//	beat  {"now": ms}                                                      the clock of the service
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
	left, ok := s.mayStream(w, r)
	if !ok {
		return
	}
	defer left()
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
	out := sender{w: w, rc: rc, hub: s.hub, page: page, id: last}
	_, out.tone = s.hub.tonesSince(^uint64(0))
	// The first beat tells the page at once that it is live, even where nothing is new.
	if out.beat() != nil || out.send(true) != nil {
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
			if out.beat() != nil {
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
	w    http.ResponseWriter
	rc   *http.ResponseController
	hub  *hub
	page string
	id   string // of the state it shows
	live uint64
	turn uint64
	tone uint64
}

// send writes whatever is new; live values only where they are due.
func (o *sender) send(live bool) error {
	news, id, err := o.hub.since(o.page, o.id)
	if err != nil {
		return err
	}
	if news != nil {
		if err := o.write("page", id, news); err != nil {
			return err
		}
	}
	o.id = id
	if live {
		items, seq := o.hub.liveSince(o.live)
		if items != nil {
			if err := o.write("live", "", items); err != nil {
				return err
			}
		}
		o.live = seq
		points, seq := o.hub.turnSince(o.turn)
		if points != nil {
			if err := o.write("turn", "", points); err != nil {
				return err
			}
		}
		o.turn = seq
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

func (o *sender) beat() error {
	return o.event("beat", "", map[string]int64{"now": time.Now().UnixMilli()})
}

func (o *sender) event(name, id string, data any) error {
	body, err := json.Marshal(data) // JSON on one line: no newline can end the event early
	if err != nil {
		return err
	}
	return o.write(name, id, body)
}

// write sends an event whose data is encoded.
func (o *sender) write(name, id string, body []byte) error {
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
