package monitor_test

import (
	"math"
	"net/http"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

func checksOf(t *testing.T, f *fakeBench) []bench.Check {
	t.Helper()
	g, ok := f.State().Gauge(dialName)
	if !ok {
		t.Fatal("the gauge is gone")
	}
	return g.Checks
}

// TestCheckInABrowser checks a gauge against two standards, one typed in mm and one read from the gauge.
func TestCheckInABrowser(t *testing.T) {
	f := newFakeBench(t)
	f.show("0.5001")
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/check?gauge="+dialName))
	live(t, ctx)
	eventually(t, ctx, "the live value", `said("[data-value]") === "0.5001 in"`)
	line := func(n, name string) chromedp.CSS {
		return chromedp.CSS("#pairs li:nth-child(" + n + ") [name=" + name + "]")
	}
	do(t, ctx, chromedp.SendKeys(line("1", "size"), "0.5000"), chromedp.Click(chromedp.CSS("#pairs li:nth-child(1) [data-read]")))
	eventually(t, ctx, "the value that was read", `document.querySelector("#pairs [name=shown]").value === "0.5001 in"`)
	do(t, ctx, chromedp.Click(chromedp.CSS("#pair-more")), chromedp.SendKeys(line("2", "size"), "25.4 mm"), chromedp.SendKeys(line("2", "shown"), "0.9997"),
		chromedp.SendKeys(chromedp.CSS("#check [name=standard]"), "0.002 mm"), chromedp.SendKeys(chromedp.CSS("#check [name=due]"), "30\r"))
	until(t, "the check", func() bool { return len(checksOf(t, f)) == 1 })
	c := checksOf(t, f)[0]
	// By hand: the errors are +0.0001 in and −0.0003 in, so 0.0003 in = 0.00762 mm at most; their standard deviation is
	// 0.0004 in/√2 = 0.0071842 mm, and with 0.001 mm of the standards √(0.0071842² + 0.001²) = 0.0072535 mm.
	if c.Study || math.Abs(c.Error-0.00762) > 1e-9 || math.Abs(c.U-0.0072535) > 1e-6 || c.Dof != 1 || c.Due == 0 {
		t.Errorf("kept: %+v", c)
	}
	eventually(t, ctx, "the register", `location.pathname === "/gauges" && said("main").includes("error 0.0003 in")`)
}

// TestStudyByKeyboard reads a gauge again and again by the space bar; the study can be kept once all is read.
func TestStudyByKeyboard(t *testing.T) {
	f := newFakeBench(t)
	f.show("0.2500")
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/check?gauge="+dialName))
	live(t, ctx)
	do(t, ctx, chromedp.SendKeys(chromedp.CSS("#study [name=size]"), "0.25"), chromedp.SetValue(chromedp.CSS("#study [name=times]"), "3"),
		chromedp.Evaluate[chromedp.Void](`document.querySelector("#study [name=times]").dispatchEvent(new Event("input")); document.activeElement.blur()`))
	for i, value := range []string{"0.2500", "0.2510", "0.2505"} {
		f.show(value)
		if ready := eval[bool](t, ctx, `!document.getElementById("study-keep").disabled`); ready {
			t.Fatalf("the study can be kept after %d of 3 readings", i)
		}
		do(t, ctx, press(" "))
		eventually(t, ctx, "a reading", `document.querySelectorAll("#study-list li").length === `+string(rune('1'+i))+` && document.getElementById("study-progress").value === `+string(rune('1'+i)))
	}
	eventually(t, ctx, "all of it", `document.getElementById("study-words").innerText === "3 of 3: all read"`)
	picture(t, ctx, "study")
	do(t, ctx, press(" ")) // one more is not taken
	do(t, ctx, chromedp.Click(chromedp.CSS("#study-keep")))
	until(t, "the study", func() bool { return len(checksOf(t, f)) == 1 })
	// By hand: 0, 10 and 5 counts of 0.0001 in have a standard deviation of 5, so 0.0005 in = 0.0127 mm.
	if c := checksOf(t, f)[0]; !c.Study || math.Abs(c.U-0.0127) > 1e-9 || c.Dof != 2 {
		t.Errorf("kept: %+v", c)
	}
	f.plug(false)
	res, err := http.Get(url + "/now?gauge=" + dialName)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode != http.StatusConflict {
		t.Errorf("a gauge that is gone gives status %d", res.StatusCode)
	}
}

// TestTurnsOfAPlainDial types what the hand shows and how often it went round; the second box is there for such a gauge
// only.
func TestTurnsOfAPlainDial(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.1000")
	f.ready()
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	if !eval[bool](t, ctx, `document.getElementById("turns").offsetParent === null`) {
		t.Error("a gauge without revolutions has a box for them")
	}
	f.mustAdd(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "plain-1", Known: bench.KnownKeyed, Role: "indicator", Sense: 1, PerTurn: inch(t, "0.1000")}})
	f.mustAdd(bench.Entry{Kind: bench.GaugeChosen, Item: "plain-1"})
	eventually(t, ctx, "the box", `document.getElementById("turns").offsetParent !== null`)
	picture(t, ctx, "bench-turns")
	before := f.State().Place
	do(t, ctx, chromedp.SendKeys(chromedp.CSS("#turns"), "3"), chromedp.SendKeys(chromedp.CSS("#typed"), "0.0215\r"))
	moved(t, ctx, f, before)
	if r := lastReading(t, f); r.Turns != 3 || r.Value.String() != "0.3215 in" {
		t.Errorf("asked for %d turns and %s", r.Turns, r.Value)
	}
	eventually(t, ctx, "the turns cleared, or they would be counted twice", `document.getElementById("turns").value === ""`)
}
