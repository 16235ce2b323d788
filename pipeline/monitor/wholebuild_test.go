package monitor_test

import (
	"context"
	"errors"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/demo"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
)

// shop is a whole service with the demo's drawer of gauges on pseudo-terminals.
type shop struct {
	url    string
	client *bus.Client
	drawer *demo.Drawer
	wait   func(time.Duration) // lets time pass at the bench
}

// openShop runs a service and plugs the gauges in; they are registered but for one that is left out.
func openShop(t *testing.T, leftOut string) *shop {
	t.Helper()
	dir := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	cfg := service.DefaultSettings()
	cfg.Bench, cfg.Lockout, cfg.Monitor.Listen = "demo", "1ms", "127.0.0.1:0"
	ready, ended := make(chan net.Addr, 1), make(chan error, 1)
	var ahead atomic.Int64
	s := &service.Service{Dir: dir, Settings: cfg, Listen: cfg.Monitor.Listen, Log: zerolog.Nop(), Ready: func(a net.Addr) { ready <- a },
		Ahead: func() time.Duration { return time.Duration(ahead.Load()) }}
	go func() { ended <- s.Run(ctx) }()
	t.Cleanup(cancel)
	sh := &shop{wait: func(d time.Duration) { ahead.Add(int64(d)) }}
	select {
	case at := <-ready:
		sh.url = "http://" + at.String()
	case err := <-ended:
		t.Fatalf("the service did not start: %v", err)
	}
	t.Cleanup(func() {
		cancel()
		http.DefaultClient.CloseIdleConnections()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	profiles, err := service.LoadProfiles(filepath.Join(dir, service.ProfilesFolder))
	if err != nil {
		t.Fatal(err)
	}
	if sh.drawer, err = demo.OpenDrawer(dir, profiles, 10*time.Millisecond, 1); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = sh.drawer.Close() })
	path, _ := service.SocketPath(dir)
	if sh.client, err = bus.Dial(path, "demo"); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(sh.client.Close)
	gauges, err := sh.drawer.Register()
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range gauges {
		if g.Name == leftOut {
			continue
		}
		if a, err := sh.client.Do(ctx, bench.Verb{ID: uuid.NewString(), Name: bench.DoGaugeAdd, Register: &g}); err != nil || !a.OK {
			t.Fatalf("%s: %v %s", g.Name, err, a.Words)
		}
	}
	return sh
}

// builder is the demo's, with fingers on the page for his voice.
func (sh *shop) builder(t *testing.T, f *fingers, planName string, text []byte) *demo.Builder {
	t.Helper()
	p, err := plan.Parse(planName, text)
	if err != nil {
		t.Fatal(err)
	}
	return &demo.Builder{Service: f, Plan: p, Engine: demo.NewEngine(p, 1), Gauges: sh.drawer.Hands, Care: 0.5, OnPage: true, Wait: sh.wait,
		Say: func(format string, args ...any) { t.Logf(format, args...) }}
}

// How many steps of a plan are played where THOUD_LONG is not set, and in short runs.
const (
	shortSteps    = 8
	shortestSteps = 4
)

// begin chooses the plan and begins the build on the page; by eye it cuts the plan to a wheel without an encoder first.
func (f *fingers) begin(byEye bool) (planName string) {
	f.t.Helper()
	planName = "pushrod-twin"
	f.menu("builds")
	if byEye {
		f.press("the plans", `main a[href="/plans"]`)
		f.press("a new engine", `a[href^="/plans?from=pushrod-twin"]`)
		eventually(f.t, f.ctx, "the form for it", `location.search.includes("pushrod-twin") && document.readyState === "complete"`)
		planName = "twin-by-eye"
		f.fill("[data-plan=cut] [name=name]", planName)
		f.choose(`[data-plan=cut] [name="choice wheel"]`, "eye")
		f.press("keep it", "[data-plan=cut] button.primary")
		eventually(f.t, f.ctx, "the plan kept", `said("tbody").includes("twin-by-eye")`)
		f.menu("builds")
	}
	f.fill("[data-ask=build-start] [name=job]", "31")
	f.fill("[data-ask=build-start] [name=engine]", "twin-207")
	f.choose("[data-ask=build-start] [name=plan]", planName)
	f.press("start", "[data-ask=build-start] button.primary")
	eventually(f.t, f.ctx, "the bench", `location.pathname === "/bench" && said("[data-r=head]").includes("job 31")`)
	live(f.t, f.ctx)
	return planName
}

// choose chooses from a list. The list opens in the system's own picker, which is no part of the page.
func (f *fingers) choose(selector, value string) {
	f.t.Helper()
	if !eval[bool](f.t, f.ctx, `(() => { const e = document.querySelector("`+strings.ReplaceAll(selector, `"`, `\"`)+`"); e.value = "`+value+`"; e.dispatchEvent(new Event("change", { bubbles: true })); return e.value === "`+value+`"; })()`) {
		f.t.Fatalf("%s has no choice %q", selector, value)
	}
	f.fields++
}

