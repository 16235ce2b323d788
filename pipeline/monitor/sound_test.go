package monitor_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// TestSounds listens at the page's own player: what was taken, the verdict, the ticks of the approach and the spoken
// adjustment.
func TestSounds(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.1000")
	f.ready()
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	eventually(t, ctx, "the page to ask for a gesture", `!document.getElementById("mute").hidden`)
	eval[bool](t, ctx, `import("/static/sound.js").then(({ player }) => { window.played = []; window.spoken = []; player.play = (n) => { played.push(n); return true; }; player.speak = (w) => spoken.push(w); localStorage.setItem("speech", "on"); return true; })`)
	for _, value := range []string{"0.7000", "0.7020", "0.6485", "0.6512", "0.1000"} {
		f.show(value)
		f.must(t, t.Context(), benchVerb{"take", ""})
	}
	eventually(t, ctx, "the tones", `played.filter(n => n === "taken").length === 5 && played.includes("out")`)
	eventually(t, ctx, "the adjustment to be spoken", `spoken.length > 0 && spoken.at(-1) === "Left: 50 thou away from the cam"`)
	for _, row := range []struct{ value, sound string }{{"0.6300", "tick"}, {"0.6200", "tick"}, {"0.5985", "steady"}, {"0.5900", "past"}} {
		eval[bool](t, ctx, `(() => { played.length = 0; return true; })()`)
		f.show(row.value)
		eventually(t, ctx, row.sound+" at "+row.value, `played.includes("`+row.sound+`")`)
	}
	do(t, ctx, chromedp.Click(chromedp.CSS("#settings")), chromedp.Click(chromedp.CSS("#set-tones")), chromedp.Click(chromedp.CSS("#set-ticks")))
	eval[bool](t, ctx, `(() => { played.length = 0; return true; })()`)
	f.notice(bench.Notice{Tone: "fault", Words: "a fault that is shown"})
	eventually(t, ctx, "the words without the tone", `said("#say").includes("a fault that is shown")`)
	if n := eval[int](t, ctx, `played.length`); n != 0 {
		t.Errorf("%d sounds with the sounds switched off", n)
	}
}

// TestPedal presses the pedal's key, then chooses another key for it.
func TestPedal(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.1000")
	f.confirmed()
	url := serve(t, monitor.Config{Bench: f, Pedal: "F9"})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	step := func(key string) {
		t.Helper()
		before := f.State().N
		eval[bool](t, ctx, `dispatchEvent(new KeyboardEvent("keydown", { key: "`+key+`", bubbles: true }))`)
		until(t, "the pedal "+key, func() bool { return f.State().N > before })
		shows(t, ctx, f)
		f.mu.Lock()
		defer f.mu.Unlock()
		if last := f.asked[len(f.asked)-1]; last.By != "pedal" {
			t.Errorf("the pedal's %s is by %q", last.Name, last.By)
		}
	}
	step("F9") // zero
	f.show("0.7000")
	step("F9") // take
	do(t, ctx, chromedp.Click(chromedp.CSS("#settings")), chromedp.SendKeys(chromedp.CSS("#set-pedal"), "Page Down"), press("\x1b"))
	eventually(t, ctx, "the choice to be kept", `localStorage.getItem("pedal") === "PageDown"`)
	step("PageDown")
	if got := f.verbs(); got != "acknowledge confirm confirm confirm confirm zero take take" {
		t.Errorf("asked: %s", got)
	}
}
