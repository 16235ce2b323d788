package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
	"thoud/cmd/thoud/service"
	"thoud/pipeline"
	"thoud/store"
)

// stateWithBuilds is a state folder with the ledger of one engine built twice: jobs 17 and 24, left contact 0.3900 and
// 0.3920 in.
func stateWithBuilds(t *testing.T) string {
	t.Helper()
	return stateOfBench(t, "bench-1", "0190")
}

// stateOfBench is the same of a bench of any name; ids begin with a text, for no two entries of a hub have one id.
func stateOfBench(t *testing.T, benchName, ids string) string {
	t.Helper()
	dir := t.TempDir()
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(dir, service.LedgerName))
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}()
	text, err := plan.ShippedText("first-fit")
	if err != nil {
		t.Fatal(err)
	}
	var chain bench.Chain
	state, results := bench.State{}, bench.Results{}
	add := func(e bench.Entry) {
		t.Helper()
		e.Bench, e.ID, e.ClockOK = benchName, fmt.Sprintf("%s-%04d", ids, chain.N+1), true
		e.At = 1_790_000_000_000_000 + int64(chain.N)*60_000_000
		e, body, err := chain.Number(e)
		if err != nil {
			t.Fatal(err)
		}
		if chain, err = chain.Next(e, body); err != nil {
			t.Fatal(err)
		}
		if state, err = bench.Apply(state, e); err != nil {
			t.Fatal(err)
		}
		news := pipeline.Compute(state, e, results)
		results = results.With(news...)
		if err := s.Record(ctx, benchName, e, body, chain.Seal, news, store.Checkpoint{Generation: "g", Seq: chain.N}); err != nil {
			t.Fatal(err)
		}
	}
	inch := func(text string) quantity.Value {
		v, err := quantity.ParseAs(quantity.Length, text+" in")
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	rules := bench.RulesNow("")
	add(bench.Entry{Kind: bench.RulesNamed, Rules: &rules})
	add(bench.Entry{Kind: bench.GaugeAdded, Gauge: &bench.Gauge{Name: "dial-1", Profile: "text", Known: bench.KnownPath, Role: "indicator", Sends: bench.SendsKey, Sense: 1, Resolution: inch("0.0005")}})
	for _, job := range []struct{ name, contact string }{{"17", "0.3900"}, {"24", "0.3920"}} {
		add(bench.Entry{Kind: bench.BuildStarted, Build: &bench.Started{Job: job.name, Engine: "shop twin no. 4", Plan: "first-fit", Text: string(text)}})
		place := bench.Place{Build: job.name, Step: "guide-clearance"}
		add(bench.Entry{Kind: bench.StepEntered, Place: place})
		zero := fmt.Sprintf("%s-%04d", ids, chain.N+1)
		add(bench.Entry{Kind: bench.ZeroSet, Place: place, Zero: &bench.Zero{Gauge: "dial-1", Raw: inch("0.0000"), Shows: inch("0")}})
		place.Pass = 1
		add(bench.Entry{Kind: bench.PassOpened, Place: place})
		for _, r := range [][2]string{{"left.start", "0.4100"}, {"right.start", "0.4100"}, {"left.contact", job.contact}, {"right.contact", "0.3900"}} {
			at := place
			at.Point, at.Seating = r[0], 1
			add(bench.Entry{Kind: bench.ReadingTaken, Place: at, By: "pedal", Reading: &bench.Reading{Gauge: "dial-1", Mode: "press",
				Frames: [][]byte{[]byte("+" + r[1] + " in\r\n")}, Text: "+" + r[1] + " in", Raw: inch(r[1]), Zero: zero, Value: inch(r[1])}})
		}
		add(bench.Entry{Kind: bench.PassClosed, Place: place, Drift: &bench.Drift{By: inch("0"), Allowed: inch("0.0005")}})
	}
	return dir
}

// command runs thoud on a state folder.
func command(dir string, args ...string) (stdout, stderr string, code int) {
	var out, errs bytes.Buffer
	code = mainCode(context.Background(), append([]string{"--state", dir}, args...), strings.NewReader(""), &out, &errs)
	return out.String(), errs.String(), code
}

