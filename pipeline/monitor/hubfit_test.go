package monitor_test

import (
	"context"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
	"thoud/pipeline/monitor/view"
)

// hubHistories has one dimension of one engine.
type hubHistories struct{}

func (hubHistories) Engines(context.Context, func(string) bool) ([]string, error) {
	return []string{"Heron 650 no. 4"}, nil
}

func (hubHistories) History(ctx context.Context, _ func(string) bool, engine, dimension string) (view.HistoryData, error) {
	return fakeHistories{}.History(ctx, bench.EngineLife{Name: engine}, dimension)
}

// TestHubPagesFit loads the pages of a hub, and the page that asks for a code, in every size, light and dark: nothing is wider than
// the window, nothing is said on the console, and axe-core finds no fault against WCAG 2.2 A and AA.
func TestHubPagesFit(t *testing.T) {
	hash, err := monitor.HashCode("three old spanners")
	if err != nil {
		t.Fatal(err)
	}
	hub := func(code string) string {
		b, err := monitor.NewBenches(monitor.BenchesConfig{Hub: "shop", Listen: "127.0.0.1:0", LookCode: code, Logger: zerolog.Nop(),
			List: func() []monitor.BenchRow {
				return []monitor.BenchRow{{Name: "lathe", Words: "has every entry up to 1204", BenchNow: monitor.BenchNow{Doing: "job 17, Guide-block clearance, pass 2"}},
					{Name: "window-with-a-long-name", Words: "away since 2026-11-20 09:14; its copy ends at entry 77", Troubles: []string{"dial-1 is unplugged or switched off: plug it in again, it is found by itself"}}}
			},
			Open: func(context.Context, string) (monitor.Config, func(), bool, error) {
				return monitor.Config{}, nil, false, nil
			},
			Search: func(context.Context, string, func(string) bool, int) ([]monitor.Found, error) {
				return []monitor.Found{{Bench: "lathe", Title: "lathe"}}, nil
			},
			Histories: hubHistories{},
			Builds:    fakeBuilds{"lathe": finished(t, "0.3400"), "window": finished(t, "0.3410")}})
		if err != nil {
			t.Fatal(err)
		}
		srv := httptest.NewServer(b.Handler())
		t.Cleanup(func() { b.Close(); srv.Close() })
		return srv.URL
	}
	open, shut := hub(""), hub(hash)
	bench := serve(t, monitor.Config{Bench: newFakeBench(t), WorkCode: hash, LookCode: hash})
	axe := axeScript(t)
	for name, url := range map[string]string{"list": open + "/", "search": open + "/search?q=0.3400", "compare": open + "/compare",
		"side-by-side": open + "/compare?build=lathe/17&build=window/17", "history": open + "/history?engine=Heron+650+no.+4&dimension=deck",
		"login": shut + "/login", "bench-login": bench + "/login"} {
		t.Run(name, func(t *testing.T) {
			ctx := tab(t, 1920, 1080)
			complaints := listen(t, ctx)
			for _, scheme := range []string{"light", "dark"} {
				for _, size := range sizes {
					if testing.Short() && size.name != "shop" && size.name != "phone" {
						continue
					}
					do(t, ctx, theme(scheme), chromedp.EmulateViewport(size.wide, size.high), chromedp.Navigate(url))
					picture(t, ctx, "hub-"+name+"-"+size.name+"-"+scheme)
					if over := eval[float64](t, ctx, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
						t.Errorf("%s, %s: the page is %v px wider than the window", size.name, scheme, over)
					}
					if axe != "" {
						checkAxe(t, ctx, axe, size.name+", "+scheme)
					}
				}
			}
			if said := complaints(); len(said) > 0 {
				t.Errorf("the console says: %s", strings.Join(said, "\n"))
			}
		})
	}
}
