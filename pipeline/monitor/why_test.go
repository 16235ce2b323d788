package monitor_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/pipeline/monitor"
)

// TestWhyLeadsToTheWayOfTheFigure follows "Why?" from a verdict to the reading it hangs on: frame, zero, value, result, order.
// And the largest word of a gauge that is gone is not cut off below the line.
func TestWhyLeadsToTheWayOfTheFigure(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	firstPass(t, f)
	url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}})
	ctx := tab(t, 1920, 1080)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	f.plug(false)
	eventually(t, ctx, "the gauge to be gone", `said(".hero.gone").includes("gone")`)
	// The g goes a fifth of an em below its line; the box must have that much under the line.
	if got := eval[float64](t, ctx, `(() => { const h = document.querySelector(".hero.gone"), w = h.querySelector("span");
		const r = document.createRange(); r.selectNodeContents(w); const size = parseFloat(getComputedStyle(w).fontSize);
		const mid = (r.getBoundingClientRect().top + r.getBoundingClientRect().bottom) / 2; return h.getBoundingClientRect().bottom - (mid + 0.5 * size); })()`); got < 0 {
		t.Errorf("the box of the largest words ends %.0f px above the foot of its letters", -got)
	}
	picture(t, ctx, "gone")
	f.plug(true)
	f.show("0.6485")
	eventually(t, ctx, "the verdict", `said(".whence").includes("Why?")`)
	do(t, ctx, chromedp.Click(chromedp.CSS(".whence")))
	eventually(t, ctx, "the way of the reading", `said("h2").includes("The way of this reading") && said(".way").includes("Result") && said(".way").includes("Order")`)
}
