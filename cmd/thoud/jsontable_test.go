package main

import (
	"encoding/json"
	"errors"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// jsonLines gives every command arguments to be tried with while a bench runs; a bench that refuses answers too. Empty are
// those that end when they are told to, or listen to a port, or make another service's files.
func jsonLines(tmp string) map[string]string {
	file := func(name string) string { return filepath.Join(tmp, name) }
	const later = ""
	return map[string]string{
		"run": later, "try": later, "demo": later, "watch": later, "hub": later, "hub invite": later, "hub list": later, "join": later, "leave": later,
		"identify": later, "teach": later, "code": later, "completion": later,
		"checkup": "-", "ports": "-", "status": "-", "due": "-", "hands": "-", "readings": "-", "calc": "-", "schema": "-", "guide": "-", "note": "-", "export": "-",
		"gauge add": "feelers --keyed --role feeler", "gauge list": "-", "gauge check": "plain 1|in=1.0001|in", "gauge study": "plain 1|in 1.0001|in 0.9999|in", "gauge use": "plain",
		"profile list": "-", "profile show": "text-weight-lf", "profile check": "../../devices/profiles/text-weight-lf.toml",
		"build start": "18 first-fit", "bench": "17", "build list": "-", "build show": "17", "build compare": "17 18", "build history": "runout/0", "engine list": "-",
		"engine set": "twin shop=here", "engine show": "twin", "engine copy": "twin other", "hours": "twin 12", "part list": "-", "part fit": "L7 --engine twin", "part out": "L7", "regular": "twin lash --every 10",
		"goto": "runout", "acknowledge": "-", "confirm": "all", "zero": "-", "take": "-", "key": "0.001|in", "retake": "-", "bracket": "0.001|in 0.002|in", "answer": "yes", "again": "-",
		"next": "-", "void": "--reason knocked", "sign": "ab", "reopen": "runout --reason again", "override": "needs runout --reason known", "tally in": "plug", "tally out": "plug",
		"dropped": "washer", "found": "-", "photo": "../../go.mod", "whatif": "runout/0=0.1|mm", "plan": later, "plan list": "-", "plan show": "first-fit",
		"plan check": "../../capture/plan/plans/first-fit.toml", "plan new": "mine --from first-fit", "plan adopt": "17 first-fit --reason try", "plan edit": "17 --leave-out runout --reason try",
		"plan schema": "-", "sheet": "17", "verify": "-", "rebuild": "-", "quarantine list": "-", "quarantine show": "1",
		"backup": file("copy.tar.gz"), "restore": file("none.tar.gz"), "build close": "18", "gauge remove": "feelers",
	}
}

// Every command answers in JSON when it is asked to, with a bench running: values on the output, or one error.
func TestEveryCommandAnswersInJSON(t *testing.T) {
	dir := t.TempDir()
	v := serve(t, dir)
	v.begin()
	v.read(2)
	lines := jsonLines(t.TempDir())
	tried := 0
	eachCommand(newRootCommand(), func(cmd *cobra.Command) {
		if cmd == cmd.Root() {
			return
		}
		path := strings.Join(strings.Fields(cmd.CommandPath())[1:], " ")
		line, ok := lines[path]
		if !ok {
			t.Errorf("%s: give it arguments in this test's table", path)
		}
		if !ok || line == "" {
			return
		}
		tried++
		args := append([]string{"--state", dir, "--json"}, strings.Fields(path)...)
		if line != "-" {
			for _, a := range strings.Fields(line) {
				args = append(args, strings.ReplaceAll(a, "|", " "))
			}
		}
		out, errs, code := thoud(t, args...)
		where := out
		if strings.TrimSpace(out) == "" {
			where = errs
		}
		if n, err := countJSON(where); err != nil || n == 0 {
			t.Errorf("%s: status %d, %d JSON values, %v: %.200q", path, code, n, err, where)
		}
		if code == exitMalformed {
			t.Errorf("%s was not tried: %.200s", path, errs)
		}
	})
	if tried < 60 {
		t.Errorf("only %d commands were tried", tried)
	}
}

// What is not there is an error wherever it is named, with a bench running: never an empty answer.
func TestWhatIsNotThereIsAnError(t *testing.T) {
	dir := t.TempDir()
	v := serve(t, dir)
	v.begin()
	v.read(2)
	for _, line := range []string{
		"bench none", "build show none", "build close none", "build compare none 17", "build history none/0", "sheet none", "readings --job none", "readings --step none",
		"readings --point none", "readings --gauge none", "goto none", "goto runout none", "retake none --reason x", "reopen none --reason x", "take --gauge none", "zero --gauge none",
		"key 0.1|mm --gauge none", "bracket 0.1|mm 0.2|mm --gauge none", "gauge use none", "gauge remove none", "gauge check none 1=1", "engine show none", "tally out none", "plan show none", "plan adopt none first-fit --reason x",
		"whatif none/0=1", "whatif limit.none.x=1 --job 17", "part out none", "part list none", "quarantine show 9",
	} {
		for _, asJSON := range []bool{false, true} {
			args := []string{"--state", dir}
			for _, a := range strings.Fields(line) {
				args = append(args, strings.ReplaceAll(a, "|", " "))
			}
			if asJSON {
				args = slices.Insert(args, 0, "--json")
			}
			out, errs, code := thoud(t, args...)
			if code == exitDone || !strings.Contains(out+errs, "none") && !strings.Contains(line, "quarantine") {
				t.Errorf("%v: status %d, %.200q %.200q", args[2:], code, out, errs)
			}
		}
	}
}

// Gauges are completed from the running service, roles from the program's own table.
func TestCompletionWithABench(t *testing.T) {
	dir := t.TempDir()
	v := serve(t, dir)
	v.begin()
	want := map[string]string{"take --gauge": "plain", "zero --gauge": "plain", "key --gauge": "plain", "bracket --gauge": "plain", "readings --gauge": "plain", "gauge remove": "plain",
		"gauge use": "plain", "gauge check": "plain", "gauge study": "plain", "gauge add x --role": "feeler", "plan edit 17 --role": "indicator", "bench": "17", "goto": "runout", "goto runout": "0"}
	for line, word := range want {
		out, errs, code := thoud(t, slices.Concat([]string{"__complete", "--state", dir}, strings.Fields(line), []string{""})...)
		words := strings.Split(out, "\n")
		if code != exitDone || !slices.ContainsFunc(words, func(w string) bool { return w == word || line == "goto runout" && strings.HasPrefix(w, word) }) {
			t.Errorf("%s: status %d, %q %q; want %q", line, code, out, errs, word)
		}
	}
}

// countJSON counts the values of a text that is JSON and nothing else.
func countJSON(text string) (n int, err error) {
	dec := json.NewDecoder(strings.NewReader(text))
	for {
		var v any
		switch err = dec.Decode(&v); {
		case errors.Is(err, io.EOF):
			return n, nil
		case err != nil:
			return n, err
		}
		n++
	}
}
