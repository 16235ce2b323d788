package monitor_test

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/rs/zerolog"

	"thoud/calc/quantity"
	"thoud/cmd/thoud/service"
	"thoud/devices"
	"thoud/devices/simulate"
)

// wholeService runs a service with an empty state, and gives the address of its page.
func wholeService(t *testing.T) string {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan net.Addr, 1), make(chan error, 1)
	s := &service.Service{Dir: t.TempDir(), Settings: service.DefaultSettings(), Listen: "127.0.0.1:0", Log: zerolog.Nop(), Ready: func(a net.Addr) { ready <- a }}
	go func() { ended <- s.Run(ctx) }()
	t.Cleanup(cancel)
	select {
	case at := <-ready:
		t.Cleanup(func() {
			cancel()
			http.DefaultClient.CloseIdleConnections()
			if err := <-ended; err != nil {
				t.Error(err)
			}
		})
		return "http://" + at.String()
	case err := <-ended:
		t.Fatalf("the service did not start: %v", err)
	case <-time.After(30 * time.Second):
		t.Fatal("the service is not ready")
	}
	return ""
}

// hands press and type on a page, and count it: a press is a click, a tap or a field that is filled.
type hands struct {
	t               *testing.T
	ctx             context.Context
	size            string
	presses, filled int
	shots           int
}

func (h *hands) press(what, selector string) {
	h.t.Helper()
	eventually(h.t, h.ctx, what+" to be pressed", fmt.Sprintf("said(%q) !== '' || document.querySelector(%q)?.getClientRects().length > 0", selector, selector))
	do(h.t, h.ctx, chromedp.Click(chromedp.CSS(selector)))
	h.presses++
}

func (h *hands) fill(selector, text string) {
	h.t.Helper()
	eventually(h.t, h.ctx, "the field "+selector, fmt.Sprintf("document.querySelector(%q)?.getClientRects().length > 0", selector))
	do(h.t, h.ctx, chromedp.SetValue(chromedp.CSS(selector), text))
	h.filled++
}

func (h *hands) sees(what, script string) {
	h.t.Helper()
	eventually(h.t, h.ctx, what, script)
	h.shots++
	picture(h.t, h.ctx, fmt.Sprintf("first-reading-%s-%02d", h.size, h.shots))
}

