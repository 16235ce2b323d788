package monitor_test

import (
	"context"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// press types a key at the page.
func press(key string) step { return chromedp.KeyEvent(key) }

// TestStepByKeyboard walks through the first pass of the guide blocks, and the adjustment after it, by keys alone.
func TestStepByKeyboard(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.1000")
	ctx := tab(t, 1920, 1080)
	do(t, ctx, theme("light"), chromedp.Navigate(serve(t, monitor.Config{Bench: f})+"/bench"))
	live(t, ctx)
	picture(t, ctx, "bench-caution")
	now := func(words string) string {
		return `said("[data-r=say]").includes(` + "`" + words + "`" + `)`
	}
	eventually(t, ctx, "the cautions", now("turn it by hand, stop at the first resistance"))
	stood(t, ctx)
	do(t, ctx, press("k"))
	eventually(t, ctx, "data to confirm", now("Running clearance of a guide block"))
	picture(t, ctx, "bench-confirm")
	for range len(f.unconfirmed()) {
		n := f.State().N
		stood(t, ctx)
		do(t, ctx, press("c"))
		until(t, "a confirmation", func() bool { return f.State().N > n })
		shows(t, ctx, f)
	}
	eventually(t, ctx, "the datum", now("joint face; zero it"))
	picture(t, ctx, "bench-zero")
	do(t, ctx, press("z"))
	eventually(t, ctx, "the first point", now("left block standing proud"))
	for i, value := range []string{"0.7000", "0.7020", "0.6485", "0.6512", "0.1000"} {
		f.show(value)
		if i == 0 {
			eventually(t, ctx, "the live value", `said("[data-r=say] .hero") === "0.6000 in"`)
		}
		picture(t, ctx, "bench-read")
		before := f.State().Place
		do(t, ctx, press(" "))
		moved(t, ctx, f, before)
	}
	eventually(t, ctx, "the adjustment", `said(".order.hero") === "50 thou"`)
	eventually(t, ctx, "its words", `said(".words") === "Away from the cam"`)
	f.show("0.6300")
	picture(t, ctx, "bench-move")
	eventually(t, ctx, "what is left", `said("#moving .hero") === "0.0315 in" && said("[data-moving-words]") === "to go, away from the cam"`)
	picture(t, ctx, "bench-move")
}

// stood lets a confirmation's text stand for the moment that it must have stood before a press counts.
func stood(t *testing.T, ctx context.Context) {
	t.Helper()
	eval[bool](t, ctx, `new Promise((done) => setTimeout(() => done(true), 650))`)
}

// moved waits until the bench has left a place and the page shows where it is now.
func moved(t *testing.T, ctx context.Context, f *fakeBench, from bench.Place) {
	t.Helper()
	deadline := time.Now().Add(10 * time.Second)
	for f.State().Place == from {
		if time.Now().After(deadline) {
			t.Fatalf("the bench still stands at %s; asked so far: %s", from, f.verbs())
		}
		time.Sleep(5 * time.Millisecond)
	}
	shows(t, ctx, f)
}
