package main

import (
	"context"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"thoud/cmd/thoud/service"
	"thoud/pipeline/bus"
)

// Gauges are moved by typing, and the real service sees them where they were put.
func TestTryMovesGauges(t *testing.T) {
	dir := t.TempDir()
	in, typed := io.Pipe()
	var out strings.Builder
	ended := make(chan error, 1)
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	go func() { ended <- try(ctx, dir, "127.0.0.1:0", in, &out) }()
	say := func(line string) {
		t.Helper()
		if _, err := io.WriteString(typed, line+"\n"); err != nil {
			t.Fatal(err)
		}
	}
	shows := func(gauge, want string) {
		t.Helper()
		last := ""
		for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
			c, err := bus.Dial(filepath.Join(dir, service.SocketName), "try")
			if err != nil {
				continue
			}
			st, err := c.Status(ctx)
			c.Close()
			if err != nil {
				continue
			}
			for _, g := range st.Gauges {
				if last = g.Raw.String(); g.Name == gauge && last == want {
					return
				}
			}
		}
		t.Fatalf("%s never showed %s; last %s", gauge, want, last)
	}
	say("0.1500 in")
	shows("dial-1", "0.1500 in")
	say("-0.0250 in")
	shows("dial-1", "0.1250 in")
	say("use scale-1")
	say("141.20 g")
	shows("scale-1", "141.20 g")
	say("5 mm") // of a scale
	say("use no-such-gauge")
	say("nonsense")
	say("gauges")
	say("quit")
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"http://127.0.0.1:", "5 mm is no mass", `no gauge "no-such-gauge"`, "help says what can be typed", "scale-1", "141.20 g"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, out.String())
		}
	}
}
