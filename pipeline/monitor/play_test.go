package monitor_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/pipeline/monitor"
)

// fiveKinds is a small build with a step of every kind: pressed, typed, between blades, a piece that goes in and comes
// out, and one that is looked at, confirmed and signed.
const fiveKinds = `title = "Five kinds"
version = 1
cylinders = ["left"]
[[step]]
id = "press"
title = "Pressed"
do = "Read the left block."
phase = "dry"
kind = "measure"
view = "twin-top"
capture = { mode = "press", role = "indicator" }
datum = { do = "Rest the indicator on the joint face and zero it." }
    [[step.point]]
    id = "left"
[[step]]
id = "typed"
title = "Typed"
do = "Read the plain dial and type it."
phase = "dry"
kind = "measure"
capture = { mode = "keyed", role = "indicator" }
    [[step.point]]
    id = "left"
[[step]]
id = "blades"
title = "Between blades"
do = "Find the blade that goes and the one that does not."
phase = "dry"
kind = "measure"
capture = { mode = "bracket", role = "feeler" }
    [[step.point]]
    id = "left.gap"
[[step]]
id = "cover"
title = "Mouth covered"
do = "Put the board over the mouth."
phase = "final"
kind = "fit"
confirms = [{ id = "covered", text = "The mouth is covered" }]
items = [{ name = "board", out_before = "look" }]
[[step]]
id = "board-out"
title = "Board out"
do = "Take the board out."
phase = "final"
kind = "fit"
confirms = [{ id = "clean", text = "The mouth is clean" }]
out = ["board"]
[[step]]
id = "look"
title = "Looked over"
do = "Look it over."
phase = "final"
kind = "check"
cautions = ["Fingers out from under the barrel."]
confirms = [{ id = "clips", text = "The clips are home" }]
hold = true
`

func fiveKindsBench(t *testing.T) *fakeBench {
	t.Helper()
	f := newFakeBench(t)
	f.startBuild("17", "five", fiveKinds, "press")
	f.show("0.1000")
	return f
}

// whatWasDone lists the kinds of the entries, after those that began the build.
func whatWasDone(f *fakeBench) string {
	f.mu.Lock()
	defer f.mu.Unlock()
	out, begun := "", false
	for n := uint64(1); n <= f.state.N; n++ {
		if begun && f.bodies[n].Kind != bench.PassOpened {
			out += string(f.bodies[n].Kind) + " "
		}
		begun = begun || f.bodies[n].Kind == bench.StepEntered
	}
	return out
}

const allFive = "zero-set reading pass-closed step-entered reading pass-closed step-entered reading pass-closed " +
	"step-entered confirmed tally-in step-entered confirmed tally-out step-entered acknowledged confirmed signed "

// TestFiveKindsByKeyboard works through five steps of different kinds without a mouse.
func TestFiveKindsByKeyboard(t *testing.T) {
	f := fiveKindsBench(t)
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	complaints := listen(t, ctx)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	key := func(what, keys string) {
		t.Helper()
		before := f.State().N
		stood(t, ctx)
		do(t, ctx, press(keys))
		until(t, what, func() bool { return f.State().N > before })
		shows(t, ctx, f)
	}
	key("the zero", " ")
	f.show("0.2000")
	key("the reading", " ")
	key("the next step", " ")
	eventually(t, ctx, "the box to have the focus", `document.activeElement.id === "typed"`)
	key("the typed value", "0.1234\r")
	key("the next step", " ")
	eventually(t, ctx, "the box to have the focus", `document.activeElement.id === "typed"`)
	key("the blades", "0.010 0.011\r")
	key("the next step", " ")
	key("the mouth covered", " ")
	key("the board in", " ")
	key("the next step", " ")
	key("the mouth clean", " ")
	key("the board out", " ")
	key("the next step", " ")
	key("the caution", " ")
	key("the confirmation", " ")
	stood(t, ctx)
	before := f.State().N
	do(t, ctx, press(" "))
	eventually(t, ctx, "the initials to be asked for", `document.activeElement.name === "initials"`)
	do(t, ctx, press("AB\r"))
	until(t, "the signature", func() bool { return f.State().N > before })
	if got := whatWasDone(f); got != allFive {
		t.Errorf("done by keyboard:\n%s\nwant\n%s", got, allFive)
	}
	if said := complaints(); len(said) > 0 {
		t.Errorf("the console says: %v", said)
	}
}

