package monitor_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// byEye is a build whose wheel is read by eye: which way it runs, top dead centre by a stop, a lobe at two heights, a valve
// pushed at stops.
const byEye = `title = "By eye"
version = 1
cylinders = ["left"]
[[step]]
id = "ready"
title = "Ready"
do = "Look at the engine."
phase = "dry"
kind = "check"
asks = [
    { id = "running-direction", text = "Seen from the wheel, which way does it run?", choice = ["clockwise", "anticlockwise"] },
    { id = "wheel-end", text = "Which end carries the wheel?", choice = ["left", "right"] },
]
[[step]]
id = "tdc"
title = "Top dead centre"
do = "Turn gently onto the stop, once each way."
phase = "dry"
kind = "measure"
view = "crank"
capture = { mode = "keyed", role = "wheel", kind = "angle", parallax = "0.2 deg" }
items = [{ name = "stop-plate", out_before = "cam", first = true }]
    [[step.point]]
    id = "forward"
    turned = "forward"
    [[step.point]]
    id = "back"
    turned = "back"
[[step]]
id = "stop-away"
title = "Stop plate out"
do = "Take the stop plate out."
phase = "dry"
kind = "fit"
out = ["stop-plate"]
confirms = [{ id = "free", text = "The crank turns freely over the top." }]
[[step]]
id = "cam"
title = "Cam timing by eye"
do = "Turn on until the indicator passes the height."
phase = "dry"
kind = "measure"
view = "valve-gear"
capture = { mode = "crossings", role = "indicator", parallax = "0.2 deg" }
datum = { do = "Follower on the lobe's back: rest the indicator, zero.", size = "0 in" }
    [[step.point]]
    id = "inlet.low.opening"
    title = "Inlet rising through 0.040 in"
    height = "0.040 in"
    flank = "rising"
    [[step.point]]
    id = "inlet.high.opening"
    title = "Inlet rising through 0.160 in"
    height = "0.160 in"
    flank = "rising"
    [[step.point]]
    id = "inlet.high.closing"
    title = "Inlet falling through 0.160 in"
    height = "0.160 in"
    flank = "falling"
    [[step.point]]
    id = "inlet.low.closing"
    title = "Inlet falling through 0.040 in"
    height = "0.040 in"
    flank = "falling"
[[step]]
id = "valves"
title = "Valves to pistons by eye"
do = "Push the valve at every stop."
phase = "dry"
kind = "measure"
view = "valve-gear"
capture = { mode = "stops", role = "indicator", parallax = "0.2 deg" }
    [[step.point]]
    along = { angle = ["0 deg", "5 deg", "10 deg"] }
    id = "inlet.at{angle}"
    title = "Inlet at {angle}"
    do = "Wheel at {angle}: push the inlet valve, let go."
`

// A build by eye is played on the page through every step that reads the wheel. What the bench says meanwhile stands on the
// page: which way to turn, how far it still is, that it went past; and what is refused is refused there in words.
func TestABuildByEyeOnThePage(t *testing.T) {
	f := newFakeBench(t)
	f.mustAdd(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "wheel-1", Role: "wheel", Known: bench.KnownKeyed, Sends: bench.SendsKey}})
	f.startBuild("17", "by-eye", byEye, "ready")
	f.show("0.5000")
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	complaints := listen(t, ctx)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	says := func(what, words string) {
		t.Helper()
		eventually(t, ctx, what, fmt.Sprintf("document.body.innerText.toLowerCase().includes(%q)", strings.ToLower(words)))
	}
	key := func(what, keys string) {
		t.Helper()
		before := f.State().N
		stood(t, ctx)
		do(t, ctx, press(keys))
		until(t, what, func() bool { return f.State().N > before })
		shows(t, ctx, f)
	}
	typed := func(value string) {
		t.Helper()
		eventually(t, ctx, "the box to have the focus", `document.activeElement.id === "typed"`)
		key("the wheel at "+value, value+"\r")
	}
	refused := func(value, words string) {
		t.Helper()
		before := f.State().N
		eventually(t, ctx, "the box to have the focus", `document.activeElement.id === "typed"`)
		do(t, ctx, press(value+"\r"))
		says("that it is refused in words", words)
		if f.State().N != before {
			t.Fatalf("%s was kept", value)
		}
		do(t, ctx, chromedp.Evaluate[chromedp.Void](`document.getElementById("typed").value = ""`))
	}
	says("the question", "which way does it run?")
	picture(t, ctx, "by-eye-question")
	key("the running direction", "u") // the second of the choices
	says("the second question", "which end carries the wheel?")
	key("the wheel's end", "y")
	key("the next step", " ")

	key("the stop plate in", " ")
	says("the way to turn", "Turn anticlockwise, seen from the wheel on the left end.")
	typed("24.2")
	says("the other way", "Turn back, against the running direction")
	refused("338.6", "that is the wrong side of the top")
	f.must(t, ctx, benchVerb{bench.DoRetake, ""})
	shows(t, ctx, f)
	typed("338.5")
	typed("24")
	for range 4 { // the stop plate in, on, out, on: whatever the page asks for
		if f.State().Place.Step == "cam" {
			break
		}
		key("the stop plate", " ")
	}

	key("the zero", " ")
	f.show("0.5200")
	says("how far it still is", "0.0200 in to go.")
	refused("38", "0.0200 in short of the height")
	f.show("0.5450")
	says("that it went past", "Past it: back a quarter turn.")
	picture(t, ctx, "by-eye-past")
	refused("38", "went past the height")
	for _, v := range []string{"0.5050", "0.5300", "0.5400"} {
		f.show(v)
	}
	says("that the wheel may be read", "Stop. Type the wheel.")
	typed("321.5")
	f.show("0.6000")
	f.show("0.6600")
	typed("358")
	for _, v := range []string{"0.8000", "0.8600", "0.7000"} {
		f.show(v)
	}
	says("how far it falls still", "0.0400 in to go.")
	f.show("0.6600")
	typed("212")
	f.show("0.6600")
	f.show("0.5400")
	typed("248.5")
	b, _ := f.State().Build("17")
	if last := b.Step("cam").Last(); last == nil || last.Status != bench.PassIsClosed {
		t.Fatalf("the lobe is not read: %+v", last)
	}
	key("the next step", " ")

	for _, apart := range []string{"0.6100", "0.6000", "0.6050"} {
		stood(t, ctx)
		do(t, ctx, press(" "))
		until(t, "the push to begin", func() bool { return f.Scene().Sweep != nil })
		for _, v := range []string{"0.5000", apart, "0.5000"} {
			f.show(v)
		}
		key("the push", " ")
	}
	b, _ = f.State().Build("17")
	if last := b.Step("valves").Last(); last == nil || last.Status != bench.PassIsClosed || last.Readings[0].Mode != "stops" {
		t.Fatalf("the stops are not read: %+v", last)
	}
	if said := complaints(); len(said) > 0 {
		t.Errorf("the console says: %v", said)
	}
}
