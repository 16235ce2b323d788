//go:build ignore

// Command table reads what go test -bench printed and writes what a ledger costs at each length into DEVELOPERS.md, between
// the marks, with the machine and the date. It computes nothing but names: each figure is one that a benchmark reported.
package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"
)

const (
	file  = "DEVELOPERS.md"
	begin = "<!-- lifetime: written by .ci/table -->\n"
	end   = "<!-- end of lifetime -->\n"
)

// rows are what the table says: words, the benchmark, and the unit it reports.
var rows = []struct{ words, bench, unit string }{
	{"first start, without a snapshot, ms", "first-start", "start-ms"},
	{"most resident in it, MiB", "first-start", "MiB-most"},
	{"start with a snapshot, ms", "start", "start-ms"},
	{"resident after it, MiB", "start", "MiB"},
	{"idle, % of a core", "idle", "%-of-a-core"},
	{"resident when idle, MiB", "idle", "MiB"},
	{"frame to commit, paced, p50, ms", "paced", "p50-ms"},
	{"p99, ms", "paced", "p99-ms"},
	{"× a synced publish and an unsynced commit", "paced", "x-least-p50"},
	{"× a synced publish and a synced commit", "paced", "x-floor-p50"},
	{"× the shortest ledger's, each by its own floor", "paced", "x-shortest-p50"},
	{"frame to commit, back to back, p50, ms", "back-to-back", "p50-ms"},
	{"× a synced publish and an unsynced commit", "back-to-back", "x-least-p50"},
	{"floor: synced publish, p50, ms", "paced", "publish-p50-ms"},
	{"floor: commit FULL, p50, ms", "paced", "commit-full-p50-ms"},
	{"floor: commit NORMAL, p50, ms", "paced", "commit-normal-p50-ms"},
	{"floor: write + fsync, p50, ms", "paced", "write-p50-ms"},
	{"page Bench, ms", "pages", "bench-ms"},
	{"page Ledger, ms", "pages", "ledger-ms"},
	{"page Ledger, gauge without a hit, ms", "pages", "gauge-none-ms"},
	{"page Ledger, text without a hit, ms", "pages", "text-none-ms"},
	{"page Ledger, two letters without a hit, ms", "pages", "short-none-ms"},
	{"page Builds, ms", "pages", "builds-ms"},
	{"page Due, ms", "pages", "due-ms"},
	{"page of an engine, ms", "pages", "engine-ms"},
	{"page Hands, ms", "pages", "hands-ms"},
	{"page Compare, ms", "pages", "compare-ms"},
	{"page of a dimension through the builds, ms", "pages", "history-ms"},
	{"a ledger of an earlier program is reckoned up after, s", "pages", "until-reckoned-s"},
	{"the longest look until then, ms", "pages", "until-then-most-ms"},
	{"sheet of one build as JSON, ms", "sheet", "ms"},
	{"as a page, ms", "sheet-page", "ms"},
	{"for paper, ms", "sheet-paper", "ms"},
	{"processor time of that, ms", "sheet-paper", "processor-ms"},
	{"verify, ms an entry", "verify", "ms/entry"},
	{"most resident in it, MiB", "verify", "MiB-most"},
}

func main() {
	if err := write(os.Stdin); err != nil {
		fmt.Fprintln(os.Stderr, "table:", err)
		os.Exit(1)
	}
}

var line = regexp.MustCompile(`^Benchmark(\S+?)-\d+\s+\d+\s+(.*)$`)

// read gathers figures by benchmark and unit.
func read(in io.Reader) (map[string]map[string]string, error) {
	out := map[string]map[string]string{}
	lines := bufio.NewScanner(in)
	for lines.Scan() {
		m := line.FindStringSubmatch(lines.Text())
		if m == nil {
			continue
		}
		f := strings.Fields(m[2])
		out[m[1]] = map[string]string{}
		for i := 0; i+1 < len(f); i += 2 {
			out[m[1]][f[i+1]] = f[i]
		}
	}
	return out, lines.Err()
}

