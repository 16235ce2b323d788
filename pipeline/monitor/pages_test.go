package monitor_test

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// sizes are the windows that every page is looked at in.
var sizes = []struct {
	name       string
	wide, high int64
}{{"shop", 1920, 1080}, {"large", 2560, 1440}, {"desk", 1280, 800}, {"notebook", 1366, 768}, {"tablet", 820, 1180}, {"tablet-across", 1180, 820},
	{"phone", 390, 844}, {"small-phone", 320, 640}}

// firstPass takes a fake bench through the first pass of the guide blocks, so that there is something to adjust.
func firstPass(t *testing.T, f *fakeBench) {
	t.Helper()
	ctx := context.Background()
	f.show("0.1000")
	f.ready()
	for _, value := range []string{"0.7000", "0.7020", "0.6485", "0.6512", "0.1000"} {
		f.show(value)
		f.must(t, ctx, benchVerb{"take", ""})
	}
	f.show("0.6300")
}

// readMoved takes the second pass with both blocks where they were to be moved.
func readMoved(t *testing.T, f *fakeBench) {
	t.Helper()
	for _, value := range []string{"0.5985", "0.6010", "0.1000"} {
		f.show(value)
		f.must(t, context.Background(), benchVerb{"take", ""})
	}
}

// everyPage is a service with everything on it.
func everyPage(t *testing.T) (*fakeBench, string) {
	t.Helper()
	f := newFakeBench(t)
	f.firstFit()
	firstPass(t, f)
	f.mustAdd(bench.Entry{Kind: bench.Photo, Place: bench.Place{Build: "17", Step: "guide-clearance"}, Picture: &bench.Picture{Type: "image/jpeg", Bytes: jpegOf(t, 320, 240), Note: "left block with the indicator on it"}})
	engine := "Heron 650 no. 4"
	for _, e := range []bench.Entry{
		{Kind: bench.HoursTold, Life: &bench.Life{Engine: engine, Hours: 12.5}},
		{Kind: bench.PartFitted, Life: &bench.Life{Engine: engine, Hours: 12.5, Mark: "P14", What: "left piston", Due: 20, Ran: 3}},
		{Kind: bench.WorkDue, Life: &bench.Life{Engine: engine, Hours: 12.5, What: "valve lash", Due: 10}},
		{Kind: bench.HoursTold, Life: &bench.Life{Engine: engine, Hours: 24}},
	} {
		f.mustAdd(e)
	}
	return f, serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}, Sheets: fakeSheets{}, Finder: fakeFinder{}, Keeper: fakeKeeper{}, Guide: fakeGuide{}, Plans: fakePlans{}, Histories: fakeHistories{}, Teacher: &fakeTeacher{}})
}

// TestEveryPageFits loads every page in every size, light and dark: nothing is wider than the window, nothing covers
// anything on the working pages, nothing is said on the console, and axe-core finds no fault against WCAG 2.2 A and AA.
func TestEveryPageFits(t *testing.T) {
	_, url := everyPage(t)
	axe := axeScript(t)
	for _, name := range []string{"bench", "wall", "steps", "ledger", "ledger/8", "gauges", "check?gauge=dial-1", "find", "builds", "builds/compare?engine=Heron+650+no.+4", "engine", "sheet", "help", "guide/gauges", "due", "hands", "shape", "plans?from=first-fit",
		"history?engine=Heron+650+no.+4&dimension=deck"} {
		t.Run(name, func(t *testing.T) {
			ctx := tab(t, 1920, 1080)
			complaints := listen(t, ctx)
			for _, scheme := range []string{"light", "dark"} {
				for _, size := range sizes {
					if testing.Short() && size.name != "shop" && size.name != "phone" {
						continue
					}
					do(t, ctx, theme(scheme), chromedp.EmulateViewport(size.wide, size.high), chromedp.Navigate(url+"/"+name))
					if strings.HasPrefix(name, "bench") || name == "wall" || name == "steps" || name == "gauges" {
						live(t, ctx)
					}
					picture(t, ctx, strings.NewReplacer("/", "-", "?", "-", "+", "-", "=", "-").Replace(name)+"-"+size.name+"-"+scheme)
					if over := eval[float64](t, ctx, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
						t.Errorf("%s, %s: the page is %v px wider than the window", size.name, scheme, over)
					}
					if strings.HasPrefix(name, "bench") || name == "wall" {
						if covered := eval[string](t, ctx, overlaps); covered != "" {
							t.Errorf("%s, %s: %s", size.name, scheme, covered)
						}
					}
					if axe != "" {
						checkAxe(t, ctx, axe, size.name+", "+scheme)
					}
				}
			}
			if said := complaints(); len(said) > 0 {
				t.Errorf("the console says: %s", strings.Join(said, "\n"))
			}
		})
	}
}

