package service_test

import (
	"html"
	"strings"
	"testing"
	"time"

	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/service"
	"thoud/pipeline/hub"
)

// The hub's list says what a bench does in the words of its own page, and what the bench says is wrong there; both end with
// what they tell of. Here a gauge's check was due three hours ago.
func TestWhatABenchDoesAndItsTroublesAtTheHub(t *testing.T) {
	dir, one := t.TempDir(), t.TempDir()
	h := MustHub(t, dir)
	h.invite("one", one)
	c, stop := MustRunAs(t, one, "one")
	do := func(v bench.Verb) {
		t.Helper()
		v.ID = service.NewID()
		if a, err := c.Do(t.Context(), v); err != nil || !a.OK {
			t.Fatalf("%s: %v, %+v", v.Name, err, a)
		}
	}
	v := newViewer(t, h)
	says := func(want ...string) {
		t.Helper()
		list := ""
		for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(100 * time.Millisecond) {
			_, body, _ := v.get("/")
			list = html.UnescapeString(body)
			missing := false
			for _, w := range want {
				missing = missing || !strings.Contains(list, w)
			}
			if !missing {
				return
			}
		}
		t.Fatalf("not on the list: %q\n%s", want, list)
	}
	do(bench.Verb{Name: bench.DoGaugeAdd, Register: &bench.Gauge{Name: "dial-9", Known: bench.KnownKeyed, Profile: "keyed", Role: "indicator"}})
	says("No build on the bench; last entry ")
	if r := h.report("one"); len(r.Troubles) > 0 {
		t.Errorf("nothing is wrong, and %+v", r.Troubles)
	}
	due := time.Now().Add(-3 * time.Hour)
	do(bench.Verb{Name: bench.DoGaugeCheck, Gauge: "dial-9", Check: &bench.Check{Gauge: "dial-9", U: 0.001, Due: due.UnixMicro()}})
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	do(bench.Verb{Name: bench.DoBuildStart, Build: &bench.Started{Job: "17", Plan: "first-fit", Text: string(text), Engine: "green twin"}})
	h.until("one", "tells of the gauge", func(r hub.Report) bool { return len(r.Troubles) == 1 })
	says("Job 17, green twin; step 1 of 2, Guide-block clearance: a caution is to be read first", `It says, for 3 h: gauge "dial-9": its check was due`)
	r := h.report("one")
	do(bench.Verb{Name: bench.DoGaugeRemove, Gauge: "dial-9"})
	h.until("one", "tells that it is over", func(r hub.Report) bool { return len(r.Troubles) == 0 })
	// Of a bench that is away it is told as what it said last.
	r.Linked = false
	if got := strings.Join(service.Wrong(r, time.UnixMicro(r.Troubles[0].Since).Add(3*time.Hour)), "\n"); !strings.Contains(got, `it said last, for 3 h: gauge "dial-9"`) {
		t.Error(got)
	}
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	doing, err := service.DoingIn(t.Context(), dir, []hub.Report{r})
	if err != nil || !strings.Contains(doing["one"], "job 17, green twin") {
		t.Errorf("%q, %v", doing, err)
	}
}
