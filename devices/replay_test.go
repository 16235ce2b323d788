package devices_test

import (
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"thoud/devices"
)

const captures = "../testdata/devices"

// capture is one recorded conversation.
type capture struct {
	name    string
	profile string
	steps   []captureStep
}

type captureStep struct {
	line       int
	verb, text string
	bytes      []byte // of got and asked
}

func mustCaptures(tb testing.TB, family string) []capture {
	tb.Helper()
	names, err := filepath.Glob(filepath.Join(captures, family, "*.capture"))
	if err != nil || len(names) == 0 {
		tb.Fatalf("no captures of family %s (%v)", family, err)
	}
	var list []capture
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			tb.Fatal(err)
		}
		c := capture{name: filepath.Base(name)}
		for i, line := range strings.Split(string(data), "\n") {
			if line == "" || line[0] == '#' {
				continue
			}
			verb, text, _ := strings.Cut(line, " ")
			s := captureStep{line: i + 1, verb: verb, text: text}
			switch verb {
			case "profile":
				c.profile = text
				continue
			case "got", "asked":
				if s.bytes, err = captureBytes(text); err != nil {
					tb.Fatalf("%s:%d: %v", name, i+1, err)
				}
			case "idle", "reset", "reads", "refuses":
			default:
				tb.Fatalf("%s:%d: %q", name, i+1, verb)
			}
			c.steps = append(c.steps, s)
		}
		list = append(list, c)
	}
	return list
}

func captureBytes(text string) ([]byte, error) {
	if h, ok := strings.CutPrefix(text, "x "); ok {
		return hex.DecodeString(strings.ReplaceAll(h, " ", ""))
	}
	s, err := strconv.Unquote(text)
	return []byte(s), err
}

// said prints a sample as a capture does.
func said(s devices.Sample) string {
	text := "reads " + s.Value.String()
	if s.Channel != "" {
		text += " channel=" + s.Channel
	}
	if s.Status != 0 {
		text += " status=" + s.Status.String()
	}
	if s.Key != "" {
		text += " key=" + s.Key
	}
	return text
}

// TestReplay runs every capture through its decoder; the capture must be used up, and nothing more may come.
func TestReplay(t *testing.T) {
	profiles := mustProfiles(t)
	used := map[string]bool{}
	for _, family := range []string{"text", "bits", "modbus", "bench"} {
		for _, c := range mustCaptures(t, family) {
			p, ok := profiles[c.profile]
			if !ok {
				t.Errorf("%s: no profile %q", c.name, c.profile)
				continue
			}
			used[c.profile] = true
			// Whatever the pieces in which the bytes come, the same must come out.
			for _, piece := range []int{1 << 10, 1, 3} {
				t.Run(fmt.Sprintf("%s/%s/%d", family, c.name, piece), func(t *testing.T) { replay(t, p, c, piece) })
			}
		}
	}
	for name := range profiles {
		if !used[name] {
			t.Errorf("profile %s has no capture", name)
		}
	}
}

func replay(t *testing.T, p devices.Profile, c capture, piece int) {
	d := mustDecoder(t, p)
	var came []string
	emit := func(s devices.Sample, err error) {
		if err != nil {
			came = append(came, "refuses "+err.Error())
			return
		}
		if s.Key == "" && !s.Value.Valid() && s.Status == 0 {
			t.Errorf("a sample that says nothing: %+v", s)
		}
		came = append(came, said(s))
	}
	for _, s := range c.steps {
		if s.verb != "reads" && s.verb != "refuses" && len(came) > 0 {
			t.Fatalf("line %d: came and is not in the capture: %q", s.line, came)
		}
		switch s.verb {
		case "got":
			for b := s.bytes; len(b) > 0; {
				n := min(piece, len(b))
				d.Feed(b[:n], emit)
				b = b[n:]
			}
		case "asked":
			if string(p.Poll.Request) != string(s.bytes) {
				t.Errorf("line %d: the profile asks %q, the capture %q", s.line, p.Poll.Request, s.bytes)
			}
			if p.Asked(s.bytes) != len(s.bytes) {
				t.Errorf("line %d: a gauge would not know the request", s.line)
			}
		case "idle":
			d.Idle(emit)
		case "reset":
			d.Reset()
		default:
			came = s.must(t, came)
		}
	}
	if len(came) > 0 {
		t.Errorf("left over: %q", came)
	}
}

// must takes off the first of what came and checks that it is what the capture says.
func (s captureStep) must(t *testing.T, came []string) (rest []string) {
	t.Helper()
	if len(came) == 0 {
		t.Fatalf("line %d: %s %s: nothing came", s.line, s.verb, s.text)
	}
	got, want := came[0], s.verb+" "+s.text
	if s.verb == "reads" && got != want || s.verb == "refuses" && (!strings.HasPrefix(got, "refuses ") || !strings.Contains(got, s.text)) {
		t.Fatalf("line %d: got\n%s\nwant\n%s", s.line, got, want)
	}
	return came[1:]
}
