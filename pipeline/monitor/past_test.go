package monitor_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/pipeline/monitor"
)

// TestTheDrawingNeverPointsTheWrongWay moves a part to its band and past it: the arrow in the drawing is that of the
// order, which is not the way to go any more.
func TestTheDrawingNeverPointsTheWrongWay(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.7000")
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	firstPass(t, f)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	for _, row := range []struct{ value, side, arrow string }{
		{"0.6300", "before", "visible"}, {"0.5985", "in", "hidden"}, {"0.5900", "past", "hidden"}, {"0.6300", "before", "visible"},
	} {
		f.show(row.value)
		eventually(t, ctx, "the part to be "+row.side, `document.querySelector(".bench").dataset.side === "`+row.side+`"`)
		if got := eval[string](t, ctx, `getComputedStyle(document.querySelector('svg [data-part="move"]')).visibility`); got != row.arrow {
			t.Errorf("at %s, %s the band, the arrow in the drawing is %s, want %s", row.value, row.side, got, row.arrow)
		}
	}
}
