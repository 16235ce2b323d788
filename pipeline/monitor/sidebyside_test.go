package monitor_test

import (
	"context"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/rs/zerolog"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

// fakeBuilds are the builds of benches that all have job 17.
type fakeBuilds map[string]*fakeBench

func (f fakeBuilds) List(_ context.Context, text string, may func(string) bool) ([]monitor.BenchBuild, error) {
	var out []monitor.BenchBuild
	for name, b := range f {
		for _, row := range b.State().Index {
			if may(name) && strings.Contains(row.Engine, text) {
				out = append(out, monitor.BenchBuild{Bench: name, BuildRow: row})
			}
		}
	}
	return out, nil
}

func (f fakeBuilds) Findings(_ context.Context, name, job string) (bench.BuildRow, []bench.Finding, bool, error) {
	b, ok := f[name]
	if !ok {
		return bench.BuildRow{}, nil, false, nil
	}
	build, ok := b.State().Build(job)
	if !ok {
		return bench.BuildRow{}, nil, false, nil
	}
	row, _ := b.State().Known(job)
	return row, bench.FindingsOf(build, b.Results()), true, nil
}

// finished has job 17 at the guide blocks with a closed pass: contact at 0.3900 in, and where the block stands now.
func finished(t *testing.T, now string) *fakeBench {
	t.Helper()
	f := newFakeBench(t)
	f.firstFit()
	place := bench.Place{Build: "17", Step: "guide-clearance", Pass: 1}
	f.mustAdd(bench.Entry{Kind: bench.PassOpened, Place: place})
	for _, r := range [][2]string{{"left.start", "0.4100"}, {"left.contact", "0.3900"}, {"left.now", now}} {
		at := place
		at.Point, at.Seating = r[0], 1
		f.mustAdd(bench.Entry{Kind: bench.ReadingTaken, Place: at, Reading: &bench.Reading{Gauge: dialName, Mode: "press", Raw: inch(t, r[1]), Value: inch(t, r[1])}})
	}
	f.mustAdd(bench.Entry{Kind: bench.PassClosed, Place: place})
	return f
}

// Builds of several benches stand side by side, though both are job 17, and whoever has the code of one bench alone neither
// finds those of another nor gets at them by their names.
func TestBuildsOfSeveralBenchesSideBySide(t *testing.T) {
	all, err := monitor.HashCode("three old spanners")
	if err != nil {
		t.Fatal(err)
	}
	own, err := monitor.HashCode("a left-hand thread")
	if err != nil {
		t.Fatal(err)
	}
	b, err := monitor.NewBenches(monitor.BenchesConfig{Hub: "shop", Listen: "127.0.0.1:0", LookCode: all, Codes: map[string]string{"window": own}, Logger: zerolog.Nop(),
		List: func() []monitor.BenchRow { return []monitor.BenchRow{{Name: "lathe"}, {Name: "window"}} },
		Open: func(context.Context, string) (monitor.Config, func(), bool, error) {
			return monitor.Config{}, nil, false, nil
		},
		Builds: fakeBuilds{"lathe": finished(t, "0.3400"), "window": finished(t, "0.3410")}})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(b.Handler())
	t.Cleanup(func() { b.Close(); srv.Close() })
	look := func(benchName, code, path string) (body, ended string) {
		t.Helper()
		jar, err := cookiejar.New(nil)
		if err != nil {
			t.Fatal(err)
		}
		c := &http.Client{Jar: jar}
		if code != "" {
			r, err := c.PostForm(srv.URL+"/login", url.Values{"bench": {benchName}, "code": {code}})
			if err != nil {
				t.Fatal(err)
			}
			_ = r.Body.Close()
		}
		r, err := c.Get(srv.URL + path)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		text, err := io.ReadAll(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		return string(text), r.Request.URL.Path
	}
	const both = "/compare?build=lathe/17&build=window/17"
	for _, tt := range []struct {
		name, bench, code, path string
		want, wantNot           []string
	}{
		{"list", "", "three old spanners", "/compare", []string{`value="lathe/17"`, `value="window/17"`, "Heron 650 no. 4"}, nil},
		{"narrowed", "", "three old spanners", "/compare?q=Otter", []string{"There is no such build"}, []string{`value="lathe/17"`}},
		{"side by side", "", "three old spanners", both, []string{"lathe, job 17, Heron 650 no. 4", "window, job 17, Heron 650 no. 4", "0.0500 in", "0.0490 in", "<svg"}, nil},
		{"one alone", "", "three old spanners", "/compare?build=lathe/17", []string{"choose two builds at least, 8 at most", `value="lathe/17"`}, nil},
		{"twice", "", "three old spanners", "/compare?build=lathe/17&build=lathe/17", []string{"chosen twice"}, []string{"0.0500 in"}},
		{"none such", "", "three old spanners", "/compare?build=lathe/17&build=window/99", []string{"There is no build &#34;window/99&#34;"}, []string{"0.0500 in"}},
		{"list of one", "window", "a left-hand thread", "/compare", []string{`value="window/17"`}, []string{"lathe"}},
		{"another's by its name", "window", "a left-hand thread", both, []string{"There is no build &#34;lathe/17&#34;"}, []string{"0.0500 in", "0.0490 in"}},
	} { // the gap is the contact less where the block stands: 0.3900 − 0.3400 and 0.3900 − 0.3410 in
		t.Run(tt.name, func(t *testing.T) {
			body, _ := look(tt.bench, tt.code, tt.path)
			for _, w := range tt.want {
				if !strings.Contains(body, w) {
					t.Errorf("%q is not on the page:\n%s", w, body)
				}
			}
			for _, w := range tt.wantNot {
				if strings.Contains(body, w) {
					t.Errorf("%q is on the page", w)
				}
			}
		})
	}
	if _, ended := look("", "", both); ended != "/login" {
		t.Errorf("without a code: %s", ended)
	}
}