// TestWholeBuildByTouch plays a build from its start to its closing with taps alone; what is typed is typed on the
// tablet's own keyboard.
func TestWholeBuildByTouch(t *testing.T) {
	f := fiveKindsBench(t)
	url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}, Sheets: fakeSheets{}})
	ctx := tab(t, 820, 1180)
	do(t, ctx, chromedp.EmulateViewport(820, 1180, chromedp.EmulateTouch), chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	tap := func(what string, steps ...step) {
		t.Helper()
		before := f.State().N
		stood(t, ctx)
		do(t, ctx, steps...)
		until(t, what, func() bool { return f.State().N > before })
		shows(t, ctx, f)
	}
	first := chromedp.Tap(chromedp.CSS("[data-primary]"))
	tap("the zero", first)
	f.show("0.2000")
	tap("the reading", first)
	tap("the next step", first)
	tap("the typed value", chromedp.SendKeys(chromedp.CSS("#typed"), "0.1234"), chromedp.Tap(chromedp.CSS("#entry button")))
	tap("the next step", first)
	if got := eval[string](t, ctx, `(() => { const box = document.getElementById("typed"), brush = document.createElement("canvas").getContext("2d"), look = getComputedStyle(box);
		brush.font = look.fontWeight + " " + look.fontSize + " " + look.fontFamily;
		const wide = brush.measureText("0.010 0.0115").width, room = box.clientWidth - parseFloat(look.paddingLeft) - parseFloat(look.paddingRight);
		return wide <= room ? "" : "they are " + wide + " px wide in " + look.fontSize + ", the room " + room })()`); got != "" {
		t.Errorf("two blades do not fit into their box: %s", got)
	}
	tap("the blades", chromedp.SendKeys(chromedp.CSS("#typed"), "0.010 0.011"), chromedp.Tap(chromedp.CSS("#entry button")))
	tap("the next step", first)
	tap("the mouth covered", first)
	tap("the board in", first)
	tap("the next step", first)
	tap("the mouth clean", first)
	tap("the board out", first)
	tap("the next step", first)
	tap("the caution", first)
	tap("the confirmation", first)
	stood(t, ctx)
	do(t, ctx, first)
	eventually(t, ctx, "the initials to be asked for", `document.getElementById("dialog").open`)
	tap("the signature", chromedp.SendKeys(chromedp.CSS("#dialog input"), "AB"), chromedp.Tap(chromedp.CSS("#dialog button[value=ok]")))
	if got := whatWasDone(f); got != allFive {
		t.Errorf("done by touch:\n%s\nwant\n%s", got, allFive)
	}
	eventually(t, ctx, "the sheet to be offered", `said("[data-r=say]").includes("this was the last step") && document.querySelector("[data-r=say] a").getAttribute("href") === "/sheet?job=17"`)
	do(t, ctx, chromedp.Navigate(url+"/builds"), chromedp.Tap(chromedp.CSS("[data-do=build-close]")))
	eventually(t, ctx, "the closing to be asked about", `document.getElementById("dialog").open`)
	do(t, ctx, chromedp.Tap(chromedp.CSS("#dialog button[value=ok]")))
	until(t, "the build to be closed", func() bool { b, ok := f.State().Build("17"); return ok && b.Closed })
}

// TestFinishedBuildHasNoAlarm unplugs the gauges of a finished build: the page shows the sheet and no alarm.
func TestFinishedBuildHasNoAlarm(t *testing.T) {
	f := newFakeBench(t)
	f.startBuild("17", "one", fmt.Sprintf("%s[[step]]\nid = \"look\"\ntitle = \"Looked over\"\ndo = \"Look.\"\nphase = \"final\"\nkind = \"check\"\nconfirms = [{ id = \"clean\", text = \"It is clean\" }]\n", "title = \"One\"\nversion = 1\ncylinders = [\"left\"]\n"), "look")
	f.must(t, context.Background(), benchVerb{"confirm", "clean"})
	f.plug(false)
	f.notice(bench.Notice{Stands: true, Source: "gauge dial-1", Words: `gauge "dial-1" is not there`})
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	eventually(t, ctx, "the sheet, and no alarm", `document.querySelector("[data-r=say] a")?.getAttribute("href") === "/sheet?job=17" && said("[data-r=alert]") === ""`)
	// Where many verdicts leave no room, the way to the sheet is still there.
	if !eval[bool](t, ctx, `(document.body.classList.add("tight", "tighter", "tightest"), document.querySelector("[data-r=say] a").getClientRects().length === 1)`) {
		t.Error("where it is tight nothing leads to the sheet")
	}
	// A trouble that is no gauge's is still told.
	f.notice(bench.Notice{Stands: true, Source: "disk", Words: "the disk is full"})
	eventually(t, ctx, "the trouble of the disk", `said("[data-r=alert]").includes("the disk is full")`)
}

// TestLastVerdictLeadsToTheSheet: where the last step reads something, its verdict leads to the sheet too, and leaves that way
// open where there is no room for all rows.
func TestLastVerdictLeadsToTheSheet(t *testing.T) {
	f := newFakeBench(t)
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	one, _, _ := strings.Cut(string(text), "[[step]]\nid = \"crank-runout\"")
	f.startBuild("17", "one", one, "guide-clearance")
	firstPass(t, f)
	f.must(t, context.Background(), benchVerb{"again", ""})
	readMoved(t, f)
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1024, 768)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	eventually(t, ctx, "the verdict and the sheet", `document.querySelector("[data-face=verdict]") !== null && document.querySelector("[data-r=say] a[href='/sheet?job=17']") !== null`)
	if !eval[bool](t, ctx, `(document.body.classList.add("tight", "tighter", "tightest"), document.querySelector("[data-r=say] a[href='/sheet?job=17']").getClientRects().length === 1)`) {
		t.Error("where it is tight nothing leads to the sheet")
	}
}
