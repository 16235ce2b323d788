package monitor_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/pipeline/monitor"
)

// TestRowsWithoutRoomAreCounted puts more rows into a verdict than the window has room for: those that do not fit are left out and
// counted, the first stays, and nothing stands on the actions. In a larger window they are shown again.
func TestRowsWithoutRoomAreCounted(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	firstPass(t, f)
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	f.show("0.6485")
	eventually(t, ctx, "a verdict", `said(".siderow") !== ""`)
	eval[bool](t, ctx, `(() => { const sides = document.querySelector(".sides"), row = sides.lastElementChild;
		for (let i = 0; i < 8; i++) sides.append(row.cloneNode(true));
		dispatchEvent(new Event("resize")); return true })()`)
	eventually(t, ctx, "rows left out and counted", `(() => {
		const rows = [...document.querySelectorAll(".siderow")], out = rows.filter((r) => r.hidden).length;
		const act = document.querySelector(".act").getBoundingClientRect().top;
		return !rows[0].hidden && out > 0 && said("[data-more]") === "and " + out + " more, all listed below" &&
			rows.every((r) => r.hidden || r.getBoundingClientRect().bottom <= act + 1) })()`)
	// The order that comes first is never left out, wherever it stands: without it the verdict says only that something is out.
	eval[bool](t, ctx, `(() => { const first = document.querySelector(".siderow.first"); first.parentElement.append(first); dispatchEvent(new Event("resize")); return true })()`)
	eventually(t, ctx, "the order that comes first", `!document.querySelector(".siderow.first").hidden && document.querySelector(".siderow.first").nextElementSibling === null && [...document.querySelectorAll(".siderow")].some((r) => r.hidden)`)
	do(t, ctx, chromedp.EmulateViewport(1920, 6000))
	eventually(t, ctx, "all rows in a high window", `![...document.querySelectorAll(".siderow")].some((r) => r.hidden) && said("[data-more]") === ""`)
}

// TestManyActionsStandBesideOneAnother: a long name on the large button and three more beside it leave the box for typing free.
func TestManyActionsStandBesideOneAnother(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.1000")
	f.ready()
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	eventually(t, ctx, "a box for typing", `document.getElementById("entry").getClientRects().length > 0`)
	eval[bool](t, ctx, `(() => { const all = document.querySelector(".buttons"), second = all.querySelector(".second");
		all.querySelector(".primary").firstChild.textContent = "Begin the turn";
		while (all.querySelectorAll(".second").length < 4) all.append(second.cloneNode(true));
		dispatchEvent(new Event("resize")); return true })()`)
	eventually(t, ctx, "room for each", `(() => { const box = document.getElementById("entry").getBoundingClientRect();
		return [...document.querySelectorAll(".buttons button")].every((b) => b.getBoundingClientRect().right <= box.left || b.getBoundingClientRect().bottom <= box.top) })()`)
}
