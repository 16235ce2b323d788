package monitor_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/pipeline/monitor"
)

// boresPlan reads two bores at many heights, each along two axes.
func boresPlan() string {
	var b strings.Builder
	b.WriteString("title = \"Bores\"\nversion = 1\ncylinders = [\"left\", \"right\"]\n[[step]]\nid = \"bores\"\ntitle = \"Bores\"\ndo = \"Read each bore.\"\nphase = \"dry\"\nkind = \"measure\"\nview = \"cylinder\"\ncapture = { mode = \"press\", role = \"indicator\" }\n")
	for _, side := range []string{"left", "right"} {
		for depth := 10; depth <= 80; depth += 10 {
			for _, axis := range []string{"thrust", "pin"} {
				fmt.Fprintf(&b, "[[step.point]]\nid = \"%s.%dmm.%s\"\ntitle = \"%s bore, %d mm down, %s axis\"\n", side, depth, axis, side, depth, axis)
			}
		}
	}
	return b.String()
}

// A reading in the middle of a pass sends what it changed: its own row, the parts of the drawing that moved, the words of the
// next point. Most of the drawing and the other rows stay where they are, and are the same after as a page opened anew shows.
func TestAReadingSendsWhatItChanged(t *testing.T) {
	f := newFakeBench(t)
	f.startBuild("17", "bores", boresPlan(), "bores")
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	events := reader(t, t.Context(), url+"/stream/bench", "")
	whole := len(next(t, events, "page").data)
	var all, rows []int
	names := map[string]bool{}
	for i := range 24 {
		f.show(fmt.Sprintf("2.8%03d", 300+i))
		f.must(t, t.Context(), benchVerb{"take", ""})
		e := next(t, events, "page")
		all = append(all, len(e.data))
		for name := range regions(t, e) {
			names[name] = true
		}
		var d struct {
			Rows map[string]map[string]string `json:"rows"`
		}
		if err := json.Unmarshal([]byte(e.data), &d); err != nil {
			t.Fatal(err)
		}
		rows = append(rows, len(d.Rows["points"]))
	}
	slices.Sort(all)
	slices.Sort(rows) // on a busy machine two readings may come in one message
	if n := rows[len(rows)/2]; n != 2 {
		t.Errorf("a reading sent %d rows of the points in the middle: want its own and the next", n)
	}
	t.Logf("a new page %d bytes; a reading %d in the middle, %d at most; whole regions: %v", whole, all[len(all)/2], all[len(all)-1], names)
	if most := 6000; all[len(all)/2] > most {
		t.Errorf("a reading sent %d bytes in the middle, want %d at most", all[len(all)/2], most)
	}
	if names["scene"] || names["points"] {
		t.Errorf("a reading sent a whole region: %v; want parts of the drawing, and rows", names)
	}
	eventually(t, ctx, "the last reading", `document.querySelectorAll("[data-r=points] tr").length > 0 && said("[data-r=points]").includes("2.8323 in")`)
	drawn := `document.querySelector(".scene-box").outerHTML.replace(/\s+/g, " ").replace(/<tspan data-live="">[^<]*/g, "")`
	before := eval[string](t, ctx, drawn)
	if n := eval[int](t, ctx, `[...document.querySelectorAll(".scene-box svg *")].filter((e) => !(e instanceof SVGElement)).length`); n > 0 {
		t.Errorf("%d parts that were put into the drawing are no parts of a drawing", n)
	}
	picture(t, ctx, "bores-by-parts")
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	if anew := eval[string](t, ctx, drawn); anew != before {
		t.Errorf("the drawing put together by its parts\n%s\nis another than that of a new page\n%s", before, anew)
	}
}
