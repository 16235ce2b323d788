package monitor_test

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"unicode"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// hostile are texts that a page must show as they are: markup, scripts, ends of attributes and of events, template
// actions, addresses, control and bidirectional characters.
var hostile = []string{
	`<script>window.owned=1</script>`, `</script><script>window.owned=1</script>`, `<img src=x onerror="window.owned=1">`,
	`<svg onload=window.owned=1>`, `<svg><script>window.owned=1</script></svg>`, `"><img src=x onerror=window.owned=1>`,
	`'><img src=x onerror=window.owned=1>`, `" onmouseover="window.owned=1`, `' onfocus='window.owned=1' autofocus='`,
	`<iframe src="javascript:parent.owned=1">`, `<a href="javascript:window.owned=1">x</a>`, `javascript:window.owned=1`,
	`<body onload=window.owned=1>`, `<style>*{display:none}</style>`, `<link rel=stylesheet href=//example.org/x.css>`,
	`<base href="//example.org/">`, `<meta http-equiv=refresh content="0;url=//example.org">`, `<form action=//example.org><input name=a>`,
	`</textarea><script>window.owned=1</script>`, `</title><script>window.owned=1</script>`, `</style><script>window.owned=1</script>`,
	`<!--`, `-->`, `<![CDATA[`, `]]>`, `{{.}}`, `{{template "top"}}`, "${window.owned=1}", "`;window.owned=1;//", `\";window.owned=1;//`,
	`&lt;script&gt;`, `&#60;script&#62;`, `%3Cscript%3E`, `\u003cscript\u003e`, `\x3cscript\x3e`,
	"line one\nline two", "data: {}\n\nevent: page\ndata: {\"at\":\"x\"}", "\r\nevent: beat\r\n\r\n", "id: 7\n\n",
	"\u202Egnp.exe", "\u0000nul", "\u001b[31mred", "\uFEFFbom", "zero\u200Bwidth", strings.Repeat("wide", 150),
	`<math><mi xlink:href="javascript:window.owned=1">x</mi></math>`, `<details open ontoggle=window.owned=1>`, `<video><source onerror=window.owned=1>`,
	`<noscript><p title="</noscript><img src=x onerror=window.owned=1>">`, `<template><script>window.owned=1</script></template>`, `"`, `'`, `<`, `>`, `&`,
}

// hostilePlan is a plan with a text in every place that reaches a page.
func hostilePlan(text string) string {
	q := func(s string) string { b, _ := json.Marshal(s); return string(b) } // a JSON string is a TOML basic string
	line := q(strings.Map(func(r rune) rune {
		switch {
		case !unicode.IsPrint(r):
			return -1 // refused by a plan too
		case r == '{', r == '}':
			return '|' // a plan takes braces for names to fill in, and refuses these
		}
		return r
	}, "x"+text[:min(len(text), 100)])) // a plan refuses a title that is longer
	return fmt.Sprintf(`title = %[1]s
version = 1
cylinders = ["left"]
cautions = [%[1]s]
[engine.gap]
title = %[1]s
value = "0.050 in"
source = %[1]s
confirm = true
[[step]]
id = "one"
title = %[1]s
do = %[1]s
phase = "dry"
kind = "measure"
view = "twin-top"
capture = { mode = "press", role = "indicator" }
datum = { do = %[1]s, size = "0 in", close = true }
cautions = [%[1]s]
notes = [%[1]s]
    [[step.point]]
    id = "left"
    title = %[1]s
    do = %[1]s
`, line)
}

