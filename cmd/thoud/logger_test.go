package main

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// The log is as it was asked for: from its level on, a JSON object a line, or lines for people; another word is refused by
// name.
func TestTheLogIsAsAskedFor(t *testing.T) {
	log := func(args ...string) (string, error) {
		t.Helper()
		var out bytes.Buffer
		cmd := &cobra.Command{Use: "x"}
		addLogFlags(cmd)
		cmd.SetErr(&out)
		if err := cmd.ParseFlags(args); err != nil {
			t.Fatal(err)
		}
		l, err := newLogger(cmd)
		if err != nil {
			return "", err
		}
		l.Debug().Msg("fine")
		l.Info().Str("gauge", "dial-1").Msg("opened")
		l.Error().Msg("gone")
		return out.String(), nil
	}
	for _, c := range []struct {
		args []string
		want string // the messages that came
	}{
		{nil, "opened gone"}, {[]string{"--log-level", "debug"}, "fine opened gone"}, {[]string{"--log-level", "error"}, "gone"},
	} {
		out, err := log(c.args...)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for line := range strings.Lines(out) {
			var e struct{ Level, Message, Gauge, Time string }
			if err := json.Unmarshal([]byte(line), &e); err != nil || e.Time == "" || e.Message == "opened" && e.Gauge != "dial-1" {
				t.Errorf("%v: %q (%v)", c.args, line, err)
			}
			got = append(got, e.Message)
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%v: %v, want %s", c.args, got, c.want)
		}
	}
	if out, err := log("--log-format", "text"); err != nil || strings.Contains(out, "{") || strings.Contains(out, "\x1b") || !strings.Contains(out, "INF opened gauge=dial-1") {
		t.Errorf("text: %q, %v", out, err)
	}
	for _, args := range [][]string{{"--log-level", "loud"}, {"--log-level", "fatal"}, {"--log-format", "xml"}} {
		if _, err := log(args...); exitCode(err) != exitMalformed || !strings.Contains(err.Error(), args[1]) {
			t.Errorf("%v: %v", args, err)
		}
	}
	t.Setenv("JOURNAL_STREAM", "1:2")
	if underJournal() {
		t.Error("another file is taken for the journal")
	}
}
