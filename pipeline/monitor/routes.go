package monitor

import (
	"errors"
	"fmt"
	"net/http"
)

// contentPolicy lets a page use this service's own files and nothing else: no inline script or style, no other host.
const contentPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

func (s *Server) routes() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		if s.access.role(r) == roleLook {
			http.Redirect(w, r, s.cfg.Root+"/wall", http.StatusSeeOther)
			return
		}
		http.Redirect(w, r, s.cfg.Root+"/bench", http.StatusSeeOther)
	})
	for _, row := range pageTable() {
		serve := func(w http.ResponseWriter, r *http.Request) { row.Serve(s, w, r) }
		if row.Serve == nil {
			serve = s.live(row)
		}
		mux.HandleFunc("GET "+row.address(), s.need(row.Least, serve))
	}
	for path, h := range map[string]http.Handler{"/metrics": s.cfg.Watched.Metrics, "/healthz": s.cfg.Watched.Health} {
		if h != nil {
			mux.HandleFunc("GET "+path, s.watchedBy(h))
		}
	}
	mux.HandleFunc("GET /plans/{file}", s.need(roleLook, s.planFile))
	mux.HandleFunc("POST /plans", s.need(roleWork, s.keepPlan))
	mux.HandleFunc("GET /sheet/{file}", s.need(roleLook, s.sheetFile))
	mux.HandleFunc("GET /now", s.need(roleWork, s.nowOf))
	mux.HandleFunc("POST /photo", s.need(roleWork, s.pin))
	mux.HandleFunc("GET /photo/{id}", s.need(roleLook, s.photo))
	mux.HandleFunc("POST /whatif", s.need(roleWork, s.whatIf))
	mux.HandleFunc("POST /identify", s.need(roleWork, s.identify))
	mux.HandleFunc("POST /teach/{what}", s.need(roleWork, s.teach))
	mux.HandleFunc("POST /keep/{what}", s.need(roleWork, s.keep))
	mux.HandleFunc("GET /stream/{page}", s.need(roleLook, s.stream))
	mux.HandleFunc("POST /do", s.need(roleWork, s.do))
	mux.HandleFunc("POST /login", s.loginDo)
	mux.HandleFunc("POST /logout", s.logoutDo)
	mux.HandleFunc("GET /static/{file}", s.staticFile)
	return mux
}

// guarded is what holds for every request: known host, no cross-origin change, headers.
func (s *Server) guarded(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection().Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", contentPolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !s.hosts.allows(r.Host) {
			http.Error(w, fmt.Sprintf("this page is not known by the name %q; ask for it by its address, or add the name to the configuration (hosts)", r.Host), http.StatusMisdirectedRequest)
			return
		}
		cross.ServeHTTP(w, r)
	})
}

// need lets through who may do at least this much.
func (s *Server) need(least role, next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		switch got := s.access.role(r); {
		case got >= least:
			next(w, r)
		case r.Method == http.MethodGet && r.Header.Get("Accept") != "text/event-stream" && got == roleNone:
			http.Redirect(w, r, s.cfg.Root+"/login", http.StatusSeeOther)
		case got == roleNone:
			http.Error(w, "the access code is needed: load the page again", http.StatusUnauthorized)
		case s.cfg.LookOnly && r.Method == http.MethodGet:
			http.Redirect(w, r, s.cfg.Root+"/wall", http.StatusSeeOther)
		default:
			http.Error(w, "this code lets you look, not work", http.StatusForbidden)
		}
	}
}

func (s *Server) loginPage(w http.ResponseWriter, r *http.Request) { s.showLogin(w, r, "") }

func (s *Server) showLogin(w http.ResponseWriter, r *http.Request, fault string) {
	s.page(w, r, "login", Page{Title: "Access code", Fault: fault})
}

func (s *Server) loginDo(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	if s.access.open() {
		http.Redirect(w, r, s.cfg.Root+"/", http.StatusSeeOther)
		return
	}
	cookie, err := s.access.login(r.Context(), r.RemoteAddr, r.PostFormValue("code"))
	switch {
	case errors.Is(err, errTooMany):
		w.WriteHeader(http.StatusTooManyRequests)
		s.showLogin(w, r, err.Error())
	case err != nil:
		s.cfg.Logger.Warn().Str("from", r.RemoteAddr).Err(err).Msg("access code refused")
		w.WriteHeader(http.StatusForbidden)
		s.showLogin(w, r, err.Error())
	default:
		http.SetCookie(w, cookie)
		http.Redirect(w, r, s.cfg.Root+"/", http.StatusSeeOther)
	}
}

func (s *Server) logoutDo(w http.ResponseWriter, r *http.Request) {
	s.access.logout(r)
	s.hub.wakeAll() // open streams of this session end now
	http.SetCookie(w, s.access.cookie("", -1))
	http.Redirect(w, r, s.cfg.Root+"/login", http.StatusSeeOther)
}
