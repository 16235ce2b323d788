package main

import (
	"encoding/json"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"thoud/cmd/thoud/service"
	"thoud/store"
)

// eachCommand visits every command that does something.
func eachCommand(cmd *cobra.Command, visit func(*cobra.Command)) {
	_, group := cmd.Annotations[groupMark]
	if cmd.Runnable() && !group && !cmd.Hidden && cmd.Name() != "help" && !strings.HasPrefix(cmd.CommandPath(), "thoud completion") {
		visit(cmd)
	}
	for _, c := range cmd.Commands() {
		eachCommand(c, visit)
	}
}

// Arguments that are missing or too many are called by the name that the usage gives them.
func TestWrongArgumentsAreNamed(t *testing.T) {
	commands := 0
	eachCommand(newRootCommand(), func(cmd *cobra.Command) {
		path := strings.Fields(cmd.CommandPath())[1:]
		want := argumentNames(cmd.Use)
		variadic := len(want) > 0 && strings.Contains(want[len(want)-1], "...")
		if len(want) > 0 && !strings.HasPrefix(want[0], "[") {
			commands++
			_, errs, code := thoud(t, path...)
			if name := strings.Trim(want[0], "[]."); code != exitMalformed || !strings.Contains(errs, name+" is missing") || !strings.Contains(errs, "usage: thoud") {
				t.Errorf("%v without arguments: status %d, %q; want %q named", path, code, errs, name)
			}
		}
		if args, err := slices.Repeat([]string{"excess"}, len(want)+1), cmd.Args; err != nil && !variadic && cmd.Args(cmd, args) != nil {
			_, errs, code := thoud(t, append(slices.Clone(path), args...)...)
			if code != exitMalformed || !strings.Contains(errs, `"excess"`) {
				t.Errorf("%v with %d arguments: status %d, %q", path, len(args), code, errs)
			}
		}
		_, errs, code := thoud(t, append(slices.Clone(path), "--no-such-flag")...)
		if code != exitMalformed || !strings.Contains(errs, "no-such-flag") {
			t.Errorf("%v with an unknown flag: status %d, %q", path, code, errs)
		}
	})
	if commands < 15 {
		t.Errorf("only %d commands with arguments were tried", commands)
	}
}

// Every command says what it is for and shows at least one command line.
func TestEveryCommandHasAnExample(t *testing.T) {
	eachCommand(newRootCommand(), func(cmd *cobra.Command) {
		if cmd == cmd.Root() {
			return
		}
		if cmd.Short == "" || !strings.Contains(cmd.Example, "thoud "+strings.Join(strings.Fields(cmd.CommandPath())[1:], " ")) {
			t.Errorf("%s has no example of itself", cmd.CommandPath())
		}
	})
}

func TestExitStatuses(t *testing.T) {
	empty := t.TempDir()
	state := unpackLedger(t, "first-round")
	if s, err := store.Open(t.Context(), filepath.Join(state, service.LedgerName)); err != nil {
		t.Fatal(err)
	} else if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		want int
	}{
		{[]string{"--state", state, "build", "list"}, exitDone},
		{[]string{"--state", state, "build", "show", "no-such-job"}, exitNo},
		{[]string{"--state", state, "readings", "--job", "no-such-job"}, exitNo},
		{[]string{"--state", state, "sheet"}, exitMalformed},
		{[]string{"no-such-command"}, exitMalformed},
		{[]string{"build", "no-such-command"}, exitMalformed},
		{[]string{"--state", empty, "status"}, exitNoService},
		{[]string{"--state", empty, "take"}, exitNoService},
		{[]string{"--state", empty, "verify"}, exitNoLedger},
		{[]string{"--state", empty, "sheet", "17"}, exitNoLedger},
		{[]string{"calc", "deck-height", "/no/such/file"}, exitMalformed},
	} {
		for _, asJSON := range []bool{false, true} {
			args := c.args
			if asJSON {
				args = append(slices.Clone(args), "--json")
			}
			_, errs, code := thoud(t, args...)
			if code != c.want {
				t.Errorf("%v: status %d, want %d: %s", args, code, c.want, errs)
			}
			if code == 0 || !asJSON {
				continue
			}
			var e struct {
				Error  string `json:"error"`
				Status int    `json:"status"`
			}
			if err := json.Unmarshal([]byte(errs), &e); err != nil || e.Error == "" || e.Status != c.want {
				t.Errorf("%v: the error is %q (%v)", args, errs, err)
			}
		}
	}
}

