package monitor_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// tracePlan is a lift curve over two turns.
const tracePlan = `title = "Trace"
version = 1
cylinders = ["left"]
valves = ["inlet"]
[[step]]
id = "cam-inlet"
title = "Inlet timing"
do = "Turn two turns and trace the inlet follower."
phase = "dry"
kind = "measure"
view = "valve-gear"
capture = { mode = "trace", role = "indicator", angle = "angle" }
datum = { do = "Follower on the lobe's back: rest the indicator on it and zero it.", size = "0 in", close = true, drift = "0.0008 in" }
    [[step.point]]
    id = "left.inlet.lift"
    title = "left inlet, lift over two turns"
    [step.compute]
    method = "cam-timing"
    per = "pass"
    shown = ["inlet_centre"]
    [step.compute.inputs]
    crank_angle = "@samples.angle:left.inlet.lift"
    inlet_lift = "@samples.value:left.inlet.lift"
    checking_height = "0.050 in"
`

// traceBench stands at the trace with an indicator and an encoder.
func traceBench(t *testing.T) *fakeBench { return traceBenchOf(t, tracePlan) }

func traceBenchOf(t *testing.T, text string) *fakeBench {
	t.Helper()
	f := newFakeBench(t)
	f.mustAdd(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "wheel-1", Profile: "text", Port: "/dev/pts/8", Known: bench.KnownPath, Role: "angle", Sends: bench.SendsStream, Sense: 1}})
	f.mustAdd(bench.Entry{Kind: bench.GaugeBack, Link: &bench.Link{Gauge: "wheel-1", Port: "/dev/pts/8", Device: "pts/8"}})
	f.startBuild("17", "trace", text, "cam-inlet")
	f.show("0.0000")
	f.must(t, t.Context(), benchVerb{"zero", ""})
	return f
}

// turnTo shows the angle and the lift that go with it while a sweep runs. The lift is a made-up smooth lobe.
func (f *fakeBench) turnTo(deg float64, samples int) {
	f.tb.Helper()
	angle, err := quantity.Parse(fmt.Sprintf("%.1f deg", math.Mod(deg, 360)))
	if err != nil {
		f.tb.Fatal(err)
	}
	lift := 0.0
	if deg < 240 {
		lift = 0.32 * math.Pow(math.Sin(deg/240*math.Pi), 2)
	}
	value := inch(f.tb, fmt.Sprintf("%.4f", lift))
	f.mu.Lock()
	defer f.mu.Unlock()
	now := time.Now().UnixMicro()
	for _, l := range []bench.Live{{Gauge: "wheel-1", At: now, Raw: angle, Value: &angle, Open: true}, {Gauge: dialName, At: now, Raw: value, Value: &value, Open: true, Sweep: samples}} {
		f.live[l.Gauge] = l
		f.tellLocked(monitor.Event{Live: &l})
	}
}

