package monitor_test

import (
	"os"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/pipeline/monitor"
)

func TestShots(t *testing.T) {
	if os.Getenv("THOUD_SCREENS") == "" {
		t.Skip()
	}
	f := newFakeBench(t)
	f.firstFit()
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	said := listen(t, ctx)
	shot := func(name string) {
		for _, s := range sizes {
			if s.name == "desk" {
				continue
			}
			do(t, ctx, chromedp.EmulateViewport(s.wide, s.high))
			eval[bool](t, ctx, `new Promise(r => setTimeout(() => r(true), 150))`)
			picture(t, ctx, name+"-"+s.name)
		}
		do(t, ctx, chromedp.EmulateViewport(1920, 1080))
	}
	do(t, ctx, theme("light"), chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	shot("1-caution")
	f.show("0.1000")
	f.ready()
	f.show("0.7000")
	shot("2-instruct")
	for _, value := range []string{"0.7000", "0.7020", "0.6485", "0.6512", "0.1000"} {
		f.show(value)
		f.must(t, t.Context(), benchVerb{"take", ""})
	}
	f.show("0.6485")
	shot("3-verdict-out")
	f.show("0.6300")
	shot("4-moving")
	f.show("0.5985")
	shot("5-in")
	f.show("0.5900")
	shot("6-past")
	f.show("0.5985")
	f.must(t, t.Context(), benchVerb{"take", ""})
	f.show("0.6060")
	f.must(t, t.Context(), benchVerb{"take", ""})
	f.show("0.1000")
	f.must(t, t.Context(), benchVerb{"take", ""})
	f.show("0.5985")
	shot("7-verdict-two")
	do(t, ctx, theme("dark"))
	shot("8-verdict-dark")
	f.plug(false)
	shot("9-gone")
	t.Log(said())
}
