package monitor

import (
	"io/fs"
	"net/http"
	"net/http/httptest"
	"path"
	"slices"
	"strings"
	"testing"
)

// TestEveryPageIsHandled holds every row of the table of pages against what handles it: a template, an address, regions
// or a function, a script that exists; and every page template against the table.
func TestEveryPageIsHandled(t *testing.T) {
	r, err := newRenderer("")
	if err != nil {
		t.Fatal(err)
	}
	seen, names := map[string]bool{}, r.t.Names()
	for _, row := range pageTable() {
		if seen[row.address()] {
			t.Errorf("two pages at %s: see pageTable in pagetable.go", row.address())
		}
		seen[row.address()] = true
		if !slices.Contains(names, "page-"+row.Name) {
			t.Errorf("page %s has no template: define \"page-%s\" in pages/%s.html", row.Name, row.Name, row.Name)
		}
		if row.Title == "" {
			t.Errorf("page %s has no title: see pageTable in pagetable.go", row.Name)
		}
		if (row.Serve == nil) == (row.Regions == nil) {
			t.Errorf("page %s has regions and a function that serves it, or neither: see pageTable in pagetable.go", row.Name)
		}
		for _, region := range row.Regions {
			if !slices.Contains(names, region) {
				t.Errorf("page %s has no template for its region %s: define it in pages", row.Name, region)
			}
		}
		if row.Script != "" {
			if _, err := fs.Stat(static, path.Join("static", row.Script)); err != nil {
				t.Errorf("page %s wants the script %s: put it into static", row.Name, row.Script)
			}
		}
		if strings.Contains(row.address(), "{") && row.Menu != "" {
			t.Errorf("page %s is in the menu, but its address %s is not a whole one", row.Name, row.address())
		}
	}
	for _, tmpl := range names {
		if name, ok := strings.CutPrefix(tmpl, "page-"); ok {
			if _, known := pageOf(name); !known {
				t.Errorf("template page-%s belongs to no page: give it a row in pageTable in pagetable.go", name)
			}
		}
	}
}

// TestPagesAreForWhoMaySeeThem asks for every page without a code where one is set: none is shown but the one that asks
// for it.
func TestPagesAreForWhoMaySeeThem(t *testing.T) {
	s := &Server{access: &access{work: &codeHash{}}}
	for _, row := range pageTable() {
		shown := false
		h := s.need(row.Least, func(http.ResponseWriter, *http.Request) { shown = true })
		h(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, row.address(), nil))
		if shown != (row.Least == roleNone) {
			t.Errorf("page %s without a code: shown %v", row.Name, shown)
		}
	}
}
