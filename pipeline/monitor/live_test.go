package monitor_test

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/pipeline/monitor"
)

// TestStepByTouch works a pass with taps alone, on a tablet.
func TestStepByTouch(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.1000")
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 820, 1180)
	do(t, ctx, chromedp.EmulateViewport(820, 1180, chromedp.EmulateTouch), chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	tap := func(verb string) {
		t.Helper()
		before := f.State().N
		stood(t, ctx)
		do(t, ctx, chromedp.Tap(chromedp.CSS(fmt.Sprintf(`[data-do=%q][data-primary]`, verb))))
		until(t, "the bench to have done "+verb, func() bool { return f.State().N > before })
		shows(t, ctx, f)
	}
	tap("acknowledge")
	for range len(f.unconfirmed()) {
		tap("confirm")
	}
	tap("zero")
	for _, value := range []string{"0.7000", "0.7020", "0.6485", "0.6512", "0.1000"} {
		f.show(value)
		tap("take")
	}
	eventually(t, ctx, "the adjustment", `said(".order.hero") === "50 thou"`)
	do(t, ctx, chromedp.Tap(chromedp.CSS("[data-type]")))
	for _, b := range []string{"[data-do].primary", "button.second", "#entry button", "#typed"} {
		if small := eval[float64](t, ctx, fmt.Sprintf(`Math.min(...[...document.querySelectorAll(%q)].map(e => Math.min(e.offsetWidth, e.offsetHeight)))`, b)); small < 44 {
			t.Errorf("%s: %v px is too small for a gloved finger (44, WCAG 2.2, 2.5.5)", b, small)
		}
	}
}

// until waits for something that is not on a page.
func until(t *testing.T, what string, done func() bool) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); !done(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("waited in vain for %s", what)
		}
	}
}

// TestTypedValue types a value as a hand or a gauge with a keyboard cable does, and a wrong one.
func TestTypedValue(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.1000")
	f.ready()
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	eventually(t, ctx, "the unit of a typed value", `said("#entry label[for=typed]") === "Type (in)"`)
	before := f.State().Place
	do(t, ctx, press("0.6000\r"))
	moved(t, ctx, f, before)
	r := lastReading(t, f)
	if got := r.Value.String(); got != "0.6000 in" || !r.Keyed {
		t.Errorf("typed 0.6000 with the page in inches: reading %s, keyed %v", got, r.Keyed)
	}
	before = f.State().Place
	do(t, ctx, press("m"), press("15.24\r")) // the page in mm now
	moved(t, ctx, f, before)
	if got := lastReading(t, f).Value.String(); got != "15.24 mm" {
		t.Errorf("typed 15.24 with the page in mm: reading %s", got)
	}
	n := f.State().N
	do(t, ctx, press("1.2.3\r"))
	eventually(t, ctx, "the refusal", `said("#say").includes('"1.2.3" is not a decimal number')`)
	if f.State().N != n {
		t.Error("a value that is no number was taken")
	}
	if got := eval[string](t, ctx, `document.getElementById("typed").value + document.activeElement.id`); got != "" {
		t.Errorf("after the refusal the box holds, or the focus is on, %q: a second press must not send it again", got)
	}
}

func lastReading(t *testing.T, f *fakeBench) bench.Reading {
	t.Helper()
	f.mu.Lock()
	defer f.mu.Unlock()
	for n := f.state.N; n > 0; n-- {
		if e := f.bodies[n]; e.Reading != nil {
			return *e.Reading
		}
	}
	t.Fatal("no reading")
	return bench.Reading{}
}

// TestUnits switches at once between inch and mm, asks nothing of the bench, and remembers.
func TestUnits(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	firstPass(t, f)
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	asked := f.verbs()
	eventually(t, ctx, "inches", `said("#moving .hero") === "0.0315 in" && said("[data-bar-text]") === ".5300"`)
	do(t, ctx, press("m"))
	// 0.0315 in = 0.8001 mm and 0.5300 in = 13.462 mm, both exact; a count of the gauge is 0.0127 mm.
	eventually(t, ctx, "millimetres", `said("#moving .hero") === "0.80 mm" && said("[data-bar-text]") === "13.46"`)
	if f.verbs() != asked {
		t.Errorf("switching units asked the bench: %s", f.verbs())
	}
	do(t, ctx, chromedp.Reload())
	live(t, ctx)
	eventually(t, ctx, "millimetres after a reload", `said("#moving .hero") === "0.80 mm"`)
}