func TestLookingIntoTheLedger(t *testing.T) {
	dir := stateWithBuilds(t)
	for _, tt := range []struct {
		args []string
		code int
		want []string // in what is printed
	}{
		{[]string{"readings", "--job", "17", "--point", "left.c*"}, 0, []string{`"+0.3900 in\r\n"`, "0 in at 0.0000 in", "dial-1", "job 17, guide-clearance, pass 1, left.contact"}},
		{[]string{"readings", "--job", "17", "--limit", "1", "--hex"}, 0, []string{hex.EncodeToString([]byte("+0.3900 in\r\n"))}},
		{[]string{"readings", "--job", "18"}, 1, []string{`no build "18"`}},
		{[]string{"readings", "--step", "no-such-step"}, 1, []string{`no step "no-such-step"`}},
		{[]string{"readings", "--job", "17", "--point", "no-such-point"}, 1, []string{`no point "no-such-point"`}},
		{[]string{"readings", "--point", "no-such.*"}, 0, []string{"no such readings"}},
		{[]string{"readings", "--gauge", "no-such-gauge"}, 1, []string{`no gauge "no-such-gauge"`}},
		{[]string{"readings", "--limit", "-1"}, 2, []string{"--limit -1"}},
		{[]string{"verify"}, 0, []string{"20 entries, 8 readings", "whole"}},
		{[]string{"build", "compare", "17", "24"}, 0, []string{"left.contact", "0.0020 in", "differs"}},
		{[]string{"build", "compare", "17", "99"}, 1, []string{`job "99"`, "there are 17, 24"}},
		{[]string{"build", "history", "left.contact"}, 0, []string{"17", "0.3900 in", "24", "0.3920 in", "0.0020 in", "changed", "no wear per hour: the hours of the engine were not told"}},
		{[]string{"build", "history", "left.contact", "--engine", "another"}, 1, []string{`"another"`, `"shop twin no. 4"`}},
		{[]string{"build", "history", "left.nowhere"}, 1, []string{"left.nowhere"}},
		{[]string{"sheet", "17", "--format", "html", "--readings"}, 0, []string{"<!doctype html>", "shop twin no. 4", "0.3900 in"}},
		{[]string{"sheet", "17", "--format", "html", "--units", "mm", "--readings"}, 0, []string{"9.906 mm"}},
		{[]string{"sheet", "17", "--format", "pdf"}, 0, []string{"%PDF-"}},
		{[]string{"sheet", "17", "--format", "doc"}, 2, []string{`"doc"`, "html, pdf, csv or json"}},
		{[]string{"sheet", "17", "--paper", "a5"}, 2, []string{`"a5"`}},
		{[]string{"sheet"}, 2, []string{"JOB is missing"}},
		{[]string{"sheet", "--schema"}, 0, []string{"https://json-schema.org/draft/2020-12/schema"}},
		{[]string{"sheet", "99"}, 1, []string{"no such build"}},
		{[]string{"export", "--format", "xml"}, 2, []string{`"xml"`}},
	} {
		out, errs, code := command(dir, tt.args...)
		for _, w := range tt.want {
			if code != tt.code || !strings.Contains(out+errs, w) {
				t.Errorf("thoud %s: status %d, want %d and %q:\n%.1500s%s", strings.Join(tt.args, " "), code, tt.code, w, out, errs)
			}
		}
	}
	if _, errs, code := command(t.TempDir(), "readings"); code != exitNoLedger || !strings.Contains(errs, "no ledger there") {
		t.Errorf("an empty state folder: status %d, %s", code, errs)
	}
}

// The lines of an export hold the chain by themselves: each seal is SHA-256 of the seal before and the entry's bytes.
func TestExportedLinesHoldTheChain(t *testing.T) {
	dir := stateWithBuilds(t)
	file := filepath.Join(t.TempDir(), "ledger.jsonl")
	if out, errs, code := command(dir, "export", "--format", "jsonl", "-o", file); code != 0 || out != "" {
		t.Fatalf("status %d, %s%s", code, out, errs)
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var before [sha256.Size]byte
	lines := strings.Split(strings.TrimSpace(string(b)), "\n")
	for i, line := range lines {
		var l struct {
			Seal  string          `json:"seal"`
			Entry json.RawMessage `json:"entry"`
		}
		if err := json.Unmarshal([]byte(line), &l); err != nil {
			t.Fatal(err)
		}
		before = sha256.Sum256(append(before[:], l.Entry...))
		if hex.EncodeToString(before[:]) != l.Seal {
			t.Fatalf("line %d: its seal is %s, its bytes give %x", i+1, l.Seal, before)
		}
	}
	if len(lines) != 20 {
		t.Errorf("%d lines, want 20", len(lines))
	}
}

func TestExportedTable(t *testing.T) {
	out, errs, code := command(stateWithBuilds(t), "export")
	if code != 0 {
		t.Fatal(errs)
	}
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := func(row []string, head string) string {
		i := slices.Index(rows[0], head)
		if i < 0 {
			t.Fatalf("no column %q in %q", head, rows[0])
		}
		return row[i]
	}
	i := slices.IndexFunc(rows, func(r []string) bool { return r[9-1] == "left.contact" })
	if i < 0 || len(rows) < 20 { // the heads, and every entry
		t.Fatalf("%d rows, left.contact in row %d", len(rows), i)
	}
	// 0.3900 in = 9.906 mm exactly (1 in = 25.4 mm).
	for head, want := range map[string]string{"value (in)": "0.3900", "value (mm)": "9.9060", "bytes (hex)": hex.EncodeToString([]byte("+0.3900 in\r\n")), "as sent": "'+0.3900 in", "job": "17", "gauge": "dial-1"} {
		if got := at(rows[i], head); got != want {
			t.Errorf("%s: %q, want %q", head, got, want)
		}
	}
}

func TestBackupAndVerifyOfADamagedLedger(t *testing.T) {
	dir := stateWithBuilds(t)
	file := filepath.Join(t.TempDir(), "copy.db")
	if out, errs, code := command(dir, "backup", file); code != 0 || !strings.Contains(out, "20 entries") {
		t.Fatalf("status %d, %s%s", code, out, errs)
	}
	if _, errs, code := command(dir, "backup", file); code != 1 || !strings.Contains(errs, "name another file") {
		t.Errorf("a second backup to one file: status %d, %s", code, errs)
	}
	// One digit of a reading, changed in the file itself.
	path := filepath.Join(dir, service.LedgerName)
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	old, forged := []byte(`"text":"+0.3920 in"`), []byte(`"text":"+0.3910 in"`)
	if bytes.Count(b, old) != 1 {
		t.Fatalf("the reading is %d times in the file", bytes.Count(b, old))
	}
	if err := os.WriteFile(path, bytes.Replace(b, old, forged, 1), 0o600); err != nil {
		t.Fatal(err)
	}
	out, errs, code := command(dir, "verify")
	if code != 1 || !strings.Contains(out, "WRONG  entry 18: its seal is") || strings.Count(out, "WRONG") != 1 || !strings.Contains(errs, "rows wrong: 1") {
		t.Errorf("status %d\n%s%s", code, out, errs)
	}
	// The backup in its place makes it whole.
	whole, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	if out, errs, code := command(dir, "verify"); code != 0 {
		t.Errorf("after the backup was put back: status %d\n%s%s", code, out, errs)
	}
}
