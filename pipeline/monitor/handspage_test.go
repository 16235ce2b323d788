package monitor_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/plan"
	"thoud/pipeline/monitor"
)

// seatedAnew is a plan of a bore read three times at each of two places, of a height read three times, and of two steps of the same
// kinds that are seated once.
const seatedAnew = `title = "Seated anew"
version = 1
cylinders = ["left"]
[[step]]
id = "bore-left"
title = "Bore"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }
seatings = 3
    [[step.point]]
    id = "left.top"
    [[step.point]]
    id = "left.bottom"
[step.compute]
method = "statistics"
per = "point"
[step.compute.inputs]
values = ["@reading"]

[[step]]
id = "joint-face-height"
title = "Height of the joint face"
do = "Read it."
phase = "dry"
kind = "measure"
capture = { mode = "press", role = "indicator" }
seatings = 3
    [[step.point]]
    id = "left"

[[step]]
id = "bore-again"
title = "Bore, once more"
do = "Read it."
phase = "final"
kind = "measure"
capture = { mode = "press", role = "indicator" }
setup = "0.0010 in"
    [[step.point]]
    id = "left"
[step.compute]
method = "statistics"
per = "point"
[step.compute.inputs]
values = ["@reading"]
`

// seat plays a build of seatedAnew through the steps that are seated three times; it ends at the third.
func seat(t *testing.T, f *fakeBench, job string, n int) {
	t.Helper()
	if _, err := plan.Parse("seated-anew", []byte(seatedAnew)); err != nil {
		t.Fatal(err)
	}
	f.startBuild(job, "seated-anew", seatedAnew, "bore-left")
	for i := range 9 {
		f.show(fmt.Sprintf("%.4f", 0.7+0.0005*float64((i*7+n*5)%4)))
		f.must(t, t.Context(), benchVerb{"take", ""})
		if i == 5 || i == 8 {
			f.must(t, t.Context(), benchVerb{"next", ""})
		}
	}
}

// TestOwnHandsInWords: with many seatings each kind of step is called as its steps are, every figure has its unit, and what is offered
// says how many repeats it rests on in the word of the table. On a phone nothing is beside the screen.
func TestOwnHandsInWords(t *testing.T) {
	f := newFakeBench(t)
	f.show("0.1000")
	for i := range 5 {
		seat(t, f, fmt.Sprint(21+i), i)
	}
	url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}})
	body := get(t, url+"/hands")
	for _, want := range []string{">Bore; Bore, once more</th>", ">Height of the joint face</th>", " in and 0.0", "(20 repeats, dial-1); stated is 0.0010 in"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, none := range []string{"tatistics", "Joint face height", "degrees of freedom"} {
		if strings.Contains(body, none) {
			t.Errorf("the page says %q", none)
		}
	}
	ctx := tab(t, 390, 844)
	for _, size := range [][2]int64{{390, 844}, {320, 640}, {1024, 768}, {1920, 1080}} {
		do(t, ctx, chromedp.EmulateViewport(size[0], size[1]), chromedp.Navigate(url+"/hands"))
		picture(t, ctx, fmt.Sprintf("hands-%d", size[0]))
		if size[0] <= 800 { // wider, the names stand above the table
			for _, fault := range eval[[]string](t, ctx, unlabelled) {
				t.Errorf("at %d: %s", size[0], fault)
			}
		}
		if over := eval[float64](t, ctx, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
			t.Errorf("at %d the page is %v px wider than the window", size[0], over)
		}
	}
}
