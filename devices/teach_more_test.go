package devices_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"thoud/devices"
)

// stood is what came of a gauge that streams while its display stood at a value: frames with short pauses between, heard
// from the middle of one to the middle of another.
func stood(t *testing.T, shown string, frames ...string) devices.Press {
	t.Helper()
	p := devices.Press{Shown: mustParse(t, shown)}
	p.Bytes = append(p.Bytes, frames[0][len(frames[0])/2:]...)
	for _, f := range frames {
		p.Pauses = append(p.Pauses, len(p.Bytes))
		p.Bytes = append(p.Bytes, f...)
	}
	p.Pauses = append(p.Pauses, len(p.Bytes))
	p.Bytes = append(p.Bytes, frames[0][:len(frames[0])/2]...)
	return p
}

func press(t *testing.T, shown, bytes string) devices.Press {
	t.Helper()
	return devices.Press{Shown: mustParse(t, shown), Bytes: []byte(bytes)}
}

// A gauge that streams is silent for some milliseconds only between its frames. A profile that waits for a silence would
// never read a value from it.
func TestNoGapIsTaughtToAGaugeThatStreams(t *testing.T) {
	angle := func(shown string) string {
		return string(pressed(t, mustProfiles(t)["bits-angle-pushed"], shown, devices.Sample{}).Bytes)
	}
	var angles []devices.Press
	for _, shown := range []string{"0.00 deg", "123.40 deg", "-123.40 deg", "98765.43 deg"} {
		angles = append(angles, stood(t, shown, angle(shown), angle(shown)))
	}
	for _, c := range []struct {
		name    string
		presses []devices.Press
		want    string // in the profile
		stream  string
		reads   []string
	}{
		{"a terminator", []devices.Press{stood(t, "0.000 mm", "+0.000\r", "+0.000\r"), stood(t, "1.234 mm", "+1.234\r", "+1.234\r"), stood(t, "-1.234 mm", "-1.234\r", "-1.234\r")},
			`end = "\r"`, "+0.100\r-7.250\r", []string{"0.100 mm", "-7.250 mm"}},
		{"a sign where a line begins", []devices.Press{stood(t, "0.000 mm", "+00.000", "+00.000"), stood(t, "1.234 mm", "+01.234", "+01.234"), stood(t, "-1.234 mm", "-01.234", "-01.234")},
			"length = 7", "+00.100-07.250", []string{"0.100 mm", "-7.250 mm"}},
		{"bits that show where a frame begins", angles, "length = 8", angle("-1.50 deg") + angle("7.25 deg"), []string{"-1.50 deg", "7.25 deg"}},
	} {
		l, err := devices.Teach(pupil(devices.DefaultLine()), true, c.presses)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if text := string(l.Profile().TOML()); strings.Contains(text, "gap") || !strings.Contains(text, c.want) {
			t.Errorf("%s: want %s and no gap in\n%s", c.name, c.want, text)
		}
		if got := readings(t, l.Profile(), []byte(c.stream)); !slices.Equal(got, c.reads) {
			t.Errorf("%s: %q reads %q, want %q", c.name, c.stream, got, c.reads)
		}
	}
	nothing := []devices.Press{stood(t, "0.000 mm", "0.000", "0.000"), stood(t, "1.234 mm", "1.234", "1.234"), stood(t, "5.678 mm", "5.678", "5.678")}
	if _, err := devices.Teach(pupil(devices.DefaultLine()), true, nothing); !errors.Is(err, devices.ErrNoLayout) || !strings.Contains(err.Error(), "nothing shows where a line ends") {
		t.Errorf("lines without an end or a beginning: %v", err)
	}
}