// end looks at the sheet of the finished build and closes it.
func (f *fingers) end() {
	f.t.Helper()
	f.press("the sheet", `[data-r=say] a[href="/sheet?job=31"]`)
	eventually(f.t, f.ctx, "the sheet", `location.pathname === "/sheet" && document.readyState === "complete"`)
	f.shot("99-sheet")
	f.menu("builds")
	f.press("close", "[data-do=build-close]")
	f.dialog(bench.Verb{}, mustOpen)
	eventually(f.t, f.ctx, "the build closed", `said("tbody").includes("closed")`)
	f.shot("99-closed")
}

// played is how a build is played on the page.
type played struct {
	byEye, keys bool
	stranger    bool // the indicator is found and registered on the page
	most        int  // the last step; 0 the plan's
}

// playOnThePage plays a build of the twin from the choice of its plan to its sheet, or a part of it.
func playOnThePage(t *testing.T, how played) {
	t.Helper()
	limit, leftOut := 40*time.Minute, ""
	if how.most > 0 {
		limit = 8 * time.Minute
	}
	if how.stranger {
		leftOut = "dial-1"
	}
	sh := openShop(t, leftOut)
	f := newFingers(t, sh.client, sh.url, how.keys, limit)
	complaints := listen(t, f.ctx)
	if how.stranger {
		f.register(sh.drawer.Hands["indicator"].Path(), "strange-1", "indicator")
	}
	name := f.begin(how.byEye)
	text, err := plan.ShippedText("pushrod-twin")
	if err == nil && how.byEye {
		text, err = plan.Shape("pushrod-twin", text, map[string]string{"wheel": "eye"})
	}
	if err != nil {
		t.Fatal(err)
	}
	f.most = how.most
	f.from, _ = strconv.Atoi(os.Getenv("THOUD_FROM_STEP")) // to look at one step again
	b := sh.builder(t, f, name, text)
	began := time.Now()
	switch err := b.Work(t.Context()); {
	case f.most > 0 && errors.Is(err, errEnough):
	case err != nil:
		t.Fatal(err)
	default:
		f.end()
	}
	t.Logf("%d presses, %d fields typed, %.0f s", f.presses, f.fields, time.Since(began).Seconds())
	if got := f.hindrances(); len(got) > 0 {
		t.Errorf("what hindered:\n%s", strings.Join(got, "\n"))
	}
	if said := complaints(); len(said) > 0 {
		t.Errorf("the console says: %v", said)
	}
}

// asLongAs is the last step that is played: all where THOUD_LONG is set, else some.
func asLongAs() int {
	switch {
	case os.Getenv("THOUD_LONG") != "":
		return 0
	case testing.Short():
		return shortestSteps
	}
	return shortSteps
}

// register finds a gauge by what it sends, and registers it.
func (f *fingers) register(port, name, role string) {
	f.t.Helper()
	f.menu("gauges")
	f.press("a new gauge", `main a[href="/find"]`)
	eventually(f.t, f.ctx, "the page for it", `location.pathname === "/find" && document.readyState === "complete"`)
	f.fill("#register [name=port]", port)
	f.press("identify", "#register [data-identify]")
	eventually(f.t, f.ctx, "the gauge found", `document.getElementById("work-words").innerText.startsWith("Found: ")`)
	f.fill("#register [name=name]", name)
	f.choose("#register [name=role]", role)
	f.press("register it", "#register button.primary")
	eventually(f.t, f.ctx, "its value", `said("[data-gauge=`+name+`] [data-value]") !== ""`)
}

// TestTheTwinByTouch builds the shipped twin on a tablet, by touch alone; whole where THOUD_LONG is set, else its first steps.
func TestTheTwinByTouch(t *testing.T) { playOnThePage(t, played{most: asLongAs()}) }

// TestTheTwinByEyeAndTouch does so with the wheel read by eye and typed.
func TestTheTwinByEyeAndTouch(t *testing.T) {
	if testing.Short() {
		t.Skip("with an encoder it is played in short runs too")
	}
	playOnThePage(t, played{byEye: true, most: min(asLongAs(), shortestSteps)})
}

// TestTheTwinByKeys does so with keys alone.
func TestTheTwinByKeys(t *testing.T) {
	if testing.Short() {
		t.Skip("by touch it is played in short runs too")
	}
	playOnThePage(t, played{keys: true, most: min(asLongAs(), shortestSteps)})
}

// TestAStrangersGaugeInTheBuild finds an indicator by what it sends, registers it on the page and takes the first readings of
// the build with it.
func TestAStrangersGaugeInTheBuild(t *testing.T) {
	if testing.Short() {
		t.Skip("from nothing to the first reading is played in short runs too")
	}
	playOnThePage(t, played{stranger: true, most: shortestSteps})
}
