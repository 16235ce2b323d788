package monitor

import "net/http"

// pageRow is one page: everything that holds of it stands in its row, and nothing of it anywhere else but its templates.
type pageRow struct {
	Name  string // of its template "page-NAME"; its address too, where Path is empty
	Path  string // with the parts that vary, "/ledger/{n}"
	Title string
	Least role // who may see it
	// Live pages are kept up to date over a stream; Regions are their parts, each a template of the same name.
	Regions []string
	// Menu is what the menu calls the page; "" where the menu does not offer it.
	Menu   string
	Script string // a module of its own besides the one that every page has; "" none
	// Serve makes the page; nil for a live page, whose regions are all there is to it.
	Serve func(*Server, http.ResponseWriter, *http.Request)
}

// pageTable has a row for every page, in the order of the menu. A new page is a row here, a template file in pages and,
// where it is not live, a function that serves it.
func pageTable() []pageRow {
	bench := []string{"head", "alert", "say", "rule", "act", "scene", "near", "pictures", "points", "figures", "passes", "photos", "notes", "tally", "also"}
	return []pageRow{
		{Name: "bench", Title: "Bench", Menu: "Bench", Least: roleWork, Regions: bench, Script: "photo.js"},
		{Name: "wall", Title: "Wall", Menu: "Wall", Least: roleLook, Regions: []string{"head", "alert", "say", "rule"}},
		{Name: "steps", Title: "Steps", Menu: "Steps", Least: roleLook, Regions: []string{"head", "alert", "plan"}, Script: "photo.js"},
		{Name: "ledger", Title: "Ledger", Menu: "Ledger", Least: roleLook, Serve: (*Server).ledgerPage},
		{Name: "entry", Path: "/ledger/{n}", Title: "Entry", Least: roleLook, Serve: (*Server).entryPage},
		{Name: "gauges", Title: "Gauges", Menu: "Gauges", Least: roleLook, Regions: []string{"head", "alert", "gauges"}},
		{Name: "find", Title: "New gauge", Least: roleWork, Serve: (*Server).findPage, Script: "teach.js"},
		{Name: "check", Title: "Check", Least: roleWork, Serve: (*Server).checkPage, Script: "check.js"},
		{Name: "builds", Title: "Builds", Menu: "Builds", Least: roleLook, Serve: (*Server).buildsPage},
		{Name: "compare", Path: "/builds/compare", Title: "Compare", Least: roleLook, Serve: (*Server).comparePage},
		{Name: "engine", Title: "Engine", Menu: "Engine", Least: roleLook, Serve: (*Server).enginePage, Script: "engine.js"},
		{Name: "due", Title: "Due", Menu: "Due", Least: roleLook, Serve: (*Server).duePage},
		{Name: "plans", Title: "Plans", Least: roleLook, Serve: (*Server).plansPage, Script: "plans.js"},
		{Name: "shape", Title: "Change the plan", Least: roleLook, Serve: (*Server).shapePage},
		{Name: "hands", Title: "Own hands", Least: roleLook, Serve: (*Server).handsPage},
		{Name: "history", Title: "History", Least: roleLook, Serve: (*Server).historyPage},
		{Name: "sheet", Title: "Sheet", Menu: "Sheet", Least: roleLook, Serve: (*Server).sheetPage},
		{Name: "help", Title: "Help", Menu: "Help", Least: roleLook, Serve: (*Server).helpPage},
		{Name: "guide", Path: "/guide/{topic}", Title: "Guide", Least: roleLook, Serve: (*Server).guidePage},
		{Name: "login", Title: "Access code", Least: roleNone, Serve: (*Server).loginPage},
	}
}

// address is where a page is asked for.
func (p pageRow) address() string {
	if p.Path != "" {
		return p.Path
	}
	return "/" + p.Name
}

// pageOf gives a page's row.
func pageOf(name string) (pageRow, bool) {
	for _, p := range pageTable() {
		if p.Name == name {
			return p, true
		}
	}
	return pageRow{}, false
}

// MenuItem is one page that the menu offers.
type MenuItem struct {
	Name, Path, Title string
}

// Menu lists the pages that the menu offers to who may do everything.
func Menu() []MenuItem { return menu(roleWork) }

// menu lists the pages that somebody may see.
func menu(who role) []MenuItem {
	var out []MenuItem
	for _, p := range pageTable() {
		if p.Menu != "" && who >= p.Least {
			out = append(out, MenuItem{Name: p.Name, Path: p.address(), Title: p.Menu})
		}
	}
	return out
}
