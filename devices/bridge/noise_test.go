package bridge_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// noise spoils a wave: spikes on clocks and data, edges that ring, and frames that break off.
type noise struct {
	chance *rand.Rand
	clock  float64 // spikes on a clock, a frame
	data   float64 // spikes on the data, a frame
	ring   float64 // the share of the clock's edges that ring
	broken float64 // the share of frames that break off
}

// spike turns a pad over for a moment.
func (n noise) spike(w *wave, from, to time.Duration, pin string, high bool) {
	at := from + time.Duration(n.chance.Int64N(int64(to-from)))
	w.set(at, pin, !high)
	w.set(at+200*time.Nanosecond+time.Duration(n.chance.Int64N(int64(4*time.Microsecond))), pin, high)
}

func (n noise) times(expected float64) int {
	k := int(expected)
	if n.chance.Float64() < expected-float64(k) {
		k++
	}
	return k
}

// frame plays one frame with noise on it and on the pause behind it.
func (n noise) frame(w *wave, from time.Duration, p pads, bits []bool, period, pause time.Duration) (end time.Duration) {
	if n.chance.Float64() < n.broken {
		bits = bits[:1+n.chance.IntN(len(bits)-1)]
	}
	begin := len(w.edges)
	end = w.frame(from, p, bits, period)
	for _, e := range w.edges[begin:] {
		if e.pin == p.clock && n.chance.Float64() < n.ring {
			w.set(e.at+300*time.Nanosecond, p.clock, !e.high)
			w.set(e.at+time.Duration(500+n.chance.Int64N(2500))*time.Nanosecond, p.clock, e.high)
		}
	}
	for range n.times(n.clock) {
		n.spike(w, from, end+pause, p.clock, n.chance.IntN(2) == 0)
	}
	for range n.times(n.data) {
		n.spike(w, from, end+pause, p.data, n.chance.IntN(2) == 0)
	}
	return end
}

// With noise the share of wrong values is counted. A frame of such a gauge has no check sum, so noise on the data pad
// alone cannot be seen in it; a value counts only when two frames agree, and both would have to be spoilt alike.
func TestNoiseIsRefusedNotRead(t *testing.T) {
	const perValue = 4 // frames for which a gauge shows a value
	values := 150
	if testing.Short() {
		values = 30
	}
	sum := counts{why: map[string]int{}}
	for i, n := range []noise{{clock: 0.5}, {data: 1}, {ring: 0.01}, {broken: 0.25}, {clock: 0.3, data: 0.3, ring: 0.003, broken: 0.1}} {
		n.chance = rand.New(rand.NewPCG(18, uint64(i)))
		w := &wave{}
		w.set(0, "C1", false)
		shown := map[string][]string{}
		l, r := 100*time.Millisecond, 100*time.Millisecond
		const period, pause = 100 * time.Microsecond, 30 * time.Millisecond
		for range values {
			v, u := n.chance.Int64N(16_000_000)-8_000_000, n.chance.Int64N(120_000_000)-60_000_000
			shown["left"] = append(shown["left"], fmt.Sprintf("%.3f mm", float64(v)/1000))
			shown["right"] = append(shown["right"], fmt.Sprintf("%.3f mm", float64(u)/1000))
			for range perValue {
				l = n.frame(w, l, left, leftFrame(v, false), period, pause) + pause
				r = n.frame(w, r, right, rightFrame(u), period, pause) + pause
			}
		}
		got := mustPlay(t, w)
		c := judge(t, got.Sent, shown)
		c.played = 2 * perValue * values
		t.Logf("clock %.1f, data %.1f a frame, ringing %.1f %%, broken %.0f %%: %s", n.clock, n.data, 100*n.ring, 100*n.broken, c)
		sum.played, sum.frames, sum.taken, sum.refused, sum.unproved, sum.wrong = sum.played+c.played, sum.frames+c.frames, sum.taken+c.taken, sum.refused+c.refused, sum.unproved+c.unproved, sum.wrong+c.wrong
		if c.taken == 0 || c.refused+c.unproved == 0 {
			t.Errorf("%+v: %s: nothing was taken, or nothing was spoilt", n, c)
		}
	}
	t.Logf("all: %s", sum)
	if sum.wrong*1000 > sum.taken {
		t.Errorf("%d of %d values are wrong, more than one in a thousand", sum.wrong, sum.taken+sum.wrong)
	}
}

