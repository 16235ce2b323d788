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

// overTheYears has the history of the fake bench, with a part.
type overTheYears struct{}

func (overTheYears) Engines(context.Context, func(string) bool) ([]string, error) {
	return []string{"Heron 650 no. 4", "Otter 500 no. 12"}, nil
}

func (overTheYears) History(ctx context.Context, _ func(string) bool, engine, dimension string) (view.HistoryData, error) {
	d, err := fakeHistories{}.History(ctx, bench.EngineLife{Name: engine}, dimension)
	for i := range d.Rows {
		d.Rows[i].Job = []string{"lathe-corner/17", "window/24"}[i%2]
	}
	d.Fitted = []view.FittedRow{{Bench: "lathe-corner", Mark: "P-07", What: "left piston", In: "2026-03-01 10:00", InJob: "17", Ran: "212 h"}}
	return d, err
}

// hubsPages serves a hub that has everything its pages can show: a bench that measures, one that is away with troubles, one with a
// second history, one with nothing yet.
func hubsPages(t *testing.T) string {
	t.Helper()
	code, err := monitor.HashCode("three old spanners")
	if err != nil {
		t.Fatal(err)
	}
	lathe, window := finished(t, "0.3400"), finished(t, "0.3410")
	hub := func(look string) *monitor.Benches {
		b, err := monitor.NewBenches(monitor.BenchesConfig{Hub: "shop", Listen: "127.0.0.1:0", LookCode: look, Logger: zerolog.Nop(),
			Trouble: func() string {
				return "no backup was made: the folder /media/second-disk/thoud is not there (backup in hub.toml): is the disk mounted?"
			},
			List: func() []monitor.BenchRow {
				return []monitor.BenchRow{{Name: "lathe-corner", Words: "entry 1204, all it has"},
					{Name: "window", Words: "entry 88; not linked, heard last at 2026-11-26 14:02:11", Troubles: []string{`it said last, for 3 h: gauge "dial-1" is not there`, "it said last, for 2 days: the disk is filling: 180 MB are free"}},
					{Name: "back-room", Words: "entry 31 of back-room~2, 2 to come", Troubles: []string{"bench back-room has 2 histories: after entry 20 it went on from an older copy of itself. The first is kept whole as back-room (up to entry 44), what differs as back-room~2. Nothing is lost or mixed; look which readings were taken twice"}},
					{Name: "attic", Words: "entry 0; not linked, never heard since the hub began"}}
			},
			Doing: func(context.Context, func(string) bool) (map[string]monitor.BenchNow, error) {
				return map[string]monitor.BenchNow{
					"lathe-corner": {Doing: "job 17, Heron 650 no. 4; step 12 of 96, Guide-block clearance: measuring, left block at contact; last entry 2026-11-26 14:20"},
					"window":       {Doing: "job 24, Otter 500 no. 12; step 31 of 96, Compound on: held until 15:40, compound of Joint faces; last entry 2026-11-26 14:02"},
					"back-room": {Doing: "no build on the bench; last entry 2026-11-25 17:31",
						Others: []monitor.OtherHistory{{Name: "back-room~2", Words: "a second history of this name, since 2026-11-20 10:12, after entry 20 of the first, up to entry 31"}}},
					"attic": {Doing: "nothing yet"}}, nil
			},
			Open: func(context.Context, string) (monitor.Config, func(), bool, error) {
				return monitor.Config{Bench: lathe, Archive: fakeArchive{lathe}}, func() {}, true, nil
			},
			Search: func(context.Context, string, func(string) bool, int) ([]monitor.Found, error) {
				var out []monitor.Found
				rows, err := fakeArchive{lathe}.Entries(t.Context(), monitor.Filter{Limit: 20})
				for i, r := range rows {
					out = append(out, monitor.Found{Bench: "lathe-corner", Title: []string{"lathe-corner", "back-room, second history"}[i%2], Record: r})
				}
				return out, err
			},
			Builds: fakeBuilds{"lathe-corner": lathe, "window": window}, Histories: overTheYears{}})
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	open, closed := hub(""), hub(code)
	mux := httptest.NewServer(open.Handler())
	t.Cleanup(func() { open.Close(); closed.Close(); mux.Close() })
	shut := httptest.NewServer(closed.Handler())
	t.Cleanup(shut.Close)
	return mux.URL + " " + shut.URL
}

// Every page of a hub, and the page on which a bench asks for a code, is within the window at every size, in light and in dark, and
// axe-core finds nothing on it.
func TestTheHubsPagesFit(t *testing.T) {
	open, shut, _ := strings.Cut(hubsPages(t), " ")
	code, err := monitor.HashCode("three old spanners")
	if err != nil {
		t.Fatal(err)
	}
	one := serve(t, monitor.Config{Bench: newFakeBench(t), WorkCode: code, LookCode: code})
	axe := axeScript(t)
	for _, page := range []struct{ name, url string }{
		{"list", open + "/"}, {"search", open + "/search?q=dial"}, {"choose", open + "/compare"}, {"compare", open + "/compare?build=lathe-corner/17&build=window/17"},
		{"history", open + "/history?engine=Heron+650+no.+4&dimension=deck"}, {"login", shut + "/"}, {"ledger", open + "/b/lathe-corner/ledger"},
		{"bench-login", one + "/login"},
	} {
		t.Run(page.name, func(t *testing.T) {
			ctx := tab(t, 1920, 1080)
			complaints := listen(t, ctx)
			for _, scheme := range []string{"light", "dark"} {
				for _, size := range sizes {
					if testing.Short() && size.name != "shop" && size.name != "phone" {
						continue
					}
					do(t, ctx, theme(scheme), chromedp.EmulateViewport(size.wide, size.high), chromedp.Navigate(page.url))
					picture(t, ctx, "hub-"+page.name+"-"+size.name+"-"+scheme)
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

// TestThePageNamesItsBenchAtAHub: at a hub the pages of a bench say whose they are where one can see it, on a phone too.
func TestThePageNamesItsBenchAtAHub(t *testing.T) {
	hub, _, _ := strings.Cut(hubsPages(t), " ")
	ctx := tab(t, 390, 844)
	for _, size := range [][2]int64{{390, 844}, {1024, 768}, {1920, 1080}} {
		for _, page := range []string{"ledger", "ledger/9", "gauges", "builds", "wall", "steps"} {
			do(t, ctx, chromedp.EmulateViewport(size[0], size[1]), chromedp.Navigate(hub+"/b/lathe-corner/"+page))
			if got := eval[string](t, ctx, `((e) => e && e.getClientRects().length > 0 && e.getBoundingClientRect().top < 90 ? e.innerText : "")(document.querySelector(".bar .whose"))`); got != "bench-1" {
				t.Errorf("%s at %d by %d: the page says it is of %q", page, size[0], size[1], got)
			}
			if broken := eval[string](t, ctx, `[...document.querySelectorAll(".bar .whose, .bar nav a")].filter((e) => { const all = document.createRange(); all.selectNodeContents(e); return new Set([...all.getClientRects()].map((r) => Math.round(r.top))).size > 1; }).map((e) => e.innerText).join(", ")`); broken != "" {
				t.Errorf("%s at %d by %d: broken in the bar: %s", page, size[0], size[1], broken)
			}
			if over := eval[float64](t, ctx, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
				t.Errorf("%s at %d by %d is %v px wider than the window", page, size[0], size[1], over)
			}
		}
	}
}