func write(in io.Reader) error {
	all, err := read(in)
	if err != nil {
		return err
	}
	var sizes []int
	for name := range all {
		parts := strings.Split(name, "/")
		if n, err := strconv.Atoi(parts[min(1, len(parts)-1)]); err == nil && parts[0] == "Lifetime" && !slices.Contains(sizes, n) {
			sizes = append(sizes, n)
		}
	}
	if len(sizes) == 0 {
		return errors.New("no figure of BenchmarkLifetime was given: pipe the output of go test -bench into it")
	}
	slices.Sort(sizes)
	var b bytes.Buffer
	fmt.Fprintf(&b, "%s%s, %s, load at the end %s.\n\n| | ", begin, time.Now().UTC().Format(time.DateOnly), machine(), load())
	for _, n := range sizes {
		fmt.Fprintf(&b, "%d entries | ", n)
	}
	fmt.Fprintf(&b, "\n| --- |%s\n", strings.Repeat(" ---: |", len(sizes)))
	for _, r := range rows {
		cells, some := "", false
		for _, n := range sizes {
			v, ok := all[fmt.Sprintf("Lifetime/%d/%s", n, r.bench)][r.unit]
			if !ok {
				v = "–"
			}
			cells, some = cells+" "+v+" |", some || ok
		}
		if some {
			fmt.Fprintf(&b, "| %s |%s\n", r.words, cells)
		}
	}
	if slow, ok := all["SlowDisk"]; ok {
		fmt.Fprintf(&b, "\nFrame to commit on a disk whose sync takes 10 ms longer: p50 %s ms, p99 %s ms.\n", slow["p50-ms"], slow["p99-ms"])
	}
	for _, n := range sizes {
		if got, ok := all[fmt.Sprintf("VerifyRecorded/%d", n)]; ok {
			fmt.Fprintf(&b, "\nVerify of a ledger recorded by this program, %s entries, %s results bound and computed again: %s ms an entry, %s ms of processor.\n",
				got["entries"], got["bound"], got["ms/entry"], got["processor-ms/entry"])
		}
	}
	for _, name := range slices.Sorted(maps.Keys(all)) {
		if round, ok := strings.CutPrefix(name, "VerifyKept/"); ok {
			kept := all[name]
			fmt.Fprintf(&b, "\nVerify of the kept ledger %s, %s entries, %s bound and %s computed again: %s ms an entry, %s ms of processor.\n",
				round, kept["entries"], kept["bound"], kept["computed"], kept["ms/entry"], kept["processor-ms/entry"])
		}
	}
	b.WriteString(end)
	return put(b.Bytes())
}

// put writes the table between its marks.
func put(table []byte) error {
	text, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	from, to := bytes.Index(text, []byte(begin)), bytes.Index(text, []byte(end))
	if from < 0 || to < from {
		return fmt.Errorf("%s has no marks %q and %q", file, strings.TrimSpace(begin), strings.TrimSpace(end))
	}
	return os.WriteFile(file, slices.Concat(text[:from], table, text[to+len(end):]), 0o644)
}

// machine is the kind of processor, how many there are, and the memory; no maker's name.
func machine() string {
	memory := ""
	if info, err := os.ReadFile("/proc/meminfo"); err == nil {
		if m := regexp.MustCompile(`(?m)^MemTotal:\s*(\d+) kB$`).FindSubmatch(info); m != nil {
			kb, _ := strconv.ParseFloat(string(m[1]), 64) // digits
			memory = fmt.Sprintf(", %.0f GiB", kb/(1<<20))
		}
	}
	return fmt.Sprintf("%s, %d processors%s, %s", runtime.GOARCH, runtime.NumCPU(), memory, runtime.Version())
}

// load is how busy the machine was (proc(5)).
func load() string {
	b, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		return "not known"
	}
	return strings.Fields(string(b))[0]
}
