package service

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"thoud/calc/quantity"
	"thoud/devices"
	"thoud/devices/simulate"
	"thoud/pipeline/monitor"
)

// TestTeacherLearnsFromPresses teaches a gauge on a real pseudo-terminal as the page does, one request a press: its profile is
// kept, told to the bench, known at once, and does not come a second time under the same name.
func TestTeacherLearnsFromPresses(t *testing.T) {
	all, err := devices.Profiles(nil)
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(all, func(p devices.Profile) bool { return p.Name == "text-signed-counts-length" })
	g, err := simulate.Open(simulate.Options{Profile: all[i], Dir: t.TempDir(), Name: "unknown"})
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	var told []devices.Profile
	dir := t.TempDir()
	teach := teacher{dir, &profileList{of: map[string]devices.Profile{}, tell: func(p devices.Profile) { told = append(told, p) }}}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	at := monitor.TaughtLine{Port: g.Path(), Baud: 9600, Bits: 8, Stop: 1, Parity: "none"}
	plan, err := teach.Begin(ctx, at)
	if err != nil || plan.Streams || len(plan.Asks) != 5 || plan.Least != 3 {
		t.Fatalf("%+v, %v", plan, err)
	}
	lesson := monitor.Lesson{At: at, Name: "learnt"}
	for _, shown := range []string{"0.0000 mm", "12.3405 mm", "-12.3405 mm", "3.1450 mm"} {
		v, err := quantity.Parse(shown)
		if err != nil {
			t.Fatal(err)
		}
		if err := g.SetChannel("", v); err != nil {
			t.Fatal(err)
		}
		pressed := time.AfterFunc(100*time.Millisecond, func() {
			if err := g.Send(); err != nil {
				t.Errorf("press: %v", err)
			}
		})
		h, err := teach.Hear(ctx, at, false)
		pressed.Stop()
		if err != nil {
			t.Fatalf("%s: %v", shown, err)
		}
		lesson.Presses = append(lesson.Presses, monitor.TaughtPress{Shown: shown, Bytes: h.Bytes, Pauses: h.Pauses})
	}
	got, err := teach.Learn(ctx, lesson)
	if err != nil || got.Profile != "learnt" || len(told) != 1 || !teach.known.has("learnt") {
		t.Fatalf("%+v, %v, told %d", got, err, len(told))
	}
	if _, err := os.Stat(filepath.Join(dir, "learnt.toml")); err != nil {
		t.Error(err)
	}
	if _, err := teach.Learn(ctx, lesson); err == nil {
		t.Error("a second profile of the same name was taken")
	}
	lesson.Name, lesson.Presses[3].Shown = "wrong", "7.0000 mm"
	if _, err := teach.Learn(ctx, lesson); err == nil || len(told) != 1 {
		t.Errorf("a proof that does not fit: %v, told %d", err, len(told))
	}
}
