package monitor_test

import (
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/pipeline/monitor"
)

// TestDrawingsOfTheWholeEngine goes to every step of the plan of a whole engine and to its last point: the page renders,
// and where the point names a cylinder or a valve the drawing says so to those who cannot see it.
func TestDrawingsOfTheWholeEngine(t *testing.T) {
	text, err := plan.ShippedText("pushrod-twin")
	if err != nil {
		t.Fatal(err)
	}
	f := newFakeBench(t)
	f.startBuild("18", "pushrod-twin", string(text), "")
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	b, _ := f.State().Build("18")
	drawn := map[string]int{}
	for _, step := range b.Plan.Steps {
		f.mustAdd(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "18", Step: step.ID}})
		if len(step.Points) > 0 {
			f.mustAdd(bench.Entry{Kind: bench.PassOpened, Place: bench.Place{Build: "18", Step: step.ID, Pass: 1}})
			f.mustAdd(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "18", Step: step.ID, Pass: 1, Point: step.Points[len(step.Points)-1].ID}})
		}
		get(t, url+"/bench")
		if step.View == "" || len(step.Points) == 0 || drawn[step.View] > 2 {
			continue
		}
		drawn[step.View]++
		do(t, ctx, chromedp.Navigate(url+"/bench"))
		if lit := eval[int](t, ctx, `document.querySelectorAll(".drawing .lit, .drawing .lit-line, .drawing .name-lit").length`); lit == 0 && slices.ContainsFunc(append(b.Plan.Cylinders, b.Plan.Valves...), func(name string) bool {
			return strings.Contains(step.ID+" "+step.Points[len(step.Points)-1].ID, name)
		}) {
			t.Errorf("step %s (%s), point %s: nothing is lit", step.ID, step.View, step.Points[len(step.Points)-1].ID)
		}
		if os.Getenv("THOUD_SCREENS") != "" {
			picture(t, ctx, "drawing-"+step.View+"-"+step.ID)
		}
	}
	for _, view := range []string{"twin-top", "crank", "cylinder", "valve-gear"} {
		if drawn[view] == 0 {
			t.Errorf("no step with a point has the view %s", view)
		}
	}
}