// A negative number is an argument and the value of a flag; it is no flag.
func TestNegativeNumbers(t *testing.T) {
	for _, args := range [][]string{{"key", "-0.001 in"}, {"key", "-.5", "mm"}, {"key", "--gauge", "dial-1", "-0.001"}, {"override", "limit", "deck/deck", "--lower", "-0.5 mm", "--reason", "x"}} {
		_, errs, code := thoud(t, append([]string{"--state", t.TempDir()}, args...)...)
		if strings.Contains(errs, "flag") || strings.Contains(errs, "\x00") || code == exitMalformed {
			t.Errorf("%v: status %d, %q", args, code, errs)
		}
	}
}

// An exact quantity says in words what it is: its count of tenths of a nanometre can be misread.
func TestQuantitiesInJSONAreReadable(t *testing.T) {
	state := unpackLedger(t, "first-round")
	if s, err := store.Open(t.Context(), filepath.Join(state, service.LedgerName)); err != nil {
		t.Fatal(err)
	} else if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	out, errs, code := thoud(t, "--state", state, "readings", "--step", "deck", "--json")
	if code != 0 {
		t.Fatal(errs)
	}
	var any []map[string]any
	if err := json.Unmarshal([]byte(out), &any); err != nil || len(any) == 0 {
		t.Fatalf("%v: %.200s", err, out)
	}
	counts, texts := strings.Count(out, `"places"`), strings.Count(out, `"text": "`)
	if counts == 0 || texts < counts || !strings.Contains(out, `"text": "0.1423 in"`) && !strings.Contains(out, `"text": "+0.1423 in"`) {
		t.Errorf("%d quantities, %d texts:\n%.600s", counts, texts, out)
	}
}

// What needs no bench answers in JSON when it is asked to: one value, or one a line for export.
func TestCommandsAnswerInJSON(t *testing.T) {
	state := unpackLedger(t, "first-round")
	if s, err := store.Open(t.Context(), filepath.Join(state, service.LedgerName)); err != nil {
		t.Fatal(err)
	} else if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{
		"ports", "profile list", "profile show text-weight-lf", "profile check ../../devices/profiles/text-weight-lf.toml",
		"plan list", "plan show first-fit", "plan check ../../capture/plan/plans/first-fit.toml", "build list", "build show demo-1",
		"build compare demo-1 demo-1", "build history deck/left.front", "readings", "export", "sheet demo-1", "verify", "calc", "checkup",
		"backup " + filepath.Join(t.TempDir(), "copy.db"),
	} {
		out, errs, code := thoud(t, append([]string{"--state", state, "--json"}, strings.Fields(line)...)...)
		if code != exitDone && line != "checkup" {
			t.Errorf("%s: status %d: %s", line, code, errs)
			continue
		}
		dec := json.NewDecoder(strings.NewReader(out))
		values := 0
		for ; dec.More(); values++ {
			var v any
			if err := dec.Decode(&v); err != nil {
				t.Errorf("%s: %v: %.100s", line, err, out)
				break
			}
		}
		if values == 0 || values > 1 && line != "export" {
			t.Errorf("%s: %d JSON values", line, values)
		}
	}
}

// Words are completed from what there is.
func TestCompletion(t *testing.T) {
	state := unpackLedger(t, "first-round")
	if s, err := store.Open(t.Context(), filepath.Join(state, service.LedgerName)); err != nil {
		t.Fatal(err)
	} else if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		words []string
		want  string
	}{
		{[]string{"sheet", ""}, "demo-1"},
		{[]string{"goto", ""}, "end-float"},
		{[]string{"goto", "deck", ""}, "left.front"},
		{[]string{"gauge", "add", "x", "--role", ""}, "indicator"},
		{[]string{"gauge", "add", "x", "--profile", ""}, "text-weight-lf"},
		{[]string{"build", "start", "17", ""}, "pushrod-twin"},
		{[]string{"readings", "--job", ""}, "demo-1"},
	} {
		out, errs, code := thoud(t, append([]string{"__complete", "--state", state}, c.words...)...)
		if code != 0 || !slices.Contains(strings.Split(out, "\n"), c.want) {
			t.Errorf("%q: status %d, %q %q; want %q", c.words, code, out, errs, c.want)
		}
	}
}
