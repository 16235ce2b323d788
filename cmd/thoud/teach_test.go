package main

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"thoud/calc/quantity"
	"thoud/cmd/thoud/service"
	"thoud/devices"
	"thoud/devices/simulate"
)

// hands types what the display shows and then presses the data key, as a builder would.
type hands struct {
	t     *testing.T
	gauge *simulate.Gauge
	shown []string // "" skips the question
	off   bool     // it does not press: the gauge sends by itself
	// channel is the one that is set.
	channel string
	wg      sync.WaitGroup
}

// Read gives the next line; the press follows a moment later.
func (h *hands) Read(p []byte) (int, error) {
	if len(h.shown) == 0 {
		return 0, io.EOF
	}
	text := h.shown[0]
	h.shown = h.shown[1:]
	if text != "" {
		v, err := quantity.Parse(text)
		if err != nil {
			h.t.Errorf("test: %v", err)
		}
		if err := h.gauge.SetChannel(h.channel, v); err != nil {
			h.t.Errorf("set: %v", err)
		}
	}
	if text != "" && !h.off {
		h.wg.Add(1)
		go func() {
			defer h.wg.Done()
			time.Sleep(50 * time.Millisecond)
			if err := h.gauge.Send(); err != nil {
				h.t.Errorf("press: %v", err)
			}
		}()
	}
	return copy(p, text+"\n"), nil
}

// A gauge whose way of speaking is forgotten is taught from four presses, proved on a fifth, and its new profile reads
// values it never showed.
func TestTeachWritesAProfileThatReads(t *testing.T) {
	all, err := devices.Profiles(nil)
	if err != nil {
		t.Fatal(err)
	}
	var forgotten devices.Profile
	for _, p := range all {
		if p.Name == "text-signed-counts-length" {
			forgotten = p
		}
	}
	dir := t.TempDir()
	g, err := simulate.Open(simulate.Options{Profile: forgotten, Dir: dir, Name: "unknown"})
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	h := &hands{t: t, gauge: g, shown: []string{"0.0000 mm", "12.3405 mm", "-12.3405 mm", "", "3.1450 mm"}}
	var out bytes.Buffer
	args := []string{"--state", dir, "teach", filepath.Join(dir, "unknown"), "--name", "shop-counts"}
	if err := run(context.Background(), args, h, &out, io.Discard); err != nil {
		t.Fatalf("teach: %v\n%s", err, out.String())
	}
	h.wg.Wait()
	file := filepath.Join(dir, service.ProfilesFolder, "shop-counts.toml")
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	taught, err := devices.ParseProfile(file, text)
	if err != nil {
		t.Fatal(err)
	}
	dec, err := taught.NewDecoder()
	if err != nil {
		t.Fatal(err)
	}
	want, err := quantity.Parse("-7.0005 mm")
	if err != nil {
		t.Fatal(err)
	}
	frame, err := forgotten.Encode(devices.Sample{Value: want})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	hear := func(s devices.Sample, err error) {
		if err != nil {
			t.Error(err)
			return
		}
		got = append(got, s.Value.Round(want.Unit, 4))
	}
	dec.Idle(hear)
	dec.Feed(frame, hear)
	dec.Idle(hear)
	if len(got) != 1 || got[0] != "-7.0005" {
		t.Errorf("the taught profile reads %v, want -7.0005", got)
	}
	if err := run(context.Background(), args, &hands{t: t, gauge: g, shown: []string{"0.0000 mm"}}, io.Discard, io.Discard); err == nil {
		t.Error("taught from one press")
	} else if !strings.Contains(err.Error(), "presses") {
		t.Errorf("one press: %v", err)
	}
}

// A gauge that sends by itself is taught without a press, and not told to fall silent between its frames.
func TestTeachAGaugeThatStreams(t *testing.T) {
	all, err := devices.Profiles(nil)
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(all, func(p devices.Profile) bool { return p.Name == "text-signed-decimal-unit-crlf" })
	dir := t.TempDir()
	g, err := simulate.Open(simulate.Options{Profile: all[i], Dir: dir, Name: "unknown"})
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	g.Stream(30 * time.Millisecond)
	h := &hands{t: t, gauge: g, off: true, shown: []string{"0.000 mm", "12.340 mm", "-12.340 mm", "", "3.145 mm"}}
	var out bytes.Buffer
	if err := run(context.Background(), []string{"--state", dir, "teach", filepath.Join(dir, "unknown"), "--name", "shop-stream"}, h, &out, io.Discard); err != nil {
		t.Fatalf("teach: %v\n%s", err, out.String())
	}
	text, err := os.ReadFile(filepath.Join(dir, service.ProfilesFolder, "shop-stream.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(out.String(), "it sends by itself") || strings.Contains(string(text), "gap") || !strings.Contains(string(text), `end = "\r\n"`) {
		t.Errorf("%s\n%s", out.String(), text)
	}
}

// The second channel of a bridge is taught beside the first, from five values: the profile that is written knows both.
func TestTeachTheSecondChannelOfABridge(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "devices", "bridge", "two-gauges.toml"))
	if err != nil {
		t.Fatal(err)
	}
	both, err := devices.ParseProfile("two-gauges.toml", text)
	if err != nil {
		t.Fatal(err)
	}
	first := both
	first.Name = "bridge-left"
	first.Bench = &devices.Bench{Checked: true, Bits: map[string]devices.BitFrame{"left": both.Bench.Bits["left"]}}
	dir := t.TempDir()
	folder := filepath.Join(dir, service.ProfilesFolder)
	if err := errors.Join(os.MkdirAll(folder, 0o750), os.WriteFile(filepath.Join(folder, "bridge-left.toml"), first.TOML(), 0o600)); err != nil {
		t.Fatal(err)
	}
	g, err := simulate.Open(simulate.Options{Profile: both, Channels: []string{"left", "right"}, Dir: dir, Name: "unknown"})
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	g.Stream(30 * time.Millisecond)
	h := &hands{t: t, gauge: g, off: true, channel: "right", shown: []string{"0.000 mm", "12.345 mm", "-12.345 mm", "33.333 mm", "60000.001 mm", "", "-271.828 mm"}}
	var out bytes.Buffer
	if err := run(context.Background(), []string{"--state", dir, "teach", filepath.Join(dir, "unknown"), "--baud", "115200", "--name", "bridge-both", "--keep", "bridge-left"}, h, &out, io.Discard); err != nil {
		t.Fatalf("teach: %v\n%s", err, out.String())
	}
	written, err := os.ReadFile(filepath.Join(folder, "bridge-both.toml"))
	if err != nil {
		t.Fatal(err)
	}
	taught, err := devices.ParseProfile("bridge-both.toml", written)
	if err != nil {
		t.Fatal(err)
	}
	if len(taught.Bench.Bits) != 2 || taught.Bench.Bits["left"].Count != 31 || taught.Bench.Bits["right"].Count != 45 {
		t.Errorf("written is\n%s", written)
	}
	for _, want := range []string{"the display was that of right", "--unit mm --channel right"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("it is not said: %s\n%s", want, out.String())
		}
	}
	for keep, want := range map[string]string{"none": "there is no such profile", "bench-line": "it describes no channel of a bridge"} {
		err := run(context.Background(), []string{"--state", dir, "teach", filepath.Join(dir, "unknown"), "--name", "x", "--keep", keep}, strings.NewReader(""), io.Discard, io.Discard)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("--keep %s: %v", keep, err)
		}
	}
}