// TestTextAtTwoHundredPercent zooms the pages to twice their size, which leaves them half the window: nothing is wider than
// the window, and on the working page nothing stands on anything else.
func TestTextAtTwoHundredPercent(t *testing.T) {
	_, url := everyPage(t)
	ctx := tab(t, 960, 540)
	for _, name := range []string{"bench", "wall", "steps", "ledger", "ledger/8", "gauges", "find", "builds", "engine", "sheet", "help", "guide/gauges",
		"check?gauge=dial-1", "builds/compare?engine=Heron+650+no.+4", "due", "hands", "shape", "plans?from=first-fit", "history?engine=Heron+650+no.+4&dimension=deck"} {
		for _, size := range []struct{ wide, high int64 }{{960, 540}, {640, 400}} {
			do(t, ctx, chromedp.EmulateViewport(size.wide, size.high), chromedp.Navigate(url+"/"+name))
			if over := eval[float64](t, ctx, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
				t.Errorf("%s at 200 %% of %d by %d is %v px wider than the window", name, 2*size.wide, 2*size.high, over)
			}
			if name != "bench" && name != "wall" {
				continue
			}
			live(t, ctx)
			if covered := eval[string](t, ctx, overlaps); covered != "" {
				t.Errorf("%s at 200 %% of %d by %d: %s", name, 2*size.wide, 2*size.high, covered)
			}
			picture(t, ctx, fmt.Sprintf("zoom-%s-%d", name, size.wide))
		}
	}
}

// TestAxeFindsFaults makes sure that the check above can fail.
func TestAxeFindsFaults(t *testing.T) {
	axe := axeScript(t)
	if axe == "" {
		t.Skip("not run: THOUD_AXE is not set")
	}
	_, url := everyPage(t)
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/help"))
	eval[bool](t, ctx, `(() => { const i = document.createElement("img"), b = document.createElement("button"); i.src = "/static/mark.svg"; document.querySelector("main").append(i, b); return true; })()`)
	found := axeFaults(t, ctx, axe)
	for _, want := range []string{"image-alt", "button-name"} {
		if !strings.Contains(found, want) {
			t.Errorf("axe-core did not find the fault %s that was put in: %s", want, found)
		}
	}
}

