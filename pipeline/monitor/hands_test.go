package monitor_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// TestBouncingPedal presses the pedal many times in a row where confirmations follow one another: it runs through none
// whose text has not stood for a moment.
func TestBouncingPedal(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	stood(t, ctx)
	before := f.State().N
	// A pedal that bounces for a quarter of a second, then one press after the next text has stood.
	eval[bool](t, ctx, `new Promise((done) => {
		const bounce = (n) => { dispatchEvent(new KeyboardEvent("keydown", { key: "PageDown", bubbles: true })); n > 0 ? setTimeout(bounce, 25, n - 1) : done(true); };
		bounce(10);
	})`)
	until(t, "the first confirmation", func() bool { return f.State().N > before })
	shows(t, ctx, f)
	if got := f.State().N - before; got != 1 {
		t.Errorf("a bouncing pedal confirmed %d things: %s", got, f.verbs())
	}
	stood(t, ctx)
	before = f.State().N
	do(t, ctx, press(" "))
	until(t, "the next confirmation", func() bool { return f.State().N > before })
}

// TestZeroInsideAPassIsAskedAbout stands apart from Take, and is asked about where readings of the pass hang on it.
func TestZeroInsideAPassIsAskedAbout(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.1000")
	f.ready()
	f.show("0.7000")
	f.must(t, t.Context(), benchVerb{"take", ""})
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	apart := eval[float64](t, ctx, `document.querySelector("[data-do=zero]").getBoundingClientRect().left - document.querySelector("[data-primary]").getBoundingClientRect().right`)
	if apart < 60 {
		t.Errorf("Zero stands %.0f px from Take, want 60 at least", apart)
	}
	n := f.State().N
	do(t, ctx, press("z"))
	eventually(t, ctx, "the question", `document.getElementById("dialog").open && said("#dialog-title").includes("inside this pass")`)
	do(t, ctx, chromedp.Click(chromedp.CSS("#dialog button[value=cancel]")))
	eventually(t, ctx, "the question to be gone", `!document.getElementById("dialog").open`)
	if f.State().N != n {
		t.Errorf("the zero was set although it was left: %s", f.verbs())
	}
	do(t, ctx, press("z"))
	eventually(t, ctx, "the question again", `document.getElementById("dialog").open`)
	f.show("0.7000") // a value that is older than a second is not taken for a zero
	do(t, ctx, chromedp.Click(chromedp.CSS("#dialog button[value=ok]")))
	until(t, "the zero", func() bool { return f.State().N > n })
}

// TestTypingOnlyWhereSomethingCanBeTyped presses digits at a caution: nothing takes them, and no focus is lost. Where the
// bench moves on while something is typed, what was begun is gone and so is the focus.
func TestTypingOnlyWhereSomethingCanBeTyped(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	f.show("0.0990") // a gauge that speaks does not bring the box
	do(t, ctx, press("7"))
	if got := eval[string](t, ctx, `document.activeElement.tagName + document.getElementById("typed").value + document.getElementById("entry").hidden`); got != "BODYtrue" {
		t.Errorf("a digit at a caution: %q", got)
	}
	f.show("0.1000")
	f.ready()
	shows(t, ctx, f)
	f.show("0.7000")
	do(t, ctx, press("7"))
	eventually(t, ctx, "the digit in the box", `document.activeElement.id === "typed" && document.getElementById("typed").value === "7"`)
	f.must(t, t.Context(), benchVerb{"take", ""}) // by the gauge's own key meanwhile
	shows(t, ctx, f)
	if got := eval[string](t, ctx, `document.activeElement.tagName + document.getElementById("typed").value`); got != "BODY" {
		t.Errorf("the bench has moved on, but the focus or the digits stay: %q", got)
	}
}

// TestGaugesThatTypeLikeAKeyboard types what such gauges send: the unit in any case, joined to the number, an inch mark, a
// decimal comma.
func TestGaugesThatTypeLikeAKeyboard(t *testing.T) {
	for _, row := range []struct{ sent, want string }{
		{"15.24mm", "15.24 mm"}, {"15.24 MM", "15.24 mm"}, {"0.6000IN", "0.6000 in"}, {`0.6000"`, "0.6000 in"}, {"15,24 mm", "15.24 mm"}, {"+0.6000", "0.6000 in"},
	} {
		t.Run(row.sent, func(t *testing.T) {
			f := newFakeBench(t)
			f.firstFit()
			f.show("0.1000")
			f.ready()
			url := serve(t, monitor.Config{Bench: f})
			ctx := tab(t, 1280, 800)
			do(t, ctx, chromedp.Navigate(url+"/bench"))
			live(t, ctx)
			before := f.State().Place
			do(t, ctx, press(row.sent+"\r"))
			if strings.HasSuffix(row.want, " mm") { // the page shows inches
				eventually(t, ctx, "the question about the unit", `document.getElementById("dialog").open && said("#dialog-title").includes("15.24 mm was typed, and this page shows in: that is 0.6000 in")`)
				if strings.Contains(f.verbs(), "key") {
					t.Fatal("it was taken before it was asked about")
				}
				do(t, ctx, chromedp.Click(chromedp.CSS("#dialog button[value=ok]")))
			}
			moved(t, ctx, f, before)
			if got := lastReading(t, f).Value.String(); got != row.want {
				t.Errorf("typed %q: %s, want %s", row.sent, got, row.want)
			}
		})
	}
}

