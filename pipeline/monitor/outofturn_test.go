package monitor_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// filled is a step that is read off a plain gauge.
const filled = `title = "Filled"
version = 1
cylinders = ["left"]
[[step]]
id = "fill"
title = "Fill"
do = "Fill the bore; type what went in."
phase = "dry"
kind = "measure"
capture = { mode = "keyed", role = "burette", kind = "volume" }
    [[step.point]]
    id = "left"
`

// What is read off a plain gauge is typed as that gauge shows it, on every page: a burette is marked in cubic centimetres, and
// the same number in cubic inches would be sixteen times as much.
func TestTypedAsThePlainGaugeShowsIt(t *testing.T) {
	f := newFakeBench(t)
	count, err := quantity.Parse("0.05 cm3")
	if err != nil {
		t.Fatal(err)
	}
	f.mustAdd(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "burette-1", Role: "burette", Known: bench.KnownKeyed, Sends: bench.SendsKey, Resolution: count}})
	f.startBuild("17", "filled", filled, "fill")
	url := serve(t, monitor.Config{Bench: f})
	if body := get(t, url+"/bench"); !strings.Contains(body, `data-unit-inch="cm³"`) {
		t.Error("the box does not say cubic centimetres")
	}
	_, body, _ := ask(t, http.DefaultClient, "POST", url+"/do", asJSON, `{"id":"abcdefgh12","verb":"key","typed":"48.65","system":"inch"}`)
	if got := lastReading(t, f).Value.String(); got != "48.65 cm3" {
		t.Errorf("48.65 typed on a page in inches: %s (%s)", got, body)
	}
}

// A point is gone to by its row: where one side is away, the other is read.
func TestAPointIsGoneToByItsRow(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.1000")
	f.ready()
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	here := f.State().Place
	do(t, ctx, chromedp.Click(chromedp.CSS(`.side [data-do=goto][data-point="right.start"]`)))
	moved(t, ctx, f, here)
	if got := f.State().Place.Point; got != "right.start" {
		t.Errorf("the bench stands at %s", got)
	}
	if eval[bool](t, ctx, `document.querySelector('[data-do=goto][data-point="right.start"]') !== null`) {
		t.Error("the point in work is offered too")
	}
}

// What a step has confirmed after its readings can be confirmed before the last of them: one side is finished, the other away.
func TestSomethingIsConfirmedOutOfTurn(t *testing.T) {
	f := newFakeBench(t)
	f.startBuild("17", "washed", strings.Replace(fiveKinds, `datum = { do`, `confirms = [{ id = "white", text = "A white cloth stayed white." }]
datum = { do`, 1), "press")
	f.show("0.1000")
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	n := f.State().N
	stood(t, ctx)
	do(t, ctx, chromedp.Click(chromedp.CSS(`[data-r=points] [data-do=confirm][data-item=white]`)))
	until(t, "the confirmation", func() bool { return f.State().N > n })
	shows(t, ctx, f)
	if eval[bool](t, ctx, `document.querySelector("[data-do=confirm][data-item=white]") !== null`) {
		t.Error("it is asked for once more")
	}
}

// Nothing among the actions lies over anything else, on a tablet either.
func TestActionsDoNotLieOverOneAnother(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.1000")
	f.ready()
	f.show("0.7000")
	f.must(t, t.Context(), benchVerb{"take", ""})
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1024, 768)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	for _, size := range [][2]int64{{1024, 768}, {1180, 820}, {1280, 800}, {1920, 1080}, {1024, 600}} {
		do(t, ctx, chromedp.EmulateViewport(size[0], size[1]))
		eventually(t, ctx, fmt.Sprintf("%v: nothing over anything", size), `(() => {
			const all = [...document.querySelectorAll(".act button, .act input, .act label")].filter((e) => e.getClientRects().length > 0).map((e) => e.getBoundingClientRect());
			return all.length > 2 && all.every((a, i) => a.right <= innerWidth + 0.5 && all.every((b, j) => j <= i || a.right <= b.left + 0.5 || b.right <= a.left + 0.5 || a.bottom <= b.top + 0.5 || b.bottom <= a.top + 0.5));
		})()`)
		typed := eval[string](t, ctx, `document.getElementById("typed").getClientRects().length > 0 ? "box" : document.querySelector("[data-type]").getClientRects().length > 0 ? "button" : ""`)
		if typed == "" {
			t.Errorf("%v: nothing to type with", size)
		}
	}
}

// A step that waits for another, and reads nothing, says what it waits for.
func TestAStepThatWaitsSaysForWhat(t *testing.T) {
	f := newFakeBench(t)
	f.startBuild("17", "waits", strings.Replace(fiveKinds, `title = "Board out"`, `title = "Board out"
needs = ["cover"]`, 1), "board-out")
	url := serve(t, monitor.Config{Bench: f})
	if body := get(t, url+"/bench"); strings.Contains(body, "Nothing is read in step") || !strings.Contains(body, "Mouth covered") {
		t.Error("the step does not say that the mouth is covered first")
	}
}

// Every answer of a question with many stands in the window, none over another.
func TestManyAnswersFitTheTablet(t *testing.T) {
	f := newFakeBench(t)
	f.startBuild("17", "plates", strings.Replace(fiveKinds, `cautions = ["Fingers out from under the barrel."]`, `asks = [{ id = "plate", text = "Which plate is under the barrels?", choice = ["none", "0.010 in", "0.020 in", "0.030 in", "0.040 in", "0.050 in", "0.060 in"] }]`, 1), "look")
	f.mustAdd(bench.Entry{Kind: bench.TallyIn, Item: "board", Count: 1, Place: bench.Place{Build: "17", Step: "cover"}})
	f.mustAdd(bench.Entry{Kind: bench.TallyOut, Item: "board", Count: 1, Place: bench.Place{Build: "17", Step: "board-out"}})
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1024, 768)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	for _, size := range [][2]int64{{1024, 768}, {1280, 800}, {820, 1180}} {
		do(t, ctx, chromedp.EmulateViewport(size[0], size[1]))
		eventually(t, ctx, fmt.Sprintf("%v: all seven in the window", size), `(() => {
			const all = [...document.querySelectorAll("[data-do=answer]")].map((e) => e.getBoundingClientRect());
			return all.length === 7 && all.every((a, i) => a.left >= 0 && a.right <= innerWidth + 0.5 && all.every((b, j) => j <= i || a.right <= b.left + 0.5 || b.right <= a.left + 0.5 || a.bottom <= b.top + 0.5 || b.bottom <= a.top + 0.5));
		})()`)
	}
}