// TestUnplugAndReplug tells that a gauge is gone and takes it up again.
func TestUnplugAndReplug(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	firstPass(t, f)
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	f.plug(false)
	eventually(t, ctx, "the gauge to be missed", `said("[data-r=say]").includes("dial-1 gone") && said("[data-r=say]").includes("Plug it in, or switch it on.")`)
	picture(t, ctx, "bench-unplugged")
	f.plug(true)
	f.show("0.6200")
	eventually(t, ctx, "the gauge to be back", `said("#moving .hero") === "0.0215 in"`)
}

// TestQuestion answers a guard's question by its key.
func TestQuestion(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.question = &bench.Question{Guard: "swap", Words: "Left and right read as each other did before: are they swapped?", Choices: []string{"as read", "read again"}}
	firstPass(t, f)
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	eventually(t, ctx, "the question", `said("[data-r=say]").includes("are they swapped?")`)
	if got, want := eval[string](t, ctx, `(`+said+`)(".asked")`), "this one, as LEFT block, before contact 0.6000 in RIGHT block, before contact 0.6020 in"; !strings.Contains(got, want) {
		t.Errorf("beside the question stands %q, want %q", got, want)
	}
	picture(t, ctx, "bench-question")
	stood(t, ctx)
	do(t, ctx, press("u"))
	// Read again: the reading is withdrawn and the bench stands at its point.
	eventually(t, ctx, "the point that was asked about", `said("[data-r=say] .place") === "LEFT block, before contact"`)
	f.mu.Lock()
	defer f.mu.Unlock()
	if last := f.asked[len(f.asked)-1]; last.Name != bench.DoAnswer || last.Choice != "read again" || last.Item == "" {
		t.Errorf("answered %+v", last)
	}
}

// TestMovedOn shows the bench's refusal where the page was late, and sends the place that it showed.
func TestMovedOn(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	firstPass(t, f)
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	f.mu.Lock()
	f.refuse = "the bench has moved on: look again"
	f.mu.Unlock()
	do(t, ctx, press(" "))
	eventually(t, ctx, "the refusal", `said("#say").includes("the bench has moved on")`)
	f.mu.Lock()
	defer f.mu.Unlock()
	if last := f.asked[len(f.asked)-1]; last.Seen == nil || *last.Seen != f.state.Place {
		t.Errorf("the verb carried the place %v, the page showed %v", last.Seen, f.state.Place)
	}
}

// TestRestartInMidPass ends the service under an open page: the page says that it is not live, sends nothing, comes back
// by itself with the service, and shows what happened meanwhile.
func TestRestartInMidPass(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	f.show("0.1000")
	f.ready()
	f.show("0.7000")
	f.must(t, t.Context(), benchVerb{"take", ""})
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	addr := l.Addr().String()
	stop := startAt(t, l, f)
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate("http://"+addr+"/bench"))
	live(t, ctx)
	eventually(t, ctx, "the second point", `said("[data-r=say]").includes("right block standing proud")`)
	stop()
	eventually(t, ctx, "the page to say that it is not live", `document.body.classList.contains("dead") && document.getElementById("link").innerText.startsWith("NOT LIVE")`)
	picture(t, ctx, "bench-dead")
	asked := f.verbs()
	do(t, ctx, press(" "))
	eventually(t, ctx, "the page to refuse", `said("#say").includes("Not live")`)
	f.show("0.7020")
	f.must(t, t.Context(), benchVerb{"take", ""}) // by the pedal, while no page was looking
	if want := asked + " take"; f.verbs() != want {
		t.Errorf("asked %q, want %q: a page that is not live sends nothing", f.verbs(), want)
	}
	l, err = net.Listen("tcp", addr)
	if err != nil {
		t.Fatal(err)
	}
	startAt(t, l, f)
	live(t, ctx)
	eventually(t, ctx, "what happened meanwhile", `said("[data-r=say]").includes("read the left block") && said("[data-r=points]").includes("0.6020 in")`)
}

// startAt serves on a listener until the function it gives is called, or the test ends.
func startAt(t *testing.T, l net.Listener, f *fakeBench) func() {
	t.Helper()
	s, err := monitor.New(monitor.Config{Bench: f, Logger: zerolog.Nop()})
	if err != nil {
		t.Fatal(err)
	}
	srv := &http.Server{Handler: s.Handler(), ReadHeaderTimeout: time.Second}
	go func() { _ = srv.Serve(l) }() // ends with an error when it is closed
	stop := sync.OnceFunc(func() { s.Close(); _ = srv.Close() })
	t.Cleanup(stop)
	return stop
}

