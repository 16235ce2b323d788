package monitor_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"

	"thoud/pipeline/monitor"
)

// askedSheets says what it was asked for, and fails for JSON with a path in its words.
type askedSheets struct{}

func (askedSheets) Sheet(_ context.Context, asked monitor.SheetAsked, w io.Writer) error {
	if asked.Format == "json" {
		return errors.New("ledger /var/lib/thoud/ledger.db: is damaged; keep /var/lib/thoud/ledger.db-wal too")
	}
	_, err := fmt.Fprintf(w, "%s %s readings %v", asked.Job, asked.Format, asked.Readings)
	return err
}

// The page offers the sheet with every reading too, and what goes wrong is said without saying where the shop keeps its files.
func TestTheSheetsFiles(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}, Sheets: askedSheets{}})
	get := func(path string) (int, string, string) {
		t.Helper()
		res, err := http.Get(url + path)
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		b, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return res.StatusCode, string(b), res.Header.Get("Content-Disposition")
	}
	for path, want := range map[string]string{
		"/sheet/sheet.pdf?job=17": "17 pdf readings false", "/sheet/readings.pdf?job=17": "17 pdf readings true", "/sheet/readings.html?job=17": "17 html readings true",
	} {
		if code, body, _ := get(path); code != http.StatusOK || body != want {
			t.Errorf("%s: %d %q, want %q", path, code, body, want)
		}
	}
	if _, _, name := get("/sheet/readings.pdf?job=17"); name != `attachment; filename="job-17-readings.pdf"` {
		t.Errorf("the file's name: %s", name)
	}
	for _, path := range []string{"/sheet/other.pdf?job=17", "/sheet/sheet.exe?job=17", "/sheet/sheet?job=17", "/sheet/readings.pdf?job=99"} {
		if code, _, _ := get(path); code != http.StatusNotFound {
			t.Errorf("%s: %d", path, code)
		}
	}
	code, body, _ := get("/sheet/sheet.json?job=17")
	if code != http.StatusInternalServerError || strings.Contains(body, "/") || !strings.Contains(body, "ledger.db: is damaged") {
		t.Errorf("%d %q", code, body)
	}
	if _, page, _ := get("/sheet?job=17"); !strings.Contains(page, "/sheet/readings.pdf?job=17") {
		t.Error("the page does not offer the sheet with every reading")
	}
}