// A second channel that stood still while the first was taught is a channel, and no text that never changes.
func TestSeveralChannelsAreTaught(t *testing.T) {
	for _, c := range []struct {
		name    string
		presses []devices.Press
		channel string
		line    string
		reads   []string
	}{
		{"one line brings both", []devices.Press{press(t, "0.000 mm", "+0.000,+0.000\r\n"), press(t, "1.234 mm", "+0.000,+1.234\r\n"), press(t, "-1.234 mm", "+0.000,-1.234\r\n")},
			"2", "-3.210,+0.042\r\n", []string{"1 -3.210 mm", "2 0.042 mm"}},
		{"apart by blanks", []devices.Press{press(t, "0.000 mm", "  0.000   0.500\r"), press(t, "1.234 mm", "  1.234   0.500\r"), press(t, "-1.234 mm", " -1.234   0.500\r")},
			"1", " -3.210   0.042\r", []string{"1 -3.210 mm", "2 0.042 mm"}},
		{"lines that name them", []devices.Press{press(t, "0.000 mm", "A:+0.000\rB:+0.500\r"), press(t, "1.234 mm", "A:+1.234\rB:+0.500\r"), press(t, "-1.234 mm", "A:-1.234\rB:+0.500\r")},
			"a", "B:-3.210\rA:+0.042\r", []string{"b -3.210 mm", "a 0.042 mm"}},
	} {
		l, err := devices.Teach(pupil(devices.DefaultLine()), false, c.presses)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if l.Channel() != c.channel || !strings.Contains(strings.Join(l.Ambiguous(), "\n"), "--channel") {
			t.Errorf("%s: the display was of %q, want %q; %q", c.name, l.Channel(), c.channel, l.Ambiguous())
		}
		if got := readings(t, l.Profile(), []byte(c.line)); !slices.Equal(got, c.reads) {
			t.Errorf("%s: %q reads %q, want %q\n%s", c.name, c.line, got, c.reads, l.Profile().TOML())
		}
	}
}

// Figures beside the value that come and go are let pass: held fixed they would make the profile read nothing soon.
func TestNothingThatChangesIsFrozen(t *testing.T) {
	for _, c := range []struct {
		name    string
		presses []devices.Press
		line    string
	}{
		{"a number of the line", []devices.Press{press(t, "0.000 mm", "017 +0.000\r"), press(t, "1.234 mm", "018 +1.234\r"), press(t, "-1.234 mm", "019 -1.234\r")}, "204 -3.210\r"},
		{"a clock", []devices.Press{press(t, "0.000 mm", "14:05 +0.000 mm\r"), press(t, "1.234 mm", "14:05 +1.234 mm\r"), press(t, "-1.234 mm", "14:05 -1.234 mm\r")}, "15:37 -3.210 mm\r"},
		{"behind the value", []devices.Press{press(t, "0.000 mm", "+0.000 #1\r"), press(t, "1.234 mm", "+1.234 #2\r"), press(t, "-1.234 mm", "-1.234 #9\r")}, "-3.210 #5\r"},
	} {
		l, err := devices.Teach(pupil(devices.DefaultLine()), false, c.presses)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if got := readings(t, l.Profile(), []byte(c.line)); !slices.Equal(got, []string{"-3.210 mm"}) {
			t.Errorf("%s: %q reads %q\n%s", c.name, c.line, got, l.Profile().TOML())
		}
		if notes := strings.Join(l.Ambiguous(), "\n"); !strings.Contains(notes, "come and go") {
			t.Errorf("%s: it is not said what is let pass: %s", c.name, notes)
		}
	}
	still := []devices.Press{press(t, "0.000 mm", "017 +0.000\r"), press(t, "1.234 mm", "017 +1.234\r"), press(t, "-1.234 mm", "017 -1.234\r")}
	l, err := devices.Teach(pupil(devices.DefaultLine()), false, still)
	if err != nil {
		t.Fatal(err)
	}
	if notes := strings.Join(l.Ambiguous(), "\n"); !strings.Contains(notes, `"017" stood beside the value in every press`) {
		t.Errorf("figures that stood still: %s", notes)
	}
}
