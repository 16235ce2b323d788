package monitor_test

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/pipeline/monitor"
)

// Capitals on a screen that is read from three metres. A capital should subtend 20 to 22 minutes of arc (ISO 9241-303,
// from memory); at 3 m that is 17.5 to 19.2 mm, and a 24-inch screen of 1920 × 1080 (16:9, 531 mm wide) has 0.2767 mm a
// pixel, so 63 to 69 pixels. The adjustment is twice that.
const (
	farCapital   = 64.0
	largeCapital = 140.0
	// Of figures too long for the line.
	longestCapital = 120.0
	farContrast    = 7.0 // WCAG 2.2, 1.4.6
)

// seen is one text as it is rendered: the height of its capitals in pixels and its contrast.
type seen struct {
	Text     string
	Capital  float64
	Contrast float64
	Bottom   float64
	Covered  bool // by the bar of the actions
}

// measure is a script that gives, for a selector, each text with the height that its font draws an H at, and the contrast
// of its colour to the nearest painted background (WCAG 2.2's relative luminance).
const measure = `(selector) => {
  const canvas = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
  const rgb = (c) => { canvas.clearRect(0, 0, 1, 1); canvas.fillStyle = c; canvas.fillRect(0, 0, 1, 1); return [...canvas.getImageData(0, 0, 1, 1).data]; };
  const lum = (c) => c.slice(0, 3).map((v) => v / 255).map((v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4).reduce((s, v, i) => s + v * [0.2126, 0.7152, 0.0722][i], 0);
  return [...document.querySelectorAll(selector)].filter((e) => e.offsetParent !== null && e.innerText.trim()).map((e) => {
    const s = getComputedStyle(e);
    canvas.font = s.fontWeight + " 1000px " + s.fontFamily; // drawn large, so that no rounding to pixels helps
    const H = canvas.measureText("H");
    let p = e, back = [0, 0, 0, 0];
    for (; p && back[3] < 255; p = p.parentElement) back = rgb(getComputedStyle(p).backgroundColor);
    const a = lum(rgb(s.color)), b = lum(back);
    return { Text: e.innerText.trim(), Capital: H.actualBoundingBoxAscent * parseFloat(s.fontSize) / 1000, Contrast: (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), Bottom: e.getBoundingClientRect().bottom, Covered: !e.closest(".act") && e.getBoundingClientRect().bottom > (document.querySelector(".act")?.getBoundingClientRect().top ?? 1e9) + 1 };
  });
}`

// overlaps is a script that names the first two texts or buttons of the working page that stand on one another, or the
// first that is cut off.
const overlaps = `(() => {
  const boxes = [...document.querySelectorAll(".say-box p, .say-box li, .siderow > span, .act button, .act input, .act label, .side table, .side svg")].filter((e) => e.getClientRects().length > 0 && e.innerText !== "");
  const name = (e) => (e.innerText || e.className.baseVal || e.id || e.className).slice(0, 40);
  for (const [i, a] of boxes.entries()) {
    const r = a.getBoundingClientRect();
    if (r.right > innerWidth + 1) return name(a) + " goes beyond the right edge";
    for (const b of boxes.slice(i + 1)) {
      if (a.contains(b) || b.contains(a)) continue;
      const q = b.getBoundingClientRect();
      if (Math.min(r.right, q.right) - Math.max(r.left, q.left) > 2 && Math.min(r.bottom, q.bottom) - Math.max(r.top, q.top) > 6) return name(a) + " and " + name(b) + " stand on one another";
    }
  }
  return "";
})()`

func measured(t *testing.T, ctx context.Context, selector string) []seen {
	t.Helper()
	out := eval[string](t, ctx, fmt.Sprintf(`JSON.stringify((%s)(%q))`, measure, selector))
	var all []seen
	if err := json.Unmarshal([]byte(out), &all); err != nil {
		t.Fatal(err)
	}
	return all
}

// toAct is all that is needed to act: what to do, cautions before a step, the words of the adjustment, verdict, live value
// and what is left, and the first button.
const toAct = ".far:not(.place.long):not(.wanted), .siderow > .fig, .siderow > .verd, .hero, .order.then, button.primary"

