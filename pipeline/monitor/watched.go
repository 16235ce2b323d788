package monitor

import (
	"net"
	"net/http"
)

// Watched are the answers to programs that watch over machines: counters, and whether all is well. Nil handlers are not
// served.
type Watched struct {
	Metrics, Health http.Handler
	Open            bool // to other machines too; else to this one only
}

// watchedBy serves a handler to this machine, and to others where that is allowed. These answers hold no reading and no
// text of a person, and want no code.
func (s *Server) watchedBy(h http.Handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		host, _, err := net.SplitHostPort(r.RemoteAddr)
		if ip := net.ParseIP(host); !s.cfg.Watched.Open && (err != nil || ip == nil || !ip.IsLoopback()) {
			http.Error(w, "this is for this machine only; metrics = \"open\" under [monitor] in the settings lets others ask", http.StatusForbidden)
			return
		}
		h.ServeHTTP(w, r)
	}
}

// Viewers is how many screens follow the pages now.
func (s *Server) Viewers() int {
	s.hub.mu.Lock()
	defer s.hub.mu.Unlock()
	return len(s.hub.viewers)
}
