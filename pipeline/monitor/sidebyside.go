package monitor

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"thoud/capture/bench"
	"thoud/pipeline/monitor/view"
)

// BenchBuild is a build of some bench, as a hub lists it.
type BenchBuild struct {
	Bench string
	Title string // how the bench is called, where it has several histories: which; "" for its name
	bench.BuildRow
}

// Called is how the bench is called.
func (b BenchBuild) Called() string {
	if b.Title == "" {
		return b.Bench
	}
	return b.Title
}

// Ref is how the build is named among those of all benches: BENCH/JOB. No name of either has a slash in it.
func (b BenchBuild) Ref() string { return b.Bench + "/" + b.Job }

// AllBuilds are the builds of all benches, for the page that sets them side by side.
type AllBuilds interface {
	// List gives the builds of the benches that may be looked at, newest first, of whose engine, job or plan a text is a
	// part ("" for any).
	List(ctx context.Context, text string, may func(bench string) bool) ([]BenchBuild, error)
	// Findings gives the figures of one build that its plan wants shown; false where there is none.
	Findings(ctx context.Context, benchName, job string) (bench.BuildRow, []bench.Finding, bool, error)
}

// mostListed is how many builds the page offers at once; a text to look for narrows them.
const mostListed = 200

// sidePage is what the page of builds side by side shows.
type sidePage struct {
	Builds  []BenchBuild
	More    int // that are not listed
	Compare *view.CompareData
}

// sideBySide lists builds of all benches to choose from, and sets those chosen side by side.
func (b *Benches) sideBySide(w http.ResponseWriter, r *http.Request) {
	if b.sent(w, r, b.rows(r)) {
		return
	}
	q := r.URL.Query()
	p := benchesPage{Text: strings.TrimSpace(q.Get("q")), Side: &sidePage{}}
	chosen := q["build"]
	var err error
	switch {
	case len(chosen) == 1 || len(chosen) > mostCompared:
		p.Fault = fmt.Sprintf("%d chosen: choose two builds at least, %d at most", len(chosen), mostCompared)
	case len(chosen) > 1:
		if p.Side.Compare, p.Fault, err = b.compared(r, chosen); err != nil {
			b.fail(w, err)
			return
		}
	}
	if p.Side.Compare == nil {
		if p.Side.Builds, err = b.cfg.Builds.List(r.Context(), p.Text, func(name string) bool { return b.may(r, name) }); err != nil {
			b.fail(w, err)
			return
		}
		p.Side.More = max(0, len(p.Side.Builds)-mostListed)
		p.Side.Builds = p.Side.Builds[:len(p.Side.Builds)-p.Side.More]
	}
	b.show(w, r, "hub-compare", p)
}

// compared sets the chosen builds side by side. A build of a bench that may not be looked at is told like one that is not
// there.
func (b *Benches) compared(r *http.Request, chosen []string) (d *view.CompareData, fault string, err error) {
	var columns []view.Compared
	for i, ref := range chosen {
		if slices.Contains(chosen[:i], ref) {
			return nil, fmt.Sprintf("build %q is chosen twice: choose another beside it", ref), nil
		}
		name, job, _ := strings.Cut(ref, "/")
		var found bool
		var build bench.BuildRow
		var findings []bench.Finding
		if b.may(r, name) {
			if build, findings, found, err = b.cfg.Builds.Findings(r.Context(), name, job); err != nil {
				return nil, "", err
			}
		}
		if !found {
			return nil, fmt.Sprintf("there is no build %q: choose from the list", ref), nil
		}
		title := name + ", job " + job
		if build.Engine != "" {
			title += ", " + build.Engine
		}
		columns = append(columns, view.Compared{Name: title, Findings: findings})
	}
	data := view.SideBySide(columns)
	return &data, "", nil
}
