package monitor_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// unlabelled lists what is wrong with the rows of a table that stand as blocks on a narrow screen: a name that runs into its cell,
// and a figure or a word without a name. A cell with a button or a link says itself what it is.
const unlabelled = `(() => {
	const brush = document.createElement("canvas").getContext("2d");
	return [...document.querySelectorAll(".stacks tbody th, .stacks tbody td")].filter((e) => e.getClientRects().length > 0).flatMap((e) => {
		const name = getComputedStyle(e, "::before"), look = getComputedStyle(e), words = e.innerText.trim();
		if (name.content === "none") return words && !e.querySelector("button, a") && !e.closest(".ledger") ? ["without a name: " + words] : [];
		brush.font = name.fontWeight + " " + name.fontSize + " " + name.fontFamily;
		const over = parseFloat(name.left) + brush.measureText(e.dataset.label).width - parseFloat(look.paddingLeft);
		return over > 0 ? [e.dataset.label + " runs " + Math.round(over) + " px into " + words] : [];
	});
})()`

// TestNamesOfCellsStandFree: on a phone every cell of a table has its name before it, and no name runs into a figure.
func TestNamesOfCellsStandFree(t *testing.T) {
	_, url := everyPage(t)
	hub, _, _ := strings.Cut(hubsPages(t), " ")
	ctx := tab(t, 390, 844)
	for _, page := range []string{url + "/history?engine=Heron+650+no.+4&dimension=deck", hub + "/history?engine=Heron+650+no.+4&dimension=deck", url + "/builds", url + "/due",
		url + "/plans?from=first-fit", url + "/find", url + "/engine", url + "/ledger"} {
		for _, size := range [][2]int64{{390, 844}, {320, 640}} {
			do(t, ctx, chromedp.EmulateViewport(size[0], size[1]), chromedp.Navigate(page))
			for _, fault := range eval[[]string](t, ctx, unlabelled) {
				t.Errorf("%s at %d: %s", page, size[0], fault)
			}
		}
	}
}

// TestPicturesOfResultsCanBeReadOnAPhone: no letter in a picture is lower than eight pixels there, and none is cut off at its edge.
func TestPicturesOfResultsCanBeReadOnAPhone(t *testing.T) {
	_, url := everyPage(t)
	ctx := tab(t, 390, 844)
	do(t, ctx, chromedp.Navigate(url+"/history?engine=Heron+650+no.+4&dimension=deck"))
	if got := eval[string](t, ctx, `(() => { const svg = [...document.querySelectorAll("figure svg")].find((e) => e.getClientRects().length > 0), box = svg.getBoundingClientRect(), scale = box.width / svg.viewBox.baseVal.width;
		return [...svg.querySelectorAll("text")].map((e) => ({ words: e.textContent, high: parseFloat(getComputedStyle(e).fontSize) * scale, at: e.getBoundingClientRect() }))
			.filter((e) => e.high < 8 || e.at.left < box.left - 1 || e.at.right > box.right + 1).map((e) => e.words + " is " + e.high.toFixed(1) + " px high, from " + (e.at.left - box.left).toFixed(0) + " to " + (e.at.right - box.left).toFixed(0) + " of " + box.width.toFixed(0)).join("; "); })()`); got != "" {
		t.Error(got)
	}
	picture(t, ctx, "history-phone")
}
