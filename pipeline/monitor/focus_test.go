package monitor_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// TestKeysDoWhatTheScreenPutsFirst does something beside the work and then presses the keys that do what is first: what
// was done last must not be done again, whatever has the focus.
func TestKeysDoWhatTheScreenPutsFirst(t *testing.T) {
	click := chromedp.Click(chromedp.CSS("[data-do=retake]"))
	for _, row := range []struct {
		name   string
		beside []step // withdraws the last reading
		then   string // keys pressed when that is done
	}{
		{"clicked, then space", []step{click}, " "},
		{"clicked, then enter and space", []step{click}, "\r "},
		{"by keyboard, then enter", []step{chromedp.Focus(chromedp.CSS("[data-do=retake]")), press("\r")}, "\r"},
		{"by keyboard, then space", []step{chromedp.Focus(chromedp.CSS("[data-do=retake]")), press(" ")}, " "},
	} {
		t.Run(row.name, func(t *testing.T) {
			f := newFakeBench(t)
			f.firstFit()
			f.show("0.1000")
			f.ready()
			f.show("0.7000")
			f.must(t, t.Context(), benchVerb{"take", ""})
			f.show("0.7020")
			f.must(t, t.Context(), benchVerb{"take", ""})
			url := serve(t, monitor.Config{Bench: f})
			ctx := tab(t, 1280, 800)
			do(t, ctx, chromedp.Navigate(url+"/bench"))
			live(t, ctx)
			n := f.State().N
			do(t, ctx, row.beside...)
			until(t, "the reading to be withdrawn", func() bool { return f.State().N > n })
			shows(t, ctx, f)
			n = f.State().N
			for _, key := range row.then {
				do(t, ctx, press(string(key)))
			}
			until(t, "the key to do something", func() bool { return f.State().N > n })
			if got := f.verbs(); !strings.HasSuffix(got, " take take "+bench.DoRetake+" "+bench.DoTake) {
				t.Errorf("the screen puts Take first, but the keys did: %s", got)
			}
		})
	}
}
