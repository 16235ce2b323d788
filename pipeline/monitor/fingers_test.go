package monitor_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/cmd/thoud/demo"
)

// fingers are the hands of a builder on the page: whatever he would ask of the service is done there, by touching what stands
// there to be seen, or by keys alone. How the bench stands he reads from the service; that the page shows the same is asked
// before every press. Nothing is asked of the service but by the page.
type fingers struct {
	t       *testing.T
	ctx     context.Context // of the tab
	service demo.Asker
	keys    bool // no touch: keys alone
	from    int  // the step from which he works on the page; before it by command, to come there soon
	most    int  // the step after which he stops; 0 the last

	presses, fields int
	hindered        map[string]int  // what stood in his way, and how often
	pictured        map[string]bool // kinds of moments of which there is a picture
}

// errEnough ends a build that is to be played a part of.
var errEnough = errors.New("enough steps were played")

// tells keeps what the page was answered, so that the builder knows it too; it changes nothing.
const tells = `{
	const plain = window.fetch;
	window.fetch = async (...what) => {
		const reply = await plain(...what);
		if (String(what[0]) === "/do") sessionStorage.told = (sessionStorage.told ?? "") + (await reply.clone().text()).trim() + "\n";
		return reply;
	};
}`

// newFingers opens a tablet, or a screen with a keyboard, on a page of the service.
func newFingers(t *testing.T, service demo.Asker, url string, keys bool, limit time.Duration) *fingers {
	t.Helper()
	f := &fingers{t: t, service: service, keys: keys, hindered: map[string]int{}, pictured: map[string]bool{}}
	f.ctx = tabFor(t, 1024, 768, limit)
	if !keys {
		do(t, f.ctx, chromedp.EmulateViewport(1024, 768, chromedp.EmulateTouch))
	}
	do(t, f.ctx, func(ctx context.Context, tg *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, tg, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: tells})
		return chromedp.Void{}, err
	})
	t.Cleanup(func() {
		if got := f.hindrances(); t.Failed() && len(got) > 0 {
			t.Logf("what hindered until then:\n%s", strings.Join(got, "\n"))
		}
	})
	do(t, f.ctx, chromedp.Navigate(url+"/"))
	live(t, f.ctx)
	return f
}

// Status is how the bench stands.
func (f *fingers) Status(ctx context.Context) (bench.Status, error) {
	st, err := f.service.Status(ctx)
	if err == nil && f.most > 0 && st.StepNo > f.most {
		return st, errEnough
	}
	return st, err
}

// Do does on the page what a verb asks for.
func (f *fingers) Do(ctx context.Context, v bench.Verb) (bench.Answer, error) {
	st, err := f.service.Status(ctx)
	if err != nil {
		return bench.Answer{}, err
	}
	if st.StepNo < f.from {
		return f.service.Do(ctx, v)
	}
	f.shown(st)
	f.look(st)
	before := len(f.told())
	switch v.Name {
	case bench.DoConfirm:
		f.confirm(v, st)
	case bench.DoNext:
		f.press("the next step", `.act [data-primary][data-do=goto], .act [data-primary][data-do=next]`)
	case bench.DoKey:
		f.enter(v.Value.String())
	case bench.DoBracket:
		f.enter(v.Goes.String() + " " + v.Stops.String())
	case bench.DoGoto:
		f.goTo(v, st)
	case bench.DoAnswer:
		f.press("the answer "+v.Choice, fmt.Sprintf(`[data-do=answer][data-item=%q][data-choice=%q]`, v.Item, v.Choice))
		f.dialog(v, before)
	default:
		f.press(v.Name, fmt.Sprintf(`[data-do=%q]`, v.Name)+about(v))
		f.dialog(v, before)
	}
	a := f.answer(before)
	if v.Name == bench.DoGoto && v.Place.Point == "" && a.OK {
		eventually(f.t, f.ctx, "the bench", `location.pathname === "/bench" && document.readyState === "complete"`)
		live(f.t, f.ctx)
	}
	if a.N > 0 {
		eventually(f.t, f.ctx, fmt.Sprintf("the page to show entry %d", a.N), fmt.Sprintf(`Number(document.querySelector("[data-n]")?.dataset.n) >= %d`, a.N))
	}
	return a, nil
}

