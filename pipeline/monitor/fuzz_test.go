package monitor_test

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// pageOf is the page of a bench in mid-build that lives as long as the fuzzing does.
func pageOfBench(f *testing.F) http.Handler {
	b := newFakeBench(f)
	b.firstFit()
	s, err := monitor.New(monitor.Config{Bench: b, Logger: zerolog.Nop()})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(s.Close)
	return s.Handler()
}

// asked posts a body to the page's one way to ask the bench, and checks that it is answered in words or refused as such.
func asked(t *testing.T, h http.Handler, body []byte) {
	t.Helper()
	r := httptest.NewRequest(http.MethodPost, "http://127.0.0.1/do", strings.NewReader(string(body)))
	r.Header.Set("Content-Type", "application/json")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	said := w.Body.String()
	switch w.Code {
	case http.StatusOK:
		var a bench.Answer
		if err := json.Unmarshal([]byte(said), &a); err != nil || !a.OK && a.Words == "" && !strings.Contains(said, `"ask"`) {
			t.Fatalf("%q is answered %q (%v)", body, said, err)
		}
	case http.StatusBadRequest:
		if strings.TrimSpace(said) == "" {
			t.Fatalf("%q is refused without a word", body)
		}
	default:
		t.Fatalf("%q: status %d, %q", body, w.Code, said)
	}
}

// FuzzDo asks the bench from the page with any bytes.
func FuzzDo(f *testing.F) {
	for _, row := range bench.VerbTable() {
		body, err := json.Marshal(map[string]any{"id": "01234567", "verb": row.Name, "gauge": dialName, "typed": "0.010 0.011", "system": "inch", "item": "left.contact",
			"choice": "yes", "reason": "because", "initials": "AB", "step": "guide-clearance", "job": "18", "plan": "first-fit"})
		if err != nil {
			f.Fatal(err)
		}
		f.Add(body)
	}
	f.Add([]byte(`{"id":"01234567","verb":"gauge-check","pairs":[{"standard":"1 mm","reads":"1.001 mm"}],"due":-1,"study":true}`))
	f.Add([]byte(`{"id":"01234567","verb":"key"}{}`))
	h := pageOfBench(f)
	f.Fuzz(func(t *testing.T, body []byte) { asked(t, h, body) })
}

// FuzzTyped types any text at every place of the page that takes a value.
func FuzzTyped(f *testing.F) {
	for _, s := range []string{"0.123", "1 1/2 in", "0,5", `0.5"`, "12 ml", "1e309", "-0", "½", "1/0 in", "0x1p-2", "1_000", "١٢٣ mm", "0.010 0.011", "NaN", "+∞ mm", "99999999999999999999 in",
		"0." + strings.Repeat("0", 400) + "1 mm", "3 deg 5'", "5 °", "1,234.5 mm"} {
		f.Add(s, true)
		f.Add(s, false)
	}
	h := pageOfBench(f)
	f.Fuzz(func(t *testing.T, text string, metric bool) {
		if len(text) > 8<<10 {
			return // the page takes 16 kB in all
		}
		system := map[bool]string{true: "mm", false: "inch"}[metric]
		for _, verb := range []string{bench.DoKey, bench.DoZero, bench.DoBracket, bench.DoOverride} {
			body, err := json.Marshal(map[string]any{"id": "01234567", "verb": verb, "gauge": dialName, "typed": text, "system": system, "item": "bore", "reason": "because"})
			if err != nil {
				t.Fatal(err)
			}
			asked(t, h, body)
		}
	})
}