// traced takes the whole curve as the first pass and gives what cam-timing makes of it.
func (f *fakeBench) traced() {
	f.tb.Helper()
	samples := &bench.Samples{Unit: "in", Places: 4}
	lobe := calc.Request{Method: "cam-timing", Inputs: map[string]calc.Val{"checking_height": {Num: &calc.Num{X: 1.27}}}}
	angles, lifts := calc.Val{}, calc.Val{}
	for deg := 0.0; deg <= 720; deg += 4 {
		lift := 0.0
		if deg < 240 {
			lift = 0.3 * 25.4 * math.Pow(math.Sin(deg/240*math.Pi), 2)
		}
		samples.Angle = append(samples.Angle, int64(math.Mod(deg, 360)*1000))
		samples.Value = append(samples.Value, int64(lift*quantity.PerMillimetre))
		angles.List, lifts.List = append(angles.List, calc.Num{X: deg}), append(lifts.List, calc.Num{X: lift})
	}
	lobe.Inputs["crank_angle"], lobe.Inputs["inlet_lift"] = angles, lifts
	raw := inch(f.tb, "0.3000")
	f.mustAdd(bench.Entry{Kind: bench.PassOpened, Place: bench.Place{Build: "17", Step: "cam-inlet", Pass: 1}})
	e := f.mustAdd(bench.Entry{Kind: bench.ReadingTaken, Place: bench.Place{Build: "17", Step: "cam-inlet", Pass: 1, Point: "left.inlet.lift", Seating: 1},
		Reading: &bench.Reading{Gauge: dialName, Raw: raw, Value: raw, Mode: "trace", Samples: samples}})
	f.mustAdd(bench.Entry{Kind: bench.PassClosed, Place: bench.Place{Build: "17", Step: "cam-inlet", Pass: 1}})
	res, err := calc.Run(lobe)
	if err != nil || res.Refused != "" {
		f.tb.Fatalf("%v %s", err, res.Refused)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	r := bench.Result{Build: "17", Step: "cam-inlet", Pass: 1, N: e.N, At: e.At, Readings: []string{e.ID}, Request: lobe, Result: res}
	f.results = f.results.With(r)
	f.tellLocked(monitor.Event{Outcome: &bench.Outcome{N: e.N, ID: e.ID, Results: []bench.Result{r}}})
}

// TestTheResultTakesThePlaceOfTheCurve shows the picture of what was traced with its events where the live curve was, without
// scrolling; when the next turn is made, the last curve lies dotted behind it with its name.
func TestTheResultTakesThePlaceOfTheCurve(t *testing.T) {
	f := traceBenchOf(t, strings.Replace(tracePlan, `, close = true, drift = "0.0008 in"`, "", 1))
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	do(t, ctx, theme("light"), chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	f.traced()
	eventually(t, ctx, "the picture of the result", `said(".traced .note").includes("inlet opens")`)
	for _, size := range [][2]int64{{1920, 1080}, {820, 1180}, {390, 844}} {
		do(t, ctx, chromedp.EmulateViewport(size[0], size[1]))
		if got := eval[string](t, ctx, `(() => { const r = [...document.querySelectorAll(".traced svg")].find((e) => e.getClientRects().length > 0).getBoundingClientRect();
			return r.bottom <= innerHeight && r.height > 120 && document.querySelector("#trace").hidden ? "" : JSON.stringify(r); })()`); got != "" {
			t.Errorf("%v: the picture of the result is not in sight: %s", size, got)
		}
		picture(t, ctx, fmt.Sprintf("traced-%d", size[0]))
	}
	do(t, ctx, chromedp.EmulateViewport(1920, 1080))
	f.must(t, t.Context(), benchVerb{"again", ""})
	eventually(t, ctx, "the next turn to be offered", `said("[data-primary] span") === "Begin the turn"`)
	for deg, n := 0.0, 1; deg <= 100; deg, n = deg+4, n+1 {
		f.turnTo(deg, n)
	}
	eventually(t, ctx, "the last curve behind the new one", `document.querySelector(".plot .last")?.getTotalLength() > 800 && said(".plot .last-name") === "left inlet, lift over two turns, pass 1"`)
	picture(t, ctx, "trace-behind")
}

// TestTurnIsDrawnWhileItIsMade traces a lobe: the curve grows, the angle and what is left are told, and a page that comes
// late is sent the curve from its beginning.
func TestTurnIsDrawnWhileItIsMade(t *testing.T) {
	f := traceBench(t)
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	complaints := listen(t, ctx)
	do(t, ctx, theme("light"), chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	eventually(t, ctx, "the turn to be offered", `said("[data-primary] span") === "Begin the turn"`)
	n := 0
	for deg := 0.0; deg <= 400; deg += 4 {
		n++
		f.turnTo(deg, n)
	}
	eventually(t, ctx, "angle and what is left", `said("[data-turn-title]") === "Turn on, slowly. Stop at 720°." && said("#trace .hero") === "400°" && said("[data-turn-left]") === "320° to go"`)
	eventually(t, ctx, "the button to end it", `said("[data-primary] span") === "End the turn"`)
	if got := eval[float64](t, ctx, `document.querySelectorAll(".plot .curve")[0].getTotalLength()`); got < 400 {
		t.Errorf("the curve is %.0f long", got)
	}
	if gap := eval[string](t, ctx, `document.querySelector("[data-turn-gap]").textContent`); gap != "widest gap 4°, never back" {
		t.Errorf("told: %q", gap)
	}
	for _, s := range measured(t, ctx, "#trace .far, #trace [data-number]") {
		if s.Capital < farCapital || s.Contrast < farContrast || s.Bottom > 1080 || s.Covered {
			t.Errorf("%q: capitals of %.1f px, contrast %.1f, bottom at %.0f", s.Text, s.Capital, s.Contrast, s.Bottom)
		}
	}
	picture(t, ctx, "trace-shop")
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	picture(t, ctx, "trace-phone")
	late := tab(t, 1920, 1080)
	do(t, late, theme("dark"), chromedp.Navigate(url+"/wall"))
	live(t, late)
	eventually(t, late, "the whole curve on a page that came late", `said("#trace .hero") === "400°" && document.querySelector(".plot .curve").getAttribute("d").split("L").length > 90`)
	picture(t, late, "trace-wall")
	f.show("0.0000")
	eventually(t, ctx, "the turn to be over", `document.getElementById("trace").hidden`)
	if said := complaints(); len(said) > 0 {
		t.Errorf("the console says: %v", said)
	}
}