// TestOtherUnitIsAskedAboutOnce leaves the question, and nothing is taken; once it is agreed to, the next value of the step in
// the same unit is taken at once. The box is empty whatever came of it.
func TestOtherUnitIsAskedAboutOnce(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.1000")
	f.ready()
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	n := f.State().N
	do(t, ctx, press("15.24 mm\r"))
	eventually(t, ctx, "the question", `document.getElementById("dialog").open`)
	do(t, ctx, chromedp.Click(chromedp.CSS("#dialog button[value=cancel]")))
	eventually(t, ctx, "the question to be gone", `!document.getElementById("dialog").open`)
	if got := eval[string](t, ctx, `document.getElementById("typed").value`); got != "" || f.State().N != n {
		t.Fatalf("left: the box holds %q, verbs %s", got, f.verbs())
	}
	do(t, ctx, press("15.24 mm\r"))
	eventually(t, ctx, "the question again", `document.getElementById("dialog").open`)
	before := f.State().Place
	do(t, ctx, chromedp.Click(chromedp.CSS("#dialog button[value=ok]")))
	moved(t, ctx, f, before)
	before = f.State().Place
	do(t, ctx, press("15.30 mm\r"))
	moved(t, ctx, f, before)
	do(t, ctx, press("1 2 3\r")) // refused
	eventually(t, ctx, "the refusal", `said("#say").includes("not")`)
	if got := eval[string](t, ctx, `document.getElementById("typed").value`); got != "" {
		t.Errorf("a refused value stays in the box: %q", got)
	}
}

// TestStaleValuesAreStruckOut lets a gauge that speaks all the time fall silent, and then go: its value is struck through
// with its age, on the bench, across the room, among the gauges and where it is checked.
func TestStaleValuesAreStruckOut(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.1000")
	f.ready()
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	for _, page := range []struct{ path, value string }{
		{"/bench", ".stands [data-number]"}, {"/wall", ".stands [data-number]"}, {"/gauges", "[data-value]"}, {"/check?gauge=dial-1", "[data-value]"},
	} {
		f.show("0.7000")
		do(t, ctx, chromedp.Navigate(url+page.path))
		live(t, ctx)
		f.show("0.7001")
		eventually(t, ctx, page.path+": the value", `said("`+page.value+`").startsWith("0.600")`)
		struck := `getComputedStyle(document.querySelector("` + page.value + `")).textDecorationLine.includes("line-through")`
		if eval[bool](t, ctx, struck) {
			t.Errorf("%s: a value that has just come is struck through", page.path)
		}
		eventually(t, ctx, page.path+": the silent gauge's value to be struck out", struck+` && /seconds old/.test(said("[data-age]"))`)
	}
}

// TestMovingValueIsStruckOutToo lets the gauge fall silent while a part is moved: what is left counts no more, and says how old
// it is, in the shop, on a tablet and on a phone.
func TestMovingValueIsStruckOutToo(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	firstPass(t, f)
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	f.show("0.6300")
	eventually(t, ctx, "what is left", `said("#moving .hero") === "0.0315 in"`)
	eventually(t, ctx, "it struck out", `getComputedStyle(document.querySelector("#moving [data-number]")).textDecorationLine.includes("line-through")`)
	for _, size := range [][2]int64{{1920, 1080}, {820, 1180}, {390, 844}} {
		do(t, ctx, chromedp.EmulateViewport(size[0], size[1]))
		eventually(t, ctx, "its age", `/ old$/.test(said("[data-moving-age]"))`)
	}
	f.show("0.6290")
	eventually(t, ctx, "the value to count again", `!document.getElementById("bench").classList.contains("stale") && said("#moving .hero") === "0.0305 in"`)
}

// TestCautionIsUnderstood: the button of a caution does not say "Read", which here is what a gauge does.
func TestCautionIsUnderstood(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	url := serve(t, monitor.Config{Bench: f})
	body := get(t, url+"/bench")
	if !strings.Contains(body, "<span>Understood</span>") || !strings.Contains(body, `data-do="`+bench.DoAcknowledge+`"`) {
		t.Error("a caution ends with another word than Understood")
	}
}