// TestHiddenTabClosesItsStream hides the page: its stream is closed; shown again it is live again, without a page sent
// anew where nothing changed.
func TestHiddenTabClosesItsStream(t *testing.T) {
	f := newFakeBench(t)
	f.firstFit()
	var mu sync.Mutex
	open, opened := 0, []string{}
	s, err := monitor.New(monitor.Config{Bench: f, Logger: zerolog.Nop()})
	if err != nil {
		t.Fatal(err)
	}
	h := s.Handler()
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, "/stream/") {
			mu.Lock()
			open++
			opened = append(opened, r.URL.Query().Get("last"))
			mu.Unlock()
			defer func() { mu.Lock(); open--; mu.Unlock() }()
		}
		h.ServeHTTP(w, r)
	}))
	t.Cleanup(func() { s.Close(); srv.Close() })
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(srv.URL+"/bench"))
	live(t, ctx)
	hide := func(hidden bool) {
		eval[bool](t, ctx, fmt.Sprintf(`(() => { Object.defineProperty(document, "hidden", { value: %v, configurable: true }); document.dispatchEvent(new Event("visibilitychange")); return true; })()`, hidden))
	}
	hide(true)
	until(t, "the stream to be closed", func() bool { mu.Lock(); defer mu.Unlock(); return open == 0 })
	hide(false)
	live(t, ctx)
	mu.Lock()
	defer mu.Unlock()
	if open != 1 || len(opened) != 2 || opened[0] == "" || opened[0] != opened[1] {
		t.Errorf("%d streams open; they were opened with the states %v, want the same one twice", open, opened)
	}
}