// TestReadableFromThreeMetres measures the capitals and the contrast of all that is needed to act, in every stage of a
// step, on Bench and Wall, light and dark; and that it is on the screen without scrolling.
func TestReadableFromThreeMetres(t *testing.T) {
	stages := []struct {
		name    string
		prepare func(*testing.T, *fakeBench)
		must    []string // what must be among it
	}{
		{"caution", func(t *testing.T, f *fakeBench) { f.firstFit() }, []string{".cautions li"}},
		{"confirm", func(t *testing.T, f *fakeBench) { f.firstFit(); f.must(t, t.Context(), benchVerb{"acknowledge", ""}) }, []string{".do"}},
		{"zero", func(t *testing.T, f *fakeBench) {
			f.firstFit()
			f.show("0.1000")
			f.confirmed()
		}, []string{".do", "[data-r=say] .hero"}},
		{"read", func(t *testing.T, f *fakeBench) {
			f.firstFit()
			f.show("0.1000")
			f.ready()
		}, []string{".do", "[data-r=say] .hero"}},
		{"out", func(t *testing.T, f *fakeBench) { f.firstFit(); firstPass(t, f); f.show("0.6485") }, []string{".siderow .fig", ".siderow .word", ".order.hero", ".words", ".order.then"}},
		{"moving", func(t *testing.T, f *fakeBench) { f.firstFit(); firstPass(t, f) }, []string{"#moving .place", "#moving .hero", "[data-moving-words]"}},
		{"in", func(t *testing.T, f *fakeBench) { f.firstFit(); firstPass(t, f); f.show("0.5985") }, []string{"#moving .hero", "[data-moving-words]"}},
		{"past", func(t *testing.T, f *fakeBench) { f.firstFit(); firstPass(t, f); f.show("0.5900") }, []string{"#moving .hero", "[data-moving-words]"}},
		{"long", func(t *testing.T, f *fakeBench) {
			longWinded(t, f)
			f.show("0.1000")
			f.ready()
		}, []string{".do", "[data-r=say] .hero"}},
		{"close", func(t *testing.T, f *fakeBench) { // 0.0519 in on both sides of a limit of 0.052 in, nearer than can be told
			longWinded(t, f)
			firstPass(t, f)
			for _, value := range []string{"0.5966", "0.5993", "0.1000"} {
				f.show(value)
				f.must(t, t.Context(), benchVerb{"take", ""})
			}
			f.show("0.5966")
		}, []string{".siderow .word", ".order.then", ".siderow .reason"}},
		{"done", func(t *testing.T, f *fakeBench) { f.firstFit(); firstPass(t, f); readMoved(t, f) }, []string{".siderow .word", ".do"}},
		{"gone", func(t *testing.T, f *fakeBench) { f.firstFit(); firstPass(t, f); f.plug(false) }, []string{".hero", ".do"}},
	}
	for _, stage := range stages {
		t.Run(stage.name, func(t *testing.T) {
			f := newFakeBench(t)
			stage.prepare(t, f)
			url := serve(t, monitor.Config{Bench: f})
			ctx := tab(t, 1920, 1080)
			for _, page := range []string{"bench", "wall"} {
				for _, scheme := range []string{"light", "dark"} {
					do(t, ctx, theme(scheme), chromedp.Navigate(url+"/"+page))
					live(t, ctx)
					must := stage.must
					if page == "bench" && stage.name != "gone" {
						must = append(must[:len(must):len(must)], "button.primary")
					}
					for _, sel := range must {
						if len(measured(t, ctx, sel)) == 0 {
							t.Errorf("%s, %s: nothing at %s", page, scheme, sel)
						}
					}
					picture(t, ctx, "far-"+stage.name+"-"+page+"-"+scheme)
					for _, s := range measured(t, ctx, toAct) {
						if s.Capital < farCapital || s.Contrast < farContrast || s.Bottom > 1080 || s.Covered {
							t.Errorf("%s, %s: %q: capitals of %.1f px (want %.0f), contrast %.1f (want %.0f), bottom at %.0f of 1080, covered %v", page, scheme, s.Text, s.Capital, farCapital, s.Contrast, farContrast, s.Bottom, s.Covered)
						}
					}
					for _, s := range measured(t, ctx, ".hero [data-number]") {
						t.Logf("%s, %s: %q in capitals of %.1f px, contrast %.1f", page, scheme, s.Text, s.Capital, s.Contrast)
						if s.Capital < longestCapital || s.Capital < largeCapital && len(s.Text) < 7 || s.Contrast < farContrast || s.Bottom > 1080 || s.Covered {
							t.Errorf("%s, %s: %q: capitals of %.1f px, contrast %.1f, bottom at %.0f", page, scheme, s.Text, s.Capital, s.Contrast, s.Bottom)
						}
					}
					if covered := eval[string](t, ctx, overlaps); covered != "" {
						t.Errorf("%s, %s: %s", page, scheme, covered)
					}
				}
			}
		})
	}
}

