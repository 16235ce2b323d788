package monitor

import (
	"context"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/rs/zerolog"
)

// The pages of a bench are let go two minutes after the last look, and not while somebody looks. The next look opens them anew.
func TestIdleBenchesAreLetGo(t *testing.T) {
	now := time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC)
	opened, ended := 0, 0
	b, err := NewBenches(BenchesConfig{Hub: "shop", Listen: "127.0.0.1:0", Logger: zerolog.Nop(), Now: func() time.Time { return now },
		List: func() []BenchRow { return []BenchRow{{Name: "lathe"}} },
		Open: func(_ context.Context, name string) (Config, func(), bool, error) {
			opened++
			still := &stillBench{}
			still.state.Bench = name
			return Config{Bench: still}, func() { ended++ }, true, nil
		}})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	look := func() {
		t.Helper()
		w := httptest.NewRecorder()
		b.Handler().ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://127.0.0.1/b/lathe/gauges", nil))
		if w.Code != http.StatusOK {
			t.Fatalf("status %d: %s", w.Code, w.Body)
		}
	}
	count := func(what string, wantOpened, wantEnded int) {
		t.Helper()
		b.letGo(idleOpened)
		if opened != wantOpened || ended != wantEnded || len(b.opened) != wantOpened-wantEnded {
			t.Errorf("%s: opened %d times, ended %d, %d held; want %d and %d", what, opened, ended, len(b.opened), wantOpened, wantEnded)
		}
	}
	look()
	now = now.Add(2*time.Minute - time.Second)
	count("just before two minutes", 1, 0)
	look()
	now = now.Add(2*time.Minute - time.Second)
	count("just before two minutes after the second look", 1, 0)
	now = now.Add(time.Second)
	count("after two minutes", 1, 1)
	look()
	o, err := b.look("lathe") // as a stream that stays open
	if err != nil {
		t.Fatal(err)
	}
	now = now.Add(time.Hour)
	count("while somebody looks", 2, 1)
	b.leave(o)
	count("who has just left", 2, 1)
	now = now.Add(2 * time.Minute)
	count("two minutes after that", 2, 2)
}
