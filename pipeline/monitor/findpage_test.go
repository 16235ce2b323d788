package monitor_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// TestAGaugeThatIsTypedIsCheckedInWords: the page that checks a gauge calls it by words, promises no value of one that sends none,
// and names a unit only where there is one.
func TestAGaugeThatIsTypedIsCheckedInWords(t *testing.T) {
	f := newFakeBench(t)
	for _, g := range []bench.Gauge{{Name: "wheel-1", Role: "wheel", Resolution: sized(t, "0.5 deg")}, {Name: "leakage-1", Role: "leakage", Resolution: sized(t, "0.5")}} {
		g.Known, g.Sends, g.Sense = bench.KnownKeyed, bench.SendsKey, 1
		f.mustAdd(bench.Entry{Kind: bench.GaugeAdded, Gauge: &g})
	}
	url := serve(t, monitor.Config{Bench: f})
	for _, row := range []struct {
		gauge      string
		want, none []string
	}{
		{"wheel-1", []string{"Degree wheel, read by eye", "Typed by hand.", "<label>Typed, with Enter", "A number without a unit counts as deg."}, []string{">wheel<", "data-value", "Or typed"}},
		{"leakage-1", []string{"Leak-down gauge, in percent", "Typed by hand."}, []string{">leakage<", "data-value", "A number without a unit"}},
		{dialName, []string{"Dial or digital indicator", "data-value", "<label>Or typed, with Enter", `A number without a unit counts as <span class="mm">mm</span><span class="inch">in</span>.`}, []string{">indicator<", "Typed by hand."}},
	} {
		body := get(t, url+"/check?gauge="+row.gauge)
		for _, want := range row.want {
			if !strings.Contains(body, want) {
				t.Errorf("%s: the page lacks %q", row.gauge, want)
			}
		}
		for _, none := range row.none {
			if strings.Contains(body, none) {
				t.Errorf("%s: the page says %q", row.gauge, none)
			}
		}
	}
}

func sized(t *testing.T, text string) quantity.Value {
	t.Helper()
	v, err := quantity.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestLookingForAGaugeOnAPhone: nothing on the page that registers a gauge is beside the screen, and of what was heard in a lesson
// nothing stands on anything else. A port that a gauge has is called so, and once the search is over no bar goes on filling.
func TestLookingForAGaugeOnAPhone(t *testing.T) {
	f := newFakeBench(t)
	url := serve(t, monitor.Config{Bench: f, Finder: fakeFinder{}, Teacher: &fakeTeacher{heard: 1}})
	ctx := tab(t, 390, 844)
	do(t, ctx, chromedp.Navigate(url+"/find"))
	if eval[bool](t, ctx, `(document.querySelector("#teach").open = true, document.getElementById("teach-value").getClientRects().length > 0)`) {
		t.Error("what the display shows is asked for before the lesson has begun")
	}
	eval[bool](t, ctx, `(document.querySelector("#teach-line [name=name]").value = "old-dial", document.querySelector("#teach-line button").click(), true)`)
	for i, value := range []string{"0.00 mm", "12.34 mm", "-12.34 mm"} {
		eventually(t, ctx, "a value to be asked for", fmt.Sprintf(`document.querySelectorAll("#teach-list li").length === %d && document.getElementById("teach-value").getClientRects().length > 0`, i))
		eval[bool](t, ctx, `(document.querySelector("#teach-value [name=shown]").value = "`+value+`", document.getElementById("teach-listen").click(), true)`)
	}
	eventually(t, ctx, "three values", `document.querySelectorAll("#teach-list li").length === 3`)
	picture(t, ctx, "teach-phone")
	if got := eval[string](t, ctx, `(() => { const boxes = [...document.querySelectorAll("#teach-list li")].map((li) => { const all = document.createRange(); all.selectNodeContents(li); return all.getBoundingClientRect(); });
		const clash = boxes.flatMap((a, i) => boxes.slice(i + 1).filter((b) => a.left < b.right + 20 && b.left < a.right + 20 && a.top < b.bottom && b.top < a.bottom));
		const wide = [...document.querySelectorAll(".scroll, #teach, #register")].filter((e) => e.scrollWidth > e.clientWidth + 1).map((e) => e.tagName + " is " + (e.scrollWidth - e.clientWidth) + " px too wide");
		return [...wide, ...clash.map(() => "what was heard stands on what was heard before")].join(", "); })()`); got != "" {
		t.Error(got)
	}
	eval[bool](t, ctx, `(document.querySelector("#register [name=port]").value = "/dev/pts/7", document.querySelector("#register [data-identify]").click(), true)`)
	eventually(t, ctx, "whose port it is", `said("#work-words") === "/dev/pts/7 is the port of dial-1, which is registered: remove it first" && document.getElementById("work-progress").getClientRects().length === 0`)
	eval[bool](t, ctx, `(document.querySelector("#register [name=port]").value = "/dev/ttyUSB3", document.querySelector("#register [data-identify]").click(), true)`)
	eventually(t, ctx, "the gauge found", `said("#work-words") === "Found: text. Give it a name and register it." && document.getElementById("work-progress").getClientRects().length === 0`)
}

// TestTheRingCoversNoName: the ring around the field that is typed into leaves the name above it free.
func TestTheRingCoversNoName(t *testing.T) {
	f := newFakeBench(t)
	url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}, Finder: fakeFinder{}, Plans: fakePlans{}})
	ctx := tab(t, 390, 844)
	for _, page := range []string{"find", "check?gauge=" + dialName, "builds", "plans?from=first-fit"} {
		for _, size := range [][2]int64{{390, 844}, {1024, 768}, {1920, 1080}} {
			do(t, ctx, chromedp.EmulateViewport(size[0], size[1]), chromedp.Navigate(url+"/"+page))
			if covered := eval[string](t, ctx, `[...document.querySelectorAll("main label")].flatMap((label) => {
				const box = label.querySelector("input:not([type=checkbox]):not([type=file])"), text = label.firstChild;
				if (!box || text?.nodeType !== Node.TEXT_NODE || box.getClientRects().length === 0) return [];
				const name = document.createRange();
				name.selectNodeContents(text);
				const above = name.getBoundingClientRect(), at = box.getBoundingClientRect();
				return above.bottom <= at.top + 8 && at.top - 7 < above.bottom - 1 ? [text.textContent.trim() + ": " + (above.bottom - at.top + 7).toFixed(1) + " px"] : [];
			}).join("; ")`); covered != "" {
				t.Errorf("%s at %d by %d: the ring stands on %s", page, size[0], size[1], covered)
			}
		}
	}
}