// From an empty state to the first reading on the page alone: a gauge on a pseudo-terminal is found by what it sends, a plan
// is cut to a new engine, a build of it begins, what it asks is confirmed, the zero is set, and the reading stands. Nothing
// is asked of the service but by the page, which is left only by its own links.
func TestFromNothingToTheFirstReadingOnThePage(t *testing.T) {
	for _, size := range []struct {
		name, scheme string
		wide, high   int64
	}{{"shop", "light", 1920, 1080}, {"phone", "dark", 390, 844}} {
		if testing.Short() && size.name == "phone" {
			continue
		}
		t.Run(size.name, func(t *testing.T) {
			profiles, err := devices.Profiles(nil)
			if err != nil {
				t.Fatal(err)
			}
			var dial devices.Profile
			for _, p := range profiles {
				if p.Name == "text-signed-decimal-unit-crlf" {
					dial = p
				}
			}
			gauge, err := simulate.Open(simulate.Options{Profile: dial, Dir: t.TempDir(), Name: "ttyS0", Resolution: mustValue(t, "0.0001 in")})
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { _ = gauge.Close() })
			gauge.Set(mustValue(t, "0.1250 in"))
			gauge.Stream(100 * time.Millisecond)

			url := wholeService(t)
			ctx := tab(t, size.wide, size.high)
			complaints := listen(t, ctx)
			h := &hands{t: t, ctx: ctx, size: size.name}
			do(t, ctx, theme(size.scheme), chromedp.Navigate(url+"/"))
			live(t, ctx)
			h.sees("a bench without a build", `said("[data-r=say]").includes("Start a build")`)
			menu := func(page string) {
				t.Helper()
				if eval[bool](t, ctx, `document.querySelector(".bar a[href='/`+page+`']").getClientRects().length === 0`) {
					h.press("the menu", "#menu")
				}
				h.press("the page "+page, ".bar a[href='/"+page+"']")
			}

			h.press("the first thing said", "[data-r=say] .do a")
			h.press("register", `main a[href="/find"]`)
			h.fill("#register [name=port]", gauge.Path())
			h.press("identify", `#register [data-identify]`)
			h.sees("the gauge found", `document.getElementById("work-words").innerText.startsWith("Found: ")`)
			h.fill("#register [name=name]", "dial-1")
			h.fill("#register [name=role]", "indicator")
			h.press("register it", "#register button.primary")
			h.sees("its value", `said("[data-gauge=dial-1] [data-value]").includes("0.1250")`)

			menu("builds")
			h.press("the plans", `main a[href="/plans"]`)
			h.press("a new engine", `a[href^="/plans?from=first-fit"]`)
			eventually(t, ctx, "the form for it", `location.search.includes("first-fit") && document.readyState === "complete"`)
			h.fill(`[data-plan=cut] [name=name]`, "my-twin")
			h.fill(`[data-plan=cut] [name=title]`, "My trials twin")
			h.sees("the new engine", `document.querySelector("[data-plan=cut] [name=title]").value === "My trials twin"`)
			h.press("keep it", `[data-plan=cut] button.primary`)
			eventually(t, ctx, "the plan kept", `said("tbody").includes("my-twin")`)
			menu("builds")
			h.fill(`[data-ask=build-start] [name=job]`, "31")
			h.fill(`[data-ask=build-start] [name=engine]`, "Trials twin no. 1")
			h.fill(`[data-ask=build-start] [name=plan]`, "my-twin")
			h.press("start", `[data-ask=build-start] button.primary`)

			h.sees("the bench", `location.pathname === "/bench" && document.querySelector("[data-r=head]").textContent.includes("job 31")`)
			menu("engine")
			h.sees("what is to be confirmed, without scrolling", `(() => { const r = document.querySelector("[data-confirm=asked]")?.getBoundingClientRect(); return Boolean(r) && r.top > 0 && r.bottom < innerHeight; })()`)
			if most := eval[float64](t, ctx, `Math.max(...[...document.querySelectorAll(".values label")].map((l) => parseFloat(getComputedStyle(l).fontSize)))`); most > 32 {
				t.Errorf("a value's name is %.0f px high: the page is for reading near", most)
			}
			h.fill("#initials", "AB")
			h.press("confirm", "[data-confirm=asked]")
			eventually(t, ctx, "the bench again", `location.pathname === "/bench" && document.querySelector("[data-r=head]").textContent.includes("job 31")`)
			live(t, ctx)
			primary := func(until string) {
				t.Helper()
				for range 5 {
					stood(t, ctx)
					if eval[bool](t, ctx, `((said) => `+until+`)(`+said+`)`) {
						return
					}
					h.press("the first button", "[data-primary]")
				}
				stood(t, ctx)
			}
			primary(`said("[data-primary]").startsWith("Take")`)
			h.sees("the zero set", `said("[data-primary]").startsWith("Take") && said("main").includes("0.0000 in")`)
			gauge.Set(mustValue(t, "0.4270 in"))
			eventually(t, ctx, "the value to be read", `said("main").includes("0.3020")`)
			stood(t, ctx)
			h.press("take", "[data-primary]")
			// The gauge shows 0.4270 in and was zeroed at 0.1250 in: 0.3020 in.
			h.sees("the first reading", `said("#say").includes("left block, before contact: 0.3020 in") && said("main").includes("RIGHT block")`)
			t.Logf("%s: %d presses, %d fields filled", size.name, h.presses, h.filled)
			if h.presses > 20 || h.filled > 10 {
				t.Errorf("%d presses and %d fields to the first reading, want at most 20 and 10", h.presses, h.filled)
			}
			if said := complaints(); len(said) > 0 {
				t.Errorf("the console says: %v", said)
			}
			_ = chromedp.Do(ctx, chromedp.Navigate("about:blank")) // its stream ends before the service does
		})
	}
}

func mustValue(t *testing.T, text string) quantity.Value {
	t.Helper()
	v, err := quantity.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