// A pedal and two keys that bounce are each told once a press.
func TestKeysThatBounceAreToldOnce(t *testing.T) {
	w := &wave{}
	chance := rand.New(rand.NewPCG(18, 99))
	at := 100 * time.Millisecond
	var want []string
	for range 10 {
		for _, k := range []struct{ pin, name string }{{"B0", "pedal"}, {"B1", "zero"}, {"B2", "next"}} {
			w.key(at, k.pin, 80*time.Millisecond, chance)
			at += 200 * time.Millisecond
			want = append(want, ":key "+k.name)
		}
	}
	// A touch shorter than a finger's is none.
	w.set(at, "B0", false)
	w.set(at+5*time.Millisecond, "B0", true)
	var got []string
	for _, l := range strings.Split(string(mustPlay(t, w).Sent), "\n") {
		if body, _, ok := strings.Cut(l, " *"); ok && strings.HasPrefix(body, ":key") {
			got = append(got, body)
		}
	}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %q, want %q", got, want)
	}
}

// A gauge that is pulled off is told after three seconds, once, and is there again with its next frame; one that never
// spoke is not missed. The bridge says that it started, and that it is there.
func TestAGaugeThatGoesIsTold(t *testing.T) {
	w := &wave{}
	end := w.frame(100*time.Millisecond, left, leftFrame(1234, false), 100*time.Microsecond)
	end = w.frame(end+11*time.Second, left, leftFrame(1234, false), 100*time.Microsecond)
	w.set(end+2*time.Second, "D2", true)
	var got []string
	for _, l := range strings.Split(strings.TrimSpace(string(mustPlay(t, w).Sent)), "\n") {
		body, _, _ := strings.Cut(l, " *")
		got = append(got, body)
	}
	// 1234 = 0x0004D2: 1010 0 0000 0000 0000 0100 1101 0010 01.
	want := []string{":bridge start 1", ":left bits 31 A0002692", ":left gone", ":bridge here 1", ":left bits 31 A0002692"}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %q\nwant %q", got, want)
	}
}

// More bits than are kept are marked, and memory is not written beyond; what comes after is read as before.
func TestAFrameWithoutEndIsMarked(t *testing.T) {
	w := &wave{}
	long := make([]bool, 3000)
	for i := range long {
		long[i] = i%3 == 0
	}
	end := w.frame(100*time.Millisecond, left, long, 50*time.Microsecond)
	w.frame(end+100*time.Millisecond, left, leftFrame(1234, false), 50*time.Microsecond)
	lines := strings.Split(string(mustPlay(t, w).Sent), "\n")
	if len(lines) != 4 || !strings.HasPrefix(lines[1], ":left bits 128 9249") || !strings.Contains(lines[1], " fault *") || !strings.HasPrefix(lines[2], ":left bits 31 A0002692 *") {
		t.Errorf("got %q", lines)
	}
}

// What the firmware takes of the controller, and how long its interrupts hold up all else.
func TestTheFirmwareIsSmallAndQuick(t *testing.T) {
	f := mustBuild(t)
	w := &wave{}
	w.set(0, "C1", false)
	twoGauges(w, rand.New(rand.NewPCG(18, 7)), 16*time.Microsecond, 5)
	got := mustPlay(t, w)
	// The longest frames of both gauges at once: the line of the second waits for that of the first.
	slow := &wave{}
	slow.set(0, "C1", false)
	long := make([]bool, 128)
	slow.frame(100*time.Millisecond, left, long, 50*time.Microsecond)
	slow.frame(100*time.Millisecond, right, long, 50*time.Microsecond)
	answered := mustPlay(t, slow).Answered
	t.Logf("%d bytes of program, %d of variables; an interrupt takes %s at most; the longest line of two ends %s after the last edge", f.Flash, f.Memory, got.Interrupt, answered)
	// 20 ms of pause, one more until they are counted, two lines of 50 bytes at 115,200 baud.
	if answered == 0 || answered > 31*time.Millisecond {
		t.Errorf("the line ends %s after the last edge, want at most 31ms", answered)
	}
	if f.Flash > 2048 || f.Memory > 448 {
		t.Errorf("%d bytes of program and %d of variables: want at most 2048 and 448", f.Flash, f.Memory)
	}
	if got.Interrupt == 0 || got.Interrupt > 6*time.Microsecond {
		t.Errorf("an interrupt takes %s, want at most 6µs", got.Interrupt)
	}
}