// TestHostileTexts puts each text into the plan, a job, a gauge, a question, a trouble, a reason and a notice, and looks
// at the pages as they are sent: it must not stand there unescaped.
func TestHostileTexts(t *testing.T) {
	if len(hostile) < 50 {
		t.Fatalf("%d texts, want 50", len(hostile))
	}
	for i, text := range hostile {
		f := hostileBench(t, text)
		url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}, Sheets: fakeSheets{}, Finder: fakeFinder{}, Keeper: fakeKeeper{}})
		for _, p := range []string{"bench", "wall", "steps", "ledger", "ledger/1", "ledger/3", "gauges", "check?gauge=" + queryOf(text), "find", "builds", "builds/compare?engine=" + queryOf(text), "sheet", "help"} {
			body := get(t, url+"/"+p)
			for _, bad := range []string{"<script>", "<img src=x", "<img src=\"x", "<svg onload", "<iframe src=\"j", "<style>", "<base", "<meta http-equiv", "<math", "<details open", "<video", "<template", "<form action=/", "onerror=\"w", "<a href=\"javascript", "<body onload"} {
				if strings.Contains(body, bad) {
					at := strings.Index(body, bad)
					t.Errorf("text %d %q: page %s holds %q", i, text, p, body[max(0, at-80):min(len(body), at+120)])
				}
			}
		}
	}
}

// TestHostileTextsReachThePages makes sure that the test above looks at pages that hold the texts at all.
func TestHostileTextsReachThePages(t *testing.T) {
	f := hostileBench(t, hostile[0])
	url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}, Sheets: fakeSheets{}, Finder: fakeFinder{}, Keeper: fakeKeeper{}})
	for _, p := range []string{"bench", "wall", "steps", "ledger", "ledger/3", "gauges", "builds", "sheet", "help"} {
		if body := get(t, url+"/"+p); !strings.Contains(body, "&lt;script&gt;window.owned=1&lt;/script&gt;") {
			t.Errorf("page %s does not hold the text", p)
		}
	}
}

func hostileBench(t *testing.T, text string) *fakeBench {
	t.Helper()
	f := newFakeBench(t)
	f.mustAdd(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: text, Profile: text, Port: text, Known: bench.KnownPath, Role: "indicator", Channel: text, Sends: bench.Sends(text)}})
	f.startBuild(text, text, hostilePlan(text), "one")
	f.notice(bench.Notice{Stands: true, Source: text, Words: "trouble " + text})
	at := f.State().Place
	f.mustAdd(bench.Entry{Kind: bench.Asked, Place: at, Question: &bench.Question{Guard: text, Words: text, Choices: []string{text, "no"}}})
	f.mustAdd(bench.Entry{Kind: bench.Dropped, Place: at, Item: text, By: text})
	f.mustAdd(bench.Entry{Kind: bench.Found, Place: at, Reason: text})
	f.mustAdd(bench.Entry{Kind: bench.PassOpened, Place: bench.Place{Build: at.Build, Step: at.Step, Pass: 1}, By: text})
	f.mustAdd(bench.Entry{Kind: bench.PassVoid, Place: bench.Place{Build: at.Build, Step: at.Step, Pass: 1}, Reason: text})
	f.mustAdd(bench.Entry{Kind: bench.Photo, Place: bench.Place{Build: at.Build, Step: at.Step}, Picture: &bench.Picture{Type: text, Bytes: []byte(text), Note: text}})
	return f
}

// TestHostileTextsInABrowser loads the pages with some of the texts on them: no script of theirs runs, and they are read
// as they are.
func TestHostileTextsInABrowser(t *testing.T) {
	ctx := tab(t, 1280, 800)
	for i := 0; i < len(hostile); i += 4 {
		text := hostile[i]
		f := hostileBench(t, text)
		url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}, Sheets: fakeSheets{}})
		for _, p := range []string{"bench", "steps", "ledger", "gauges", "builds"} {
			do(t, ctx, chromedp.Navigate(url+"/"+p))
			if p == "bench" || p == "steps" {
				live(t, ctx)
				// The stream renders the same texts again when something changes.
				f.notice(bench.Notice{Stands: true, Source: "again", Words: "again " + text})
				eventually(t, ctx, "the second trouble", `document.querySelector("[data-r=alert]").innerText.includes("again ")`)
			}
			if eval[bool](t, ctx, `"owned" in window`) {
				t.Errorf("text %d %q ran as a script on %s", i, text, p)
			}
		}
	}
}

func get(t *testing.T, url string) string {
	t.Helper()
	res, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	if res.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s: %s", url, res.Status, body)
	}
	return string(body)
}

func queryOf(s string) string {
	var b strings.Builder
	for _, c := range []byte(s) {
		fmt.Fprintf(&b, "%%%02X", c)
	}
	return b.String()
}