// TestPrint looks at pages as they are printed: black on white, without bars and buttons.
func TestPrint(t *testing.T) {
	_, url := everyPage(t)
	ctx := tab(t, 1280, 800)
	for _, p := range []string{"bench", "steps", "ledger", "ledger/9", "builds/compare?engine=Heron+650+no.+4", "help"} {
		do(t, ctx, theme("dark"), chromedp.Navigate(url+"/"+p), printing())
		if n := eval[int](t, ctx, `[...document.querySelectorAll("header.bar, button, a.button")].filter(e => e.offsetParent !== null).length`); n != 0 {
			t.Errorf("%s: %d bars and buttons are printed", p, n)
		}
		if got := eval[string](t, ctx, `getComputedStyle(document.documentElement).backgroundColor + " " + getComputedStyle(document.querySelector("main")).color`); got != "rgb(255, 255, 255) rgb(0, 0, 0)" {
			t.Errorf("%s is printed in %s", p, got)
		}
	}
	do(t, ctx, theme("light"), chromedp.Navigate(url+"/sheet"))
	eventually(t, ctx, "the sheet", `document.getElementById("sheet").contentDocument?.body?.innerText.includes("Job 17")`)
	eval[bool](t, ctx, `(() => { document.getElementById("sheet").contentWindow.print = () => { window.printed = true; }; return true; })()`)
	do(t, ctx, chromedp.Click(chromedp.CSS("[data-print]")))
	eventually(t, ctx, "the sheet to be printed, not the page around it", `window.printed === true`)
	do(t, ctx, press("m"))
	eventually(t, ctx, "the sheet in mm", `document.getElementById("sheet").contentDocument?.body?.innerText.includes("html, mm")`)
}

// axeScript is axe-core's source, from the file that THOUD_AXE names. It is no part of this repository; where CI is set
// it must be there.
func axeScript(t *testing.T) string {
	t.Helper()
	file := os.Getenv("THOUD_AXE")
	if file == "" {
		if os.Getenv("CI") != "" {
			t.Fatal("THOUD_AXE must name axe-core's axe.min.js")
		}
		t.Log("axe-core not run: set THOUD_AXE to the path of its axe.min.js")
		return ""
	}
	src, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return string(src)
}

// checkAxe reports what axe-core finds.
func checkAxe(t *testing.T, ctx context.Context, src, where string) {
	t.Helper()
	if found := axeFaults(t, ctx, src); found != "" {
		t.Errorf("%s: axe-core: %s", where, found)
	}
}

// axeFaults injects axe-core by the debugger, past the page's content policy.
func axeFaults(t *testing.T, ctx context.Context, src string) string {
	t.Helper()
	do(t, ctx, chromedp.Evaluate[chromedp.Void](src))
	return eval[string](t, ctx, `axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"], resultTypes: ["violations"], iframes: false}).then(r =>
		r.violations.map(v => v.id + ": " + v.help + " @ " + v.nodes.slice(0, 3).map(n => n.target.join(" ") + " " + n.failureSummary).join("; ")).join("\n"))`)
}

// fakeGuide has two texts.
type fakeGuide struct{}

func (fakeGuide) Topics() []monitor.Topic {
	return []monitor.Topic{{Name: "first-day", Title: "The first day"}, {Name: "gauges", Title: "Gauges <and> pedals"}}
}

func (fakeGuide) Text(name string) (string, error) {
	return "# The text of " + name + "\n\nRead `thoud guide` <b>once</b>.\n\n    thoud gauge add dial-1 --port /dev/ttyUSB0 --profile text-signed-decimal-unit-crlf --role indicator\n\n| key | what it is |\n| --- | --- |\n| `listen` | where the pages are |\n", nil
}

// TestTheGuideIsOnThePages leads from Help to each text, and from one to the next; a topic that is not there is said so.
func TestTheGuideIsOnThePages(t *testing.T) {
	_, url := everyPage(t)
	help := get(t, url+"/help")
	for _, want := range []string{`href="/guide/first-day"`, "Gauges &lt;and&gt; pedals", "the first press says that it is understood"} {
		if !strings.Contains(help, want) {
			t.Errorf("Help lacks %q", want)
		}
	}
	text := get(t, url+"/guide/gauges")
	for _, want := range []string{"<h1>The text of gauges</h1>", "&lt;b&gt;once&lt;/b&gt;", "before: The first day", `<th scope="row"><code>listen</code></th>`} {
		if !strings.Contains(text, want) {
			t.Errorf("the text lacks %q", want)
		}
	}
	res, err := http.Get(url + "/guide/nothing")
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != http.StatusNotFound {
		t.Errorf("a topic that is not there: %s", res.Status)
	}
}
