package monitor_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/pipeline/monitor"
)

// A step is left out and another added on the page alone; hours are told and a part fitted there too.
func TestAPlanIsChangedOnThePage(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	ctx := tab(t, 1280, 800)
	url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}})
	do(t, ctx, chromedp.Navigate(url+"/shape"))
	fill := func(form string, values map[string]string) {
		t.Helper()
		// A page is loaded again after what was done; what is seen of it first may stand above a form that is still to come.
		eventually(t, ctx, "the form "+form, `document.readyState === "complete" && document.querySelector('`+form+`') !== null`)
		for name, v := range values {
			eval[bool](t, ctx, `(() => { const f = document.querySelector('`+form+`'); f.elements.namedItem("`+name+`").value = `+"`"+v+"`"+`; return true; })()`)
		}
		eval[bool](t, ctx, `(() => { document.querySelector('`+form+`').requestSubmit(); return true; })()`)
	}
	fill(`form:has(input[value="leave-out"])`, map[string]string{"item": "crank-runout", "reason": "The crank is new."})
	eventually(t, ctx, "the step left out", `document.body.innerText.includes("The crank is new.")`)
	b, _ := f.State().Build("17")
	if s, _ := b.Plan.Step("crank-runout"); s.LeftOut != "The crank is new." {
		t.Errorf("left out because %q", s.LeftOut)
	}
	fill(`form:has(input[value="add"])`, map[string]string{"title": "Oil-pump drive", "role": "indicator", "points": "drive, spindle", "most": "0.008 in", "reason": "New pump."})
	eventually(t, ctx, "the step added", `document.body.innerText.includes("oil-pump-drive")`)
	b, _ = f.State().Build("17")
	if s, ok := b.Plan.Step("oil-pump-drive"); !ok || len(s.Points) != 2 {
		t.Errorf("added: %v", s.Points)
	}
	do(t, ctx, chromedp.Navigate(url+"/due"))
	fill(`form[data-ask="hours"]`, map[string]string{"hours": "12.5"})
	eventually(t, ctx, "the hours", `document.body.innerText.includes("12.5 h")`)
	fill(`form[data-ask="part-fit"]`, map[string]string{"mark": "P14", "what": "left piston", "every": "20"})
	eventually(t, ctx, "the part", `document.body.innerText.includes("in 20 h of running")`)
	if p, ok := f.State().PartOf("P14"); !ok || p.Life != 20 {
		t.Errorf("fitted: %+v", p)
	}
	if said := eval[string](t, ctx, `document.body.innerText`); strings.Contains(said, "not understood") {
		t.Error(said)
	}
}

// A plan is cut to a new engine on the page, and a build of it is started there.
func TestANewEngineOnThePageAlone(t *testing.T) {
	f := newFakeBench(t)
	own := fakePlans{}
	ctx := tab(t, 1280, 800)
	url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}, Plans: own})
	do(t, ctx, chromedp.Navigate(url+"/plans?from=first-fit"),
		chromedp.SetValue(`form[data-plan="cut"] [name="name"]`, "my-twin"), chromedp.SetValue(`form[data-plan="cut"] [name="title"]`, "My trials twin"),
		chromedp.Click(`form[data-plan="cut"] button`))
	eventually(t, ctx, "the plan kept", `document.querySelector("tbody")?.innerText.includes("my-twin")`)
	if !strings.Contains(string(own["my-twin"]), `title = "My trials twin"`) {
		t.Errorf("kept: %.120s", own["my-twin"])
	}
	do(t, ctx, chromedp.Navigate(url+"/builds"), chromedp.SetValue(`[name="job"]`, "31"), chromedp.SetValue(`[name="plan"]`, "my-twin"), chromedp.Click(`form[data-ask="build-start"] button`))
	eventually(t, ctx, "the bench", `location.pathname == "/bench"`)
	if b, ok := f.State().Build("31"); !ok || b.Plan.Title != "My trials twin" {
		t.Errorf("started: %v", ok)
	}
}
