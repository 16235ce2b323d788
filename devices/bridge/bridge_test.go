package bridge_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"thoud/devices"
	"thoud/devices/bridge"
)

var built struct {
	once     sync.Once
	firmware *bridge.Firmware
	err      error
}

// TestMain takes the built firmware away again.
func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "bridge")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	folder = dir
	code := m.Run()
	os.RemoveAll(dir)
	os.Exit(code)
}

var folder string

// mustBuild builds the firmware once. A machine without the tools skips, but not where all checks are made.
func mustBuild(t *testing.T) *bridge.Firmware {
	t.Helper()
	built.once.Do(func() { built.firmware, built.err = bridge.Build(context.Background(), folder) })
	if errors.Is(built.err, bridge.ErrNoTools) && os.Getenv("CI") == "" {
		t.Skip(built.err)
	}
	if built.err != nil {
		t.Fatal(built.err)
	}
	return built.firmware
}

func mustPlay(t *testing.T, w *wave) bridge.Played {
	t.Helper()
	got, err := mustBuild(t).Play(t.Context(), w.levels())
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// mustDecoder reads what the bridge sends with the profile of the two invented gauges.
func mustDecoder(t *testing.T) devices.Decoder {
	t.Helper()
	file := filepath.Join("..", "..", "testdata", "devices", "bridge", "two-gauges.toml")
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	p, err := devices.ParseProfile(file, text)
	if err != nil {
		t.Fatal(err)
	}
	d, err := p.NewDecoder()
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// counts is what became of frames.
type counts struct {
	played, frames           int // played on the pins; come over the line
	taken, refused, unproved int // values that two frames confirm; frames with a fault; values of one frame
	wrong                    int // confirmed values that the gauge did not show then
	why                      map[string]int
}

func (c counts) String() string {
	return fmt.Sprintf("%d frames played, %d came, %d taken, %d refused, %d of one frame only, %d wrong %v", c.played, c.frames, c.taken, c.refused, c.unproved, c.wrong, c.why)
}

// judge holds what came against what each gauge showed, in order. Values may be lost, and never come that were not shown,
// or after a later one.
func judge(t *testing.T, sent []byte, shown map[string][]string) counts {
	t.Helper()
	c := counts{why: map[string]int{}}
	next := map[string]int{}
	mustDecoder(t).Feed(sent, func(s devices.Sample, err error) {
		var fe *devices.FrameError
		switch {
		case errors.As(err, &fe) && fe.Noise:
			c.frames++
			c.refused++
			why, _, _ := strings.Cut(fe.Why, ":")
			c.why[shortened(why)]++
		case err != nil:
			t.Errorf("the line itself is bad: %v", err)
		case s.Key != "" || s.Gone:
		case s.Unconfirmed:
			c.frames++
			c.unproved++
		default:
			c.frames++
			list := shown[s.Channel]
			i := next[s.Channel]
			for i < len(list) && list[i] != s.Value.String() {
				i++
			}
			if i == len(list) {
				c.wrong++
				c.why["WRONG "+s.Channel+" "+s.Value.String()]++
				return
			}
			next[s.Channel] = i
			c.taken++
		}
	})
	return c
}

// shortened leaves the figures out of why a frame was refused, so that equal reasons count together.
func shortened(why string) string {
	return strings.Join(strings.FieldsFunc(why, func(r rune) bool { return r >= '0' && r <= '9' || r == ' ' }), " ")
}

// twoGauges plays both gauges at once, each value for two frames, the two at clocks of their own that run against one
// another. It gives what they showed.
func twoGauges(w *wave, chance *rand.Rand, period time.Duration, values int) map[string][]string {
	shown := map[string][]string{}
	from := w.end + 100*time.Millisecond
	l, r := from, from
	for range values {
		v, inch := chance.Int64N(16_000_000)-8_000_000, chance.IntN(2) == 0
		text := fmt.Sprintf("%.3f mm", float64(v)/1000)
		if inch {
			text = fmt.Sprintf("%.4f in", float64(v)/10000)
		}
		u := chance.Int64N(120_000_000) - 60_000_000
		shown["left"], shown["right"] = append(shown["left"], text), append(shown["right"], fmt.Sprintf("%.3f mm", float64(u)/1000))
		for range 2 {
			l = w.frame(l, left, leftFrame(v, inch), period) + 40*time.Millisecond + time.Duration(chance.Int64N(int64(period)))
			r = w.frame(r, right, rightFrame(u), period*19/20) + 40*time.Millisecond + time.Duration(chance.Int64N(int64(period)))
		}
	}
	return shown
}

// Two gauges at once, from a slow clock to one of 16 microseconds: every value is taken, none is wrong, and no frame is
// refused. Below that frames may be refused, and still none is wrong.
func TestTwoGaugesAtOnce(t *testing.T) {
	values := 40
	if testing.Short() {
		values = 10
	}
	for _, period := range []time.Duration{time.Millisecond, 300 * time.Microsecond, 100 * time.Microsecond, 50 * time.Microsecond, 25 * time.Microsecond, 16 * time.Microsecond, 12 * time.Microsecond, 8 * time.Microsecond} {
		w := &wave{}
		w.set(0, "C1", false) // the right clock counts where it falls
		shown := twoGauges(w, rand.New(rand.NewPCG(18, uint64(period))), period, values)
		got := mustPlay(t, w)
		c := judge(t, got.Sent, shown)
		c.played = 4 * values
		t.Logf("clock %s: %s", period, c)
		if c.wrong > 0 {
			t.Errorf("clock %s: %d wrong values", period, c.wrong)
		}
		if period >= 16*time.Microsecond && (c.taken != 2*values || c.refused > 0 || c.frames != c.played) {
			t.Errorf("clock %s: %s; want every value", period, c)
		}
	}
}
