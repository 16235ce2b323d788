package monitor_test

import (
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"testing"

	"thoud/capture/bench"
	"thoud/pipeline/monitor"
)

var (
	listedJob  = regexp.MustCompile(`<th scope="row"[^>]*>(job-\d+)</th>`)
	olderBuild = regexp.MustCompile(`href="(/builds\?before=\d+)"`)
)

// The Builds page lists so many builds at once, the newest first, and every one is found by going on to the older; the one on
// the bench stands on the first page however old it is.
func TestBuildsPageByPage(t *testing.T) {
	const many = 120
	for _, with := range []struct {
		name    string
		archive func(*fakeBench) monitor.Archive
	}{{"with a ledger", func(f *fakeBench) monitor.Archive { return fakeArchive{f} }}, {"without", func(*fakeBench) monitor.Archive { return nil }}} {
		t.Run(with.name, func(t *testing.T) {
			f := newFakeBench(t)
			text := "title = \"One\"\nversion = 1\ncylinders = [\"single\"]\n[[step]]\nid = \"one\"\ntitle = \"One\"\nphase = \"dry\"\nkind = \"check\"\ndo = \"Look.\"\n[[step.confirms]]\nid = \"seen\"\ntext = \"It was seen\"\n"
			var want []string
			for i := range many {
				job := fmt.Sprintf("job-%03d", i)
				f.startBuild(job, "one", text, "one")
				want = append(want, job)
			}
			slices.Reverse(want)
			f.mustAdd(bench.Entry{Kind: bench.StepEntered, Place: bench.Place{Build: "job-003", Step: "one"}})
			url := serve(t, monitor.Config{Bench: f, Archive: with.archive(f)})
			var got []string
			for next, pages := "/builds", 0; next != ""; pages++ {
				status, body, _ := ask(t, http.DefaultClient, http.MethodGet, url+next, nil, "")
				if status != http.StatusOK || pages > many {
					t.Fatalf("%s: %d", next, status)
				}
				next = ""
				if m := olderBuild.FindStringSubmatch(body); m != nil {
					next = m[1]
				}
				var here []string
				for _, m := range listedJob.FindAllStringSubmatch(body, -1) {
					here = append(here, m[1])
				}
				if pages == 0 {
					if here[0] != "job-003" {
						t.Errorf("the first page begins with %s, want the one on the bench", here[0])
					}
					here = here[1:]
				}
				if len(here) == 0 || len(here) > 50 {
					t.Errorf("page %d lists %d builds", pages+1, len(here))
				}
				got = append(got, here...)
			}
			if !slices.Equal(got, want) {
				t.Errorf("listed %v, want %v", got, want)
			}
		})
	}
}
