package monitor_test

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/rs/zerolog"

	"thoud/pipeline/monitor"
)

// TestNotLiveIsSaidWithinThreeSeconds lets the service hang: its streams stay open, but nothing comes any more. The page
// says so within three seconds, and sends nothing.
func TestNotLiveIsSaidWithinThreeSeconds(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	s, err := monitor.New(monitor.Config{Bench: f, Logger: zerolog.Nop()})
	if err != nil {
		t.Fatal(err)
	}
	var hangs atomic.Bool
	h := s.Handler()
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if hangs.Load() {
			<-r.Context().Done()
			return
		}
		if strings.HasPrefix(r.URL.Path, "/stream/") {
			w = hanging{w, &hangs}
		}
		h.ServeHTTP(w, r)
	}))
	t.Cleanup(func() { hangs.Store(false); srv.CloseClientConnections(); s.Close(); srv.Close() })
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(srv.URL+"/bench"))
	live(t, ctx)
	hangs.Store(true)
	start := time.Now()
	eventually(t, ctx, "the page to say that it is not live", `said("#link") === "NOT LIVE" && said(".dead-band").includes("NOT LIVE")`)
	took := time.Since(start)
	t.Logf("said after %v", took.Round(10*time.Millisecond))
	if took > 3*time.Second {
		t.Errorf("said after %v, want 3 s at most", took)
	}
	asked := f.verbs()
	do(t, ctx, press(" "))
	eventually(t, ctx, "the page to refuse", `said("#say").includes("Not live")`)
	if f.verbs() != asked {
		t.Errorf("asked %q while it was not live", f.verbs())
	}
}

// hanging swallows what is written once the service hangs.
type hanging struct {
	http.ResponseWriter
	hangs *atomic.Bool
}

func (h hanging) Write(b []byte) (int, error) {
	if h.hangs.Load() {
		return len(b), nil
	}
	return h.ResponseWriter.Write(b)
}

func (h hanging) Unwrap() http.ResponseWriter { return h.ResponseWriter }