// TestLongestTextsOfThePlans puts the longest sentences and titles of every plan that ships on the Bench: all that is needed
// to act is still large enough, and nothing covers anything.
func TestLongestTextsOfThePlans(t *testing.T) {
	type pair struct{ title, do string }
	var all []pair
	names, err := plan.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		p, err := plan.Load(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, step := range p.Steps {
			for _, pt := range step.Points {
				do := pt.Do
				if do == "" {
					do = step.Do
				}
				all = append(all, pair{pt.Title, do})
			}
		}
	}
	slices.SortFunc(all, func(a, b pair) int { return len(b.title+b.do) - len(a.title+a.do) })
	all = slices.CompactFunc(all, func(a, b pair) bool { return a.do == b.do })
	q := func(s string) string { b, _ := json.Marshal(s); return string(b) }
	ctx := tab(t, 1920, 1080)
	for i, p := range all[:8] {
		f := newFakeBench(t)
		f.startBuild("17", "long", fmt.Sprintf("title = \"Long\"\nversion = 1\ncylinders = [\"left\"]\n[[step]]\nid = \"long\"\ntitle = \"Long\"\ndo = \"Read it.\"\nphase = \"dry\"\nkind = \"measure\"\nview = \"twin-top\"\ncapture = { mode = \"press\", role = \"indicator\" }\n[[step.point]]\nid = \"left\"\ntitle = %s\ndo = %s\n", q(p.title), q(p.do)), "long")
		f.show("0.1234")
		do(t, ctx, chromedp.Navigate(serve(t, monitor.Config{Bench: f})+"/bench"))
		live(t, ctx)
		picture(t, ctx, fmt.Sprintf("longest-%d", i))
		for _, s := range measured(t, ctx, toAct) {
			if s.Capital < farCapital || s.Bottom > 1080 || s.Covered {
				t.Errorf("%q: capitals of %.1f px, bottom at %.0f, covered %v", s.Text, s.Capital, s.Bottom, s.Covered)
			}
		}
		if covered := eval[string](t, ctx, overlaps); covered != "" {
			t.Errorf("%q: %s", p.do, covered)
		}
	}
}

// longWinded begins job 17 at the guide blocks with a sentence of three lines.
func longWinded(t *testing.T, f *fakeBench) {
	t.Helper()
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	long := strings.Replace(string(text), "Read the {cylinder} block standing proud.", "Stand the {cylinder} block well proud of contact with the drift, glasses on, nip it so that it stays, and read it on the joint face.", 1)
	f.startBuild("17", "first-fit", long, "guide-clearance")
}

// TestDeadIsReadable ends the service under an open page and measures how it says so.
func TestDeadIsReadable(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	firstPass(t, f)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	stop := startAt(t, l, f)
	ctx := tab(t, 1920, 1080)
	do(t, ctx, chromedp.Navigate("http://"+l.Addr().String()+"/wall"))
	live(t, ctx)
	if n := len(measured(t, ctx, ".dead-band")); n != 0 {
		t.Errorf("a page that is live says %d times that it is not", n)
	}
	stop()
	eventually(t, ctx, "the page to say that it is not live", `document.body.classList.contains("dead")`)
	band := measured(t, ctx, ".dead-band")
	if len(band) != 1 || band[0].Capital < farCapital || band[0].Contrast < farContrast {
		t.Errorf("it says so like this: %+v", band)
	}
	picture(t, ctx, "wall-dead")
}

// TestTroubleIsShown tells of a trouble and reads it on the page.
func TestTroubleIsShown(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	f.notice(bench.Notice{Tone: "fault", Source: "disk", Stands: true, Words: "the disk is full: nothing more is taken until there is room"})
	eventually(t, ctx, "the trouble", `document.querySelector("[data-r=alert] p.alert")?.innerText.includes("the disk is full")`)
	for _, s := range measured(t, ctx, "[data-r=alert] p.alert") {
		if s.Contrast < farContrast {
			t.Errorf("%q: contrast %.1f", s.Text, s.Contrast)
		}
	}
}
