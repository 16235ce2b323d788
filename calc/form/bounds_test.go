package form

import (
	"strings"
	"syscall"
	"testing"
	"time"

	"thoud/calc"
)

// bytesOfAnything are sixteen MiB of what nobody asked for; patience is how long they may keep the processor.
const (
	bytesOfAnything = 16 << 20
	patience        = time.Second
)

// worked is how long this process has had a processor, in all its threads (getrusage(2)): other than the wall's time it does
// not grow on a machine that is busy with something else.
func worked(t *testing.T) time.Duration {
	t.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		t.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func filled(before, again, after string) []byte {
	n := (bytesOfAnything - len(before) - len(after)) / len(again)
	return []byte(before + strings.Repeat(again, n) + after)
}

// However much is given, reading it ends soon: with a request, or with a fault that names what was wrong.
func TestReadingEndsSoon(t *testing.T) {
	m, _ := calc.Find("statistics")
	for name, text := range map[string][]byte{
		"numbers":           filled(`{"values": [`, "1,", "1]}"),
		"texts":             filled(`{"values": [`, `"1 mm",`, `"1 mm"]}`),
		"one long list":     filled(`{"values": {"unit": "mm", "value": [`, "1,", "1]}}"),
		"lists in lists":    filled("", "[", ""),
		"objects":           filled(`{"values": [`, `{"value":1},`, `{"value":1}]}`),
		"one long number":   filled(`{"values": [`, "9", "]}"),
		"one long text":     filled(`{"values": ["`, "9", ` mm"]}`),
		"one long name":     filled(`{"`, "v", `": 1}`),
		"many names":        filled("{", `"": 1, `, `"values": [1]}`),
		"blanks":            filled(`{"values": [1]`, " ", "}"),
		"no JSON":           filled("", "\x00", ""),
		"an exponent":       filled(`{"values": [1e`, "9", "]}"),
		"a name many times": filled(`{"values": [1], `, `"digits": "1 mm", `, `"level": 0.9}`),
	} {
		start := worked(t)
		req, err := Read(m, text)
		if took := worked(t) - start; took > patience {
			t.Errorf("%s: read for %v", name, took)
		}
		switch {
		case name == "blanks" && (err != nil || len(req.Inputs["values"].List) != 1):
			t.Errorf("blanks: %v", err)
		case name != "blanks" && err == nil:
			t.Errorf("%s: taken", name)
		case err != nil && len(err.Error()) > 4000:
			t.Errorf("%s: a fault of %d bytes", name, len(err.Error()))
		}
	}
}