// TestNothingLeavesTheHost loads every page and lists every request: all go to this service.
func TestNothingLeavesTheHost(t *testing.T) {
	_, url := everyPage(t)
	ctx := tab(t, 1280, 800)
	var mu sync.Mutex
	var elsewhere []string
	bytesBy := map[network.RequestID]float64{}
	total := 0.0
	err := chromedp.Listen(ctx, func(ev any) {
		mu.Lock()
		defer mu.Unlock()
		switch e := ev.(type) {
		case *network.EventRequestWillBeSent:
			if !strings.HasPrefix(e.Request.URL, url) {
				elsewhere = append(elsewhere, e.Request.URL)
			}
		case *network.EventLoadingFinished:
			bytesBy[e.RequestID] = e.EncodedDataLength
			total += e.EncodedDataLength
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	mu.Lock()
	weight := total
	mu.Unlock()
	t.Logf("the Bench page weighs %.1f kB in all", weight/1000)
	if weight == 0 || weight > 150_000 {
		t.Errorf("the Bench page weighs %.0f bytes in all, want 150,000 at most", weight)
	}
	for _, p := range []string{"wall", "steps", "ledger", "ledger/9", "gauges", "find", "builds", "sheet", "help"} {
		do(t, ctx, chromedp.Navigate(url+"/"+p))
	}
	mu.Lock()
	defer mu.Unlock()
	if len(elsewhere) > 0 {
		t.Errorf("requests to others: %v", elsewhere)
	}
}

// BenchmarkFirstLiveValue is the time from asking for the page to the first live value on it.
func BenchmarkFirstLiveValue(b *testing.B) {
	browser.once.Do(startBrowser)
	if browser.err != nil {
		b.Skipf("not run: %v", browser.err)
	}
	f := newFakeBench(b)
	f.firstFit()
	f.show("0.1000")
	s, err := monitor.New(monitor.Config{Bench: f, Logger: zerolog.Nop()})
	if err != nil {
		b.Fatal(err)
	}
	srv := httptest.NewServer(s.Handler())
	defer func() { s.Close(); srv.Close() }()
	ctx, cancel := chromedp.NewContext(browser.ctx, chromedp.WithNewBrowserContext())
	defer cancel()
	seen := 0.0
	for b.Loop() {
		if err := chromedp.Do(ctx, chromedp.Navigate(srv.URL+"/bench")); err != nil {
			b.Fatal(err)
		}
		ms, err := chromedp.Run(ctx, chromedp.Evaluate[float64](`new Promise((done) => { const look = () => document.querySelector("[data-r=say] [data-number]")?.innerText.startsWith("0.") ? done(performance.now()) : setTimeout(look, 2); look(); })`, chromedp.EvalAwaitPromise))
		if err != nil {
			b.Fatal(err)
		}
		seen += ms
	}
	b.ReportMetric(seen/float64(b.N), "ms-to-live/op")
}

// shows waits until the page shows where the bench is.
func shows(t *testing.T, ctx context.Context, f *fakeBench) {
	t.Helper()
	n := f.State().N
	eventually(t, ctx, fmt.Sprintf("the page to show entry %d", n), fmt.Sprintf(`document.querySelector("[data-n]")?.dataset.n === "%d"`, n))
}

// TestBracketIsTyped types the two blades of a feeler gauge: the box is large and has the focus without a mouse.
func TestBracketIsTyped(t *testing.T) {
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	f := newFakeBench(t)
	feelers := strings.Replace(string(text), `capture = { mode = "press", role = "indicator" }`, `capture = { mode = "bracket", role = "indicator" }`, 1)
	f.startBuild("17", "first-fit", feelers, "guide-clearance")
	f.show("0.1000")
	f.ready()
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1920, 1080)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	eventually(t, ctx, "the box to have the focus", `document.activeElement.id === "typed" && document.getElementById("entry").classList.contains("wanted")`)
	for _, s := range measured(t, ctx, "#entry label, #entry button") {
		if s.Capital < farCapital || s.Contrast < farContrast {
			t.Errorf("%q: capitals of %.1f px, contrast %.1f", s.Text, s.Capital, s.Contrast)
		}
	}
	picture(t, ctx, "bench-bracket")
	do(t, ctx, press("0.010 0.011\r"))
	until(t, "the two blades", func() bool { return strings.HasSuffix(f.verbs(), "bracket") })
	f.mu.Lock()
	defer f.mu.Unlock()
	if last := f.asked[len(f.asked)-1]; last.Goes == nil || last.Stops == nil || last.Goes.String() != "0.010 in" || last.Stops.String() != "0.011 in" {
		t.Errorf("asked %+v", last)
	}
}

// TestLongWork identifies a gauge, verifies, and fails to back up: each tells on its page how far it is and what came of it.
func TestLongWork(t *testing.T) {
	f, url := everyPage(t)
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/ledger"), chromedp.Click(chromedp.CSS("[data-keep=verify]")))
	eventually(t, ctx, "the ledger to be whole", `document.getElementById("work-words").innerText === "Whole: 14 entries" && document.getElementById("work-progress").value === 100`)
	do(t, ctx, chromedp.Click(chromedp.CSS("[data-keep=backup]")))
	eventually(t, ctx, "the fault", `document.getElementById("work-words").innerText === "The disk is full; make room"`)
	do(t, ctx, chromedp.Navigate(url+"/find"), chromedp.Click(chromedp.CSS("[data-identify]")))
	eventually(t, ctx, "the gauge to be found", `document.getElementById("work-words").innerText === "Found: text. Give it a name and register it." && document.activeElement.name === "name"`)
	do(t, ctx, press("caliper-1\r"))
	until(t, "the gauge in the register", func() bool { _, ok := f.State().Gauge("caliper-1"); return ok })
	g, _ := f.State().Gauge("caliper-1")
	if g.Gauge.Port != "/dev/ttyUSB3" || g.Known != bench.KnownUSB || g.Identity != "1a2b:3c4d:0007" || g.Profile != "text" || g.Role != "caliper" || g.Sense != 1 {
		t.Errorf("registered %+v", g.Gauge)
	}
	eventually(t, ctx, "the gauges", `document.querySelector("[data-gauge=caliper-1]") !== null`)
}

// TestStartABuild starts a build from its form and is taken to the bench.
func TestStartABuild(t *testing.T) {
	f := newFakeBench(t)
	url := serve(t, monitor.Config{Bench: f})
	ctx := tab(t, 1280, 800)
	do(t, ctx, chromedp.Navigate(url+"/bench"))
	live(t, ctx)
	eventually(t, ctx, "a build to be asked for", `said("[data-r=say]").includes("Start a build")`)
	do(t, ctx, chromedp.Click(chromedp.CSS("[data-r=say] a[href='/builds']")), chromedp.WaitVisible(chromedp.CSS("input[name=job]")),
		chromedp.SendKeys(chromedp.CSS("input[name=job]"), "21"), chromedp.SendKeys(chromedp.CSS("input[name=engine]"), "Heron 650 no. 9\r"))
	eventually(t, ctx, "the bench", `location.pathname === "/bench" && said("[data-r=head]").includes("job 21")`)
}
