package monitor_test

import (
	"context"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"thoud/capture/bench"
	"thoud/pipeline"
	"thoud/pipeline/monitor"
)

// fakeForesight computes what would come as the service does, from the fake bench's scene.
type fakeForesight struct{ f *fakeBench }

func (s fakeForesight) WhatIf(_ context.Context, job string, texts []string, sure bool) (bench.Preview, error) {
	sup, err := bench.Suppose(s.f.Scene(), job, texts, sure)
	if err != nil {
		return bench.Preview{}, err
	}
	p, _ := pipeline.WhatIf(s.f.Scene(), sup.Entries)
	p.Job, p.Changes, p.Loses, p.Keeps = job, sup.Changes, sup.Loses, len(sup.Keep) > 0
	return p, nil
}

func (s fakeForesight) Before(_ context.Context, v bench.Verb) (bench.Preview, error) {
	d, err := bench.Decide(s.f.Scene(), v)
	if err != nil {
		return bench.Preview{}, err
	}
	p, _ := pipeline.WhatIf(s.f.Scene(), d.Entries)
	p.Engine, p.Changes, p.Keeps = v.Engine.Engine, bench.ChangesOf(s.f.Scene(), v), true
	return p, nil
}

// The page of an engine: what is asked is confirmed with one press; what a changed value brings is shown before it is
// kept, and keeping it is one press more; a reading is supposed and never kept; nothing else changes anything.
func TestEnginePage(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	record := func() *bench.Engine { g, _ := f.State().Record("Heron 650 no. 4"); return g }
	url := serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}, Foresight: fakeForesight{f}})
	ctx := tab(t, 1920, 1080)
	said := listen(t, ctx)
	wait := func(script string) {
		t.Helper()
		eventually(t, ctx, "the page of the engine", "Boolean("+script+")")
	}
	do(t, ctx, theme("light"), chromedp.Navigate(url+"/engine"))
	picture(t, ctx, "engine-1-asked")
	wait(`document.querySelector('[data-confirm=asked]')`)
	eval[bool](t, ctx, `(document.querySelector('[data-confirm=asked]').click(), true)`)
	wait(`location.pathname === "/bench"`)
	if v, ok := record().Value("runout_most"); !ok || v.Open {
		t.Fatal("what was confirmed is not in the record")
	}
	if left := f.unconfirmed(); len(left) > 0 {
		t.Errorf("the bench still asks for %d values", len(left))
	}
	firstPass(t, f)
	do(t, ctx, chromedp.Navigate(url+"/engine"))

	type2 := func(name, value string) {
		t.Helper()
		eval[bool](t, ctx, `(() => { const v = document.querySelector('[name=`+name+`]'); v.value = "`+value+`"; v.dispatchEvent(new Event("input", { bubbles: true })); return true; })()`)
	}
	type2("guide_clearance", "0.040 N")
	eval[bool](t, ctx, `(document.querySelector('#look').click(), true)`)
	wait(`document.querySelector('#preview').innerText.includes("is a length")`)
	type2("guide_clearance", "0.040 in")
	do(t, ctx, chromedp.EmulateViewport(390, 844))
	eval[bool](t, ctx, `(document.querySelector('[name=guide_clearance]').scrollIntoView({ block: "center" }), true)`)
	wait(`(() => { const r = document.querySelector("#enginebar button").getBoundingClientRect(); return r.height > 0 && r.top > 0 && r.bottom <= innerHeight; })()`)
	picture(t, ctx, "engine-2-changed-phone")
	do(t, ctx, chromedp.EmulateViewport(1920, 1080))
	entries := f.State().N
	eval[bool](t, ctx, `(document.querySelector('#look').click(), true)`)
	wait(`!document.querySelector('#keep-row').hidden`)
	shown := strings.ReplaceAll(eval[string](t, ctx, `document.querySelector("#preview").innerText`), "\u00a0", " ")
	for _, want := range []string{"0.050 in → 0.040 in", "Move the block 40 thou", "Move the block 50 thou"} {
		if !strings.Contains(shown, want) {
			t.Errorf("the preview lacks %q: %s", want, shown)
		}
	}
	for _, size := range sizes {
		do(t, ctx, chromedp.EmulateViewport(size.wide, size.high))
		eval[bool](t, ctx, `new Promise(r => setTimeout(() => r(true), 150))`)
		eval[bool](t, ctx, `(document.querySelector('#preview').scrollIntoView({ block: "center" }), true)`)
		picture(t, ctx, "engine-2-preview-"+size.name)
	}
	do(t, ctx, chromedp.EmulateViewport(1920, 1080), theme("dark"))
	picture(t, ctx, "engine-3-dark")
	if f.State().N != entries {
		t.Error("looking made an entry")
	}
	eval[bool](t, ctx, `(document.querySelector('#keep').click(), true)`)
	wait(`document.readyState === "complete" && document.querySelector('[name=guide_clearance]')?.dataset.was === "0.040 in"`)
	if v, _ := record().Value("guide_clearance"); v.Words() != "0.040 in" {
		t.Errorf("kept: %s", v.Words())
	}

	// A reading is only supposed.
	eval[bool](t, ctx, `(() => { const r = document.querySelector('#reading'); r.value = "guide-clearance/left.contact"; r.dispatchEvent(new Event("change", { bubbles: true }));
		document.querySelector('#reading-value').value = "0.5000 in"; document.querySelector('#look').click(); return true; })()`)
	wait(`document.querySelector('#preview').innerText.includes("a reading is read")`)
	if !eval[bool](t, ctx, `document.querySelector('#keep-row').hidden`) {
		t.Error("a supposed reading can be kept")
	}
	if got := said(); len(got) > 0 {
		t.Errorf("the console says: %s", strings.Join(got, "\n"))
	}
}

// An engine that has a record and no build yet; what stands in it is shown as text.
func TestEnginePageOfAnEngineWithoutABuild(t *testing.T) {
	f := newFakeBench(t)
	f.mustAdd(bench.Entry{Kind: bench.EngineValues, By: "ab", Engine: &bench.EngineSet{Engine: "Twin <4>", Values: []bench.EngineValue{{Name: "engine_number", Word: "T & 207", Source: "maker's data"}}}})
	body := get(t, serve(t, monitor.Config{Bench: f, Archive: fakeArchive{f}})+"/engine?engine=Twin+%3C4%3E")
	for _, want := range []string{"Twin &lt;4&gt;", `value="T &amp; 207"`, "No build yet"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}