// about narrows a selector to the thing that a verb is about.
func about(v bench.Verb) string {
	switch {
	case v.Override != nil && v.Override.What == "verdict":
		return `[data-item=verdict]`
	case v.Item != "":
		return fmt.Sprintf(`[data-item=%q]`, v.Item)
	}
	return ""
}

// told lists what the page was answered so far.
func (f *fingers) told() []string {
	f.t.Helper()
	return strings.FieldsFunc(eval[string](f.t, f.ctx, `sessionStorage.told ?? ""`), func(r rune) bool { return r == '\n' })
}

// answer waits for the answer to what was pressed; a question about the unit that was typed is agreed to.
func (f *fingers) answer(before int) bench.Answer {
	f.t.Helper()
	eventually(f.t, f.ctx, "the answer to what was pressed", fmt.Sprintf(`(sessionStorage.told ?? "").split("\n").length - 1 > %d`, before))
	all := f.told()
	var a struct {
		bench.Answer
		Ask string `json:"ask"`
	}
	if err := json.Unmarshal([]byte(all[len(all)-1]), &a); err != nil {
		f.t.Fatal(err)
	}
	if a.Ask != "" {
		f.hindered["asked about the unit that was typed"]++
		f.dialog(bench.Verb{}, mustOpen)
		return f.answer(len(all))
	}
	return a.Answer
}

// shown waits until the page shows what the builder knows.
func (f *fingers) shown(st bench.Status) {
	f.t.Helper()
	eventually(f.t, f.ctx, fmt.Sprintf("the page to show %s, entry %d", st.Place, st.N),
		fmt.Sprintf(`(() => { const e = document.querySelector("[data-n]"); return Number(e?.dataset.n) >= %d; })()`, st.N))
}

// confirm presses for what is to be confirmed, each its own press; many values of an engine on the engine's page.
func (f *fingers) confirm(v bench.Verb, st bench.Status) {
	f.t.Helper()
	if eval[bool](f.t, f.ctx, `document.querySelector(".act [data-primary][data-go='/engine']") !== null`) {
		f.press("the engine's page", `.act [data-primary][data-go="/engine"]`)
		eventually(f.t, f.ctx, "the engine's page", `location.pathname === "/engine" && document.readyState === "complete"`)
		f.fill("#initials", "JW")
		f.press("all as they stand", "[data-confirm=asked]")
		eventually(f.t, f.ctx, "the bench", `location.pathname === "/bench" && document.readyState === "complete"`)
		live(f.t, f.ctx)
		return
	}
	switch id := v.Item; {
	case id == "all" && (st.Now == bench.NowData || st.Now == bench.NowConfirm): // one after another, as the page asks for them
		f.press("confirm", `.act [data-primary][data-do=confirm]`)
	case id == "all": // out of turn: by its row
		id = st.Confirm[0]
		fallthrough
	default:
		f.press("confirm "+id, fmt.Sprintf(`[data-do=confirm][data-item=%q]`, id))
	}
}

// goTo goes to a step by the page of the steps, or to a point of the step in work at its row.
func (f *fingers) goTo(v bench.Verb, st bench.Status) {
	f.t.Helper()
	if v.Place.Point != "" && v.Place.Step == st.Step {
		f.press("go to "+v.Place.Point, fmt.Sprintf(`[data-do=goto][data-point=%q]`, v.Place.Point))
		return
	}
	if v.Place.Point != "" {
		f.t.Fatalf("%s is a point of another step: the page goes to the step first", v.Place)
	}
	f.menu("steps")
	button := fmt.Sprintf(`[data-do=goto][data-step=%q]`, v.Place.Step)
	if eval[bool](f.t, f.ctx, fmt.Sprintf(`document.querySelector(%q)?.closest("details")?.open === false`, button)) {
		f.press("its group", eval[string](f.t, f.ctx, fmt.Sprintf(`"#" + document.querySelector(%q).closest("details").id + " summary"`, button)))
	}
	f.press("the step "+v.Place.Step, button)
}

