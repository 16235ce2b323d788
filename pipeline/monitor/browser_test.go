package monitor_test

import (
	"context"
	"errors"
	"fmt"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/rs/zerolog"

	"thoud/pipeline/monitor"
)

// One browser serves all tests of the package; each test has a context of its own in it.
var browser struct {
	once  sync.Once
	ctx   context.Context
	err   error
	close func()
}

func TestMain(m *testing.M) {
	code := m.Run()
	if browser.close != nil {
		browser.close()
	}
	os.Exit(code)
}

func startBrowser() {
	exe := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			exe = p
			break
		}
	}
	if exe == "" {
		browser.err = fmt.Errorf("no chromium on this machine")
		return
	}
	dir, err := os.MkdirTemp("", "thoud-browser-")
	if err != nil {
		browser.err = err
		return
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(exe), chromedp.UserDataDir(dir), chromedp.NoSandbox, chromedp.WSURLReadTimeout(60*time.Second),
		chromedp.Flag("headless", "new"), chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-component-update", true))
	alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	ctx, cancel := chromedp.NewContext(alloc)
	browser.ctx = ctx
	browser.close = func() { cancel(); stop(); _ = os.RemoveAll(dir) }
	browser.err = chromedp.Do(ctx)
}

// tab opens a tab with its own cookies and storage. A missing browser fails the test where CI is set, else skips it.
func tab(t *testing.T, wide, high int64) context.Context {
	t.Helper()
	return tabFor(t, wide, high, 60*time.Second)
}

// tabFor is tab for a test that may take so long.
func tabFor(t *testing.T, wide, high int64, limit time.Duration) context.Context {
	t.Helper()
	browser.once.Do(startBrowser)
	if browser.err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("the pages are tested in a browser: %v", browser.err)
		}
		t.Skipf("not run: %v; install chromium to test the pages", browser.err)
	}
	ctx, cancel := chromedp.NewContext(browser.ctx, chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	ctx, stop := context.WithTimeout(ctx, limit)
	t.Cleanup(stop)
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(wide, high)); err != nil {
		t.Fatal(err)
	}
	return ctx
}

// serve puts a monitor in front of a bench.
func serve(t *testing.T, cfg monitor.Config) string {
	t.Helper()
	cfg.Logger = zerolog.New(zerolog.NewTestWriter(t))
	s, err := monitor.New(cfg)
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(s.Handler())
	t.Cleanup(func() { s.Close(); srv.Close() })
	return srv.URL
}

// do does one step after another in a tab. What a step has found may be drawn anew, or left with its page, before the step
// acts on it: then nothing was done yet, and it is looked for again.
func do(t *testing.T, ctx context.Context, steps ...step) {
	t.Helper()
	for _, s := range steps {
		err := chromedp.Do(ctx, s)
		for end := time.Now().Add(10 * time.Second); gone(err) && time.Now().Before(end); {
			time.Sleep(5 * time.Millisecond)
			err = chromedp.Do(ctx, s)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// gone says whether a step failed for what it had found is no longer in the page: the browser has no code of its own for it.
func gone(err error) bool {
	if err == nil {
		return false
	}
	return errors.Is(err, chromedp.ErrInvalidDimensions) || slices.ContainsFunc([]string{"with given id", "ode is detached from document", "does not have a layout object", "ould not compute content quads", "annot find context with specified id"},
		func(words string) bool { return strings.Contains(err.Error(), words) })
}

type step = chromedp.Action[chromedp.Void]

// eval gives what a script in the page gives.
func eval[T any](t *testing.T, ctx context.Context, script string) T {
	t.Helper()
	got, err := chromedp.Run(ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("%s: %v", script, err)
	}
	return got
}

// eventually waits until a script in the page gives true.
func eventually(t *testing.T, ctx context.Context, what, script string) {
	t.Helper()
	// The page may go elsewhere meanwhile, which ends a poll with an error: so it is begun again until the time is up.
	script = `((said) => (` + script + `))(` + said + `)`
	end := time.Now().Add(10 * time.Second)
	for {
		err := chromedp.Do(ctx, chromedp.Poll[chromedp.Void](script, chromedp.WithPollingInterval(20*time.Millisecond), chromedp.WithPollingTimeout(max(time.Until(end), time.Millisecond))))
		if err == nil {
			return
		}
		if time.Now().After(end) || ctx.Err() != nil {
			text, _ := chromedp.Run(ctx, chromedp.Evaluate[string](`document.body.innerText`))
			t.Fatalf("waited in vain for %s: %v\npage:\n%s", what, err, text)
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// said is a script that gives the text at a selector on one line, with plain spaces and minuses; "" where nothing is shown.
const said = `(selector) => [...document.querySelectorAll(selector)].filter((e) => e.getClientRects().length > 0).map((e) => e.innerText ?? e.textContent).join(" ").replace(/\s+/g, " ").replaceAll("−", "-").trim()`

// live waits until the page has its stream.
func live(t *testing.T, ctx context.Context) {
	t.Helper()
	eventually(t, ctx, "a live page", `document.getElementById("link").textContent.startsWith("live")`)
}

// theme makes the system ask for light or dark.
func theme(scheme string) step {
	return func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		return chromedp.Void{}, err
	}
}

// printing shows the page as it is printed.
func printing() step {
	return func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		return chromedp.Void{}, err
	}
}

// picture writes a screenshot of the window to a folder named by an environment variable, where that is set.
func picture(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	dir := os.Getenv("THOUD_SCREENS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		t.Fatal(err)
	}
}

// listen gathers what the page says on its console and what it throws; the function it returns gives what there is.
func listen(t *testing.T, ctx context.Context) func() []string {
	t.Helper()
	var mu sync.Mutex
	var said []string
	err := chromedp.Listen(ctx, func(ev any) {
		mu.Lock()
		defer mu.Unlock()
		switch e := ev.(type) {
		case *runtime.EventExceptionThrown:
			said = append(said, e.ExceptionDetails.Text+" "+e.ExceptionDetails.URL)
		case *log.EventEntryAdded:
			said = append(said, e.Entry.Text+" "+e.Entry.URL)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	return func() []string {
		mu.Lock()
		defer mu.Unlock()
		return said
	}
}
