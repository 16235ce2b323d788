package monitor_test

import (
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/pipeline/monitor"
)

// TestARefusalIsNotCut: what a refusal says last is what to do about it; none of it is cut on any screen, and on the working page it
// covers nothing.
func TestARefusalIsNotCut(t *testing.T) {
	const words = `a gauge "scale-of-the-back-room-1" is registered already, at /dev/serial/by-id/usb-an_adapter_of_the_shop-if00-port0: remove it first, or take another name`
	f := newFakeBench(t)
	f.firstFit()
	firstPass(t, f)
	url := serve(t, monitor.Config{Bench: f, Finder: fakeFinder{}})
	ctx := tab(t, 1920, 1080)
	for _, page := range []struct{ name, press string }{{"find", "#register button.primary"}, {"bench", ".act [data-primary]"}} {
		for _, size := range [][2]int64{{1920, 1080}, {1024, 768}, {820, 1180}, {390, 844}, {320, 640}} {
			do(t, ctx, chromedp.EmulateViewport(size[0], size[1]), chromedp.Navigate(url+"/"+page.name))
			if page.name == "bench" {
				live(t, ctx)
			}
			f.mu.Lock()
			f.refuse = words
			f.mu.Unlock()
			eval[bool](t, ctx, fmt.Sprintf(`(() => { const name = document.querySelector("#register [name=name]"); if (name) name.value = "scale-1"; document.querySelector(%q).click(); return true; })()`, page.press))
			eventually(t, ctx, "the refusal", `document.getElementById("say").textContent.includes("take another name")`)
			picture(t, ctx, fmt.Sprintf("refused-%s-%d", page.name, size[0]))
			if got := eval[string](t, ctx, `(() => { const e = document.getElementById("say"); return e.scrollHeight > e.clientHeight + 1 || e.scrollWidth > e.clientWidth + 1 ? e.clientWidth + " by " + e.clientHeight + " px for " + e.scrollWidth + " by " + e.scrollHeight : ""; })()`); got != "" {
				t.Errorf("%s at %d by %d: the refusal is cut: %s", page.name, size[0], size[1], got)
			}
			if over := eval[float64](t, ctx, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
				t.Errorf("%s at %d by %d: the page is %v px wider than the window", page.name, size[0], size[1], over)
			}
			if page.name == "bench" {
				if covered := eval[string](t, ctx, overlaps); covered != "" {
					t.Errorf("bench at %d by %d: %s", size[0], size[1], covered)
				}
			}
		}
	}
}
