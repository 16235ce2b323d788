package monitor_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// boltPlan is a cover with six bolts, each on its own zero, tightened to a stretch.
const boltPlan = `title = "Bolts"
version = 1
cylinders = ["left"]
[[step]]
id = "base-bolts"
title = "Base bolts by stretch"
do = "Zero on the free bolt, tighten, read."
phase = "final"
kind = "measure"
view = "twin-top"
capture = { mode = "press", role = "indicator" }
datum = { do = "Slacken this bolt; seat the gauge on it; zero.", size = "0 in", at_point = true }
    [[step.point]]
    along = { bolt = ["1", "2", "3", "4", "5", "6"] }
    id = "bolt-{bolt}"
    title = "Base bolt {bolt}"
    do = "Tighten base bolt {bolt}; read its stretch."
    [step.compute]
    method = "bolt-preload"
    per = "point"
    shown = ["preload"]
    approach = { figure = "preload", point = "{key}" }
    [step.compute.inputs]
    modulus = "210000 N/mm2"
    segments = [{ length = "100 mm", diameter = "10 mm" }]
    stretch = "@reading"
    [step.compute.limits]
    preload = { lower = "25 kN", upper = "30 kN", source = "builder's choice" }
`

// TestBoltIsCountedDownBeforeItsFirstReading tightens a bolt that was never read: what is left is told from the first move on,
// the drawing has as many bolts as the plan, with what was done marked, and the value stands in its figure as it grows.
func TestBoltIsCountedDownBeforeItsFirstReading(t *testing.T) {
	f := newFakeBench(t)
	f.startBuild("17", "bolts", boltPlan, "base-bolts")
	lower, upper := 0.0049*25.4, 0.0055*25.4
	aim := func(_ bench.State, _ bench.Results, at bench.Place) *bench.Band {
		return &bench.Band{Point: at.Point, Figure: "preload", Lower: &lower, Upper: &upper, Target: 0.0052 * 25.4}
	}
	url := serve(t, monitor.Config{Bench: f, Aim: aim})
	ctx := tab(t, 1920, 1080)
	complaints := listen(t, ctx)
	do(t, ctx, theme("light"), chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	tighten := func(bolt string) {
		f.show("0.1000")
		f.must(t, t.Context(), benchVerb{"zero", ""})
		f.show("0.1000")
		eventually(t, ctx, "the rule before the first reading of "+bolt, `said(".stands .note").startsWith("It stands now") && said(".wanted") === "Wanted 0.0052 in"`)
		f.show("0.1031")
		eventually(t, ctx, bolt+": what is left", `said("#moving .hero") === "0.0021 in" && said("[data-moving-words]") === "to go, tighten" && said("[data-moving-place]") === "`+bolt+`"`)
		eventually(t, ctx, bolt+": the value in the drawing", `said(".side [data-live]") === "0.0031 in"`)
		picture(t, ctx, "bolt-moving-"+bolt[len(bolt)-1:])
		f.show("0.1052")
		eventually(t, ctx, "the band", `document.getElementById("bench").dataset.side === "in"`)
		f.must(t, t.Context(), benchVerb{"take", ""})
	}
	tighten("Base bolt 1")
	tighten("Base bolt 2")
	eventually(t, ctx, "two bolts done, the third now", `document.querySelectorAll('.side [data-part^="bolt "]').length === 6 && document.querySelectorAll('.side [data-part^="bolt "] text.done').length === 2`)
	if said := complaints(); len(said) > 0 {
		t.Errorf("the console says: %v", said)
	}
}
