package monitor_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
)

// target is something on the page that can be pressed, as it is seen.
type target struct {
	X, Y, Wide, High float64
	Words            string
	Key              string
	Slow, Primary    bool
	InSight          bool // without scrolling
	Struck           bool // a touch in its middle strikes it, and nothing that covers it
	Cut              bool // its text does not fit
}

const aim = `(selector) => {
	const e = [...document.querySelectorAll(selector)].find((e) => e.getClientRects().length > 0);
	if (!e) return null;
	let r = e.getBoundingClientRect();
	const inSight = r.top >= -0.5 && r.left >= -0.5 && r.bottom <= innerHeight + 0.5 && r.right <= innerWidth + 0.5;
	if (!inSight) {
		e.scrollIntoView({ block: "center", behavior: "instant" });
		r = e.getBoundingClientRect();
	}
	const x = r.left + r.width / 2, y = r.top + r.height / 2;
	const struck = document.elementFromPoint(x, y);
	return { X: x, Y: y, Wide: r.width, High: r.height, Words: e.innerText ?? "", Key: e.dataset.key ?? "", Slow: e.dataset.slow !== undefined,
		Primary: e.dataset.primary !== undefined, InSight: inSight, Struck: struck !== null && (e.contains(struck) || struck.contains(e) && struck.tagName === "LABEL"), Cut: e.scrollWidth > e.clientWidth + 1 };
}`

// leastTouch is how large something must be for a finger, in CSS px (WCAG 2.2, success criterion 2.5.8 asks for 24; a thumb
// in a shop wants more).
const leastTouch = 24

// mostWait is how long a builder waits for what he wants to press: a time that has run out is told within twenty seconds.
const mostWait = 30 * time.Second

// press presses what a selector finds: by a touch at its middle, or by the key that is printed on it, or by Tab and Enter.
func (f *fingers) press(what, selector string) {
	f.t.Helper()
	var at *target
	find := fmt.Sprintf("(%s)(%q)", aim, selector)
	for end := time.Now().Add(mostWait); ; time.Sleep(20 * time.Millisecond) {
		at = eval[*target](f.t, f.ctx, find)
		if at != nil && at.Struck {
			break
		}
		if time.Now().After(end) {
			f.shot("in-vain")
			words := eval[string](f.t, f.ctx, `document.body.innerText`)
			if at != nil {
				f.t.Fatalf("%s (%s) is covered\npage:\n%s", what, selector, words)
			}
			f.t.Fatalf("%s (%s) is nowhere on the page\npage:\n%s", what, selector, words)
		}
	}
	if at.Primary && !at.InSight {
		f.hindered[fmt.Sprintf("scrolled to %q, which is first, at %s", at.Words, eval[string](f.t, f.ctx, `document.querySelector("[data-r=head]")?.textContent ?? ""`))]++
		f.shot("scrolled")
	}
	if at.Cut {
		f.hindered[fmt.Sprintf("the text of %q is cut", at.Words)]++
	}
	if !f.keys && min(at.Wide, at.High) < leastTouch {
		f.hindered[fmt.Sprintf("%q is %.0f by %.0f px: small for a finger", what, at.Wide, at.High)]++
	}
	if at.Slow {
		f.stood()
		if again := eval[*target](f.t, f.ctx, find); again != nil {
			at = again
		}
	}
	f.presses++
	switch {
	case !f.keys:
		do(f.t, f.ctx, chromedp.TapXY(at.X, at.Y))
	case at.Primary:
		do(f.t, f.ctx, press(" "))
	case at.Key != "":
		do(f.t, f.ctx, press(at.Key))
	default:
		f.tabTo(what, selector)
		do(f.t, f.ctx, press("\r"))
	}
}

// tabTo goes with Tab to what a selector finds.
func (f *fingers) tabTo(what, selector string) {
	f.t.Helper()
	reached := fmt.Sprintf("document.activeElement?.matches(%q) === true", selector)
	for range 300 {
		if eval[bool](f.t, f.ctx, reached) {
			return
		}
		do(f.t, f.ctx, press("\t"))
	}
	f.t.Fatalf("%s (%s) is not reached by Tab", what, selector)
}

// spills lists texts of the bench that do not fit where they stand.
const spills = `[...document.querySelectorAll("#bench p:not(.unseen), #bench li, #bench .place, #bench .fig, #bench .word, .act button, .act label")]
	.filter((e) => e.getClientRects().length > 0 && getComputedStyle(e).visibility !== "hidden")
	.filter((e) => { const r = e.getBoundingClientRect(); const act = document.querySelector(".act").getBoundingClientRect(); return e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).overflow !== "visible" || r.right > innerWidth + 1 || !e.closest(".act") && e.closest(".say-box") && r.bottom > act.top + 1; })
	.map((e) => e.innerText.trim().slice(0, 80))`

// look looks the page over, once a kind of moment: no text is cut, and a picture is made.
func (f *fingers) look(st bench.Status) {
	f.t.Helper()
	face := eval[string](f.t, f.ctx, `document.querySelector("[data-face]")?.dataset.face ?? ""`)
	mode := ""
	if st.Reading != nil && st.Now == bench.NowReading {
		mode = string(st.Reading.Mode)
	}
	kind := fmt.Sprintf("%02d-%s-%s-%s-%s", st.StepNo, st.Step, st.Now, mode, face)
	if f.pictured[kind] {
		return
	}
	f.pictured[kind] = true
	for _, words := range eval[[]string](f.t, f.ctx, spills) {
		f.hindered[fmt.Sprintf("%s: %q does not fit", st.Step, words)]++
	}
	f.shot(kind)
}

// shot writes a picture into the folder that is named for them.
func (f *fingers) shot(name string) {
	f.t.Helper()
	dir := os.Getenv("THOUD_SCREENS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(f.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		f.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		f.t.Fatal(err)
	}
}

// hindrances lists what stood in the builder's way.
func (f *fingers) hindrances() []string {
	var out []string
	for what, n := range f.hindered {
		out = append(out, fmt.Sprintf("%d× %s", n, what))
	}
	slices.Sort(out)
	return out
}