// menu goes to a page by the menu.
func (f *fingers) menu(name string) {
	f.t.Helper()
	link := fmt.Sprintf(`.bar a[href="/%s"]`, name)
	if eval[bool](f.t, f.ctx, fmt.Sprintf(`document.querySelector(%q).getClientRects().length === 0`, link)) {
		f.press("the menu", "#menu")
	}
	f.press("the page "+name, link)
	eventually(f.t, f.ctx, "the page "+name, fmt.Sprintf(`location.pathname === "/%s" && document.readyState === "complete"`, name))
	if eval[bool](f.t, f.ctx, `document.body.dataset.stream !== ""`) {
		live(f.t, f.ctx)
	}
}

// enter types a value into the box at the bench.
func (f *fingers) enter(text string) {
	f.t.Helper()
	eventually(f.t, f.ctx, "the box", `document.getElementById("entry")?.hidden === false`)
	if eval[bool](f.t, f.ctx, `document.getElementById("typed").getClientRects().length === 0`) {
		f.press("type", "[data-type]")
	}
	if f.keys {
		eventually(f.t, f.ctx, "the box to have the focus", `document.activeElement.id === "typed"`)
	} else if !eval[bool](f.t, f.ctx, `document.activeElement.id === "typed"`) {
		f.press("the box", "#typed")
	}
	f.write(text)
	if f.keys || eval[bool](f.t, f.ctx, `document.querySelector("#entry button").getClientRects().length === 0`) {
		do(f.t, f.ctx, press("\r")) // of the keyboard, or of the tablet's own
		f.presses++
		return
	}
	f.press("enter", "#entry button")
}

// write types into what has the focus.
func (f *fingers) write(text string) {
	f.t.Helper()
	do(f.t, f.ctx, func(ctx context.Context, tg *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, tg, input.InsertText, input.InsertTextParams{Text: text})
		return chromedp.Void{}, err
	})
	f.fields++
}

// fill goes to a field and types into it.
func (f *fingers) fill(selector, text string) {
	f.t.Helper()
	if f.keys {
		f.tabTo("the field", selector) // Enter in a field would send its form
	} else {
		f.press("the field "+selector, selector)
	}
	eventually(f.t, f.ctx, "the field to have the focus", fmt.Sprintf(`document.activeElement?.matches(%q) === true`, selector))
	eval[bool](f.t, f.ctx, `(document.activeElement.select?.(), true)`) // what stands there is written over
	f.write(text)
}

// mustOpen is for a press that always leads to a question.
const mustOpen = math.MaxInt32

// dialog answers the question that a press led to, where it led to one: else the page is told more than so many answers.
func (f *fingers) dialog(v bench.Verb, before int) {
	f.t.Helper()
	eventually(f.t, f.ctx, "a question or an answer", fmt.Sprintf(`document.getElementById("dialog")?.open || (sessionStorage.told ?? "").split("\n").length - 1 > %d`, before))
	if !eval[bool](f.t, f.ctx, `document.getElementById("dialog").open`) {
		return
	}
	for name, text := range map[string]string{"initials": v.Initials, "reason": v.Reason} {
		field := fmt.Sprintf("#dialog [name=%s]", name)
		if eval[bool](f.t, f.ctx, fmt.Sprintf("document.querySelector(%q) !== null", field)) {
			f.fill(field, text)
		}
	}
	f.press("do it", "#dialog button[value=ok]")
}

// stood lets a text stand as long as it must before a press counts.
func (f *fingers) stood() { time.Sleep(650 * time.Millisecond) }
