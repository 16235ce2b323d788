package bench

import (
	"fmt"
	"slices"
	"time"

	"thoud/capture/plan"
)

// Clock is a time that began when a step was done: compound cures, an engine cools, a tin's open time runs.
type Clock struct {
	plan.Cure
	Step  string
	Since Mark
	// Ran is how long it had run by Seen, the build's last entry since.
	Ran  time.Duration
	Seen Moment
}

// Moment is a point in time as a machine tells it: by its clock, and by how long it has been on.
type Moment struct {
	At   int64 // µs since 1970, by the clock
	Boot string
	Up   int64 // µs since that start of the machine; 0: not known
}

func momentOf(e Entry) Moment { return Moment{e.At, e.Boot, e.Up} }

// Moment is now.
func (sc Scene) Moment() Moment { return Moment{sc.Now, sc.Boot, sc.Up} }

// until is how much time has passed for certain. Within one start of the machine it is by how long it was on, whatever
// became of its clock meanwhile: one that was behind and is set right makes nothing older. Over a night with the machine
// off there is only the clock; one that went back counts as no time.
func (m Moment) until(later Moment) time.Duration {
	if m.Up > 0 && later.Up >= m.Up && m.Boot == later.Boot && m.Boot != "" {
		return time.Duration(later.Up-m.Up) * time.Microsecond
	}
	return time.Duration(max(0, later.At-m.At)) * time.Microsecond
}

// Left is how much of the time is still to run; 0 once it is over. In doubt it is longer.
func (c Clock) Left(now Moment) time.Duration {
	ran := c.Ran + c.Seen.until(now)
	if began := max(0, now.At-c.Since.At); c.Seen.Up == 0 || now.Up == 0 {
		ran = min(ran, time.Duration(began)*time.Microsecond) // a clock that was set back and forth since
	}
	return max(0, c.Time-ran)
}

// seeClocks notes how long the times of a build have run by an entry.
func seeClocks(b *Build, e Entry) {
	if len(b.Clocks) == 0 {
		return
	}
	b.Clocks = slices.Clone(b.Clocks)
	for i := range b.Clocks {
		c, at := &b.Clocks[i], momentOf(e)
		c.Ran += c.Seen.until(at)
		c.Seen = at
	}
}

// startClocks begins the times of a step that is done: every confirmation is made and, where it reads something, a pass
// is closed. Done once more, they begin again.
func startClocks(b *Build, step plan.Step, st *StepState, mark Mark, at Moment) {
	if len(step.Cures) == 0 || len(step.Points) > 0 && st.InForce() == nil {
		return
	}
	for _, c := range step.Confirms {
		if _, ok := st.Confirmed[c.ID]; !ok {
			return
		}
	}
	b.Clocks = slices.DeleteFunc(slices.Clone(b.Clocks), func(c Clock) bool { return c.Step == step.ID })
	for _, c := range step.Cures {
		b.Clocks = append(b.Clocks, Clock{Cure: c, Step: step.ID, Since: mark, Seen: at})
	}
}

// Running lists the times that still run now: those that hold a later step, and open times whose
// step is not done.
func (b *Build) Running(now Moment) []Clock {
	var out []Clock
	for _, c := range b.Clocks {
		if c.Left(now) > 0 {
			out = append(out, c)
		}
	}
	return out
}

// CureHindrance says which time must be over before a step may begin, "" where none runs. With a reason it may be passed
// over ("cure", by its name).
func CureHindrance(b *Build, step plan.Step, now Moment) string {
	c, held := HeldBy(b, step, now)
	if !held {
		return ""
	}
	return fmt.Sprintf("%s of %s is not over: %s to go", c.Words(), titleOf(b, c.Step), spanWords(c.Left(now)))
}

// HeldBy is the time that must be over before a step may begin; false where none runs.
func HeldBy(b *Build, step plan.Step, now Moment) (Clock, bool) {
	for _, c := range b.Running(now) {
		if slices.Contains(c.Holds, step.ID) && !b.overridden("cure", c.Name) {
			return c, true
		}
	}
	return Clock{}, false
}

// OpenTimes says which open time has run out before the step that ends it was done.
func OpenTimes(b *Build, results Results, now Moment) []string {
	var out []string
	for _, c := range b.Clocks {
		if c.Until == "" || c.Left(now) > 0 {
			continue
		}
		until, ok := b.Plan.Step(c.Until)
		if !ok {
			continue
		}
		if p := ProgressOf(b, until, results); !p.Settled() {
			out = append(out, fmt.Sprintf("%s of %s has run out; wipe it off and begin that again", c.Words(), titleOf(b, c.Step)))
		}
	}
	return out
}

// hindrance is Hindrance, and what still cures or cools at this moment.
func (sc Scene) hindrance(b *Build, step plan.Step) string {
	if why := Hindrance(b, step, sc.Results); why != "" {
		return why
	}
	return CureHindrance(b, step, sc.Moment())
}

// ClockWords lists the times that run, and open times that ran out.
func (b *Build) ClockWords(results Results, now Moment) []string {
	var out []string
	for _, c := range b.Running(now) {
		out = append(out, fmt.Sprintf("%s of %s: %s to go", c.Words(), titleOf(b, c.Step), spanWords(c.Left(now))))
	}
	return append(out, OpenTimes(b, results, now)...)
}

func titleOf(b *Build, step string) string {
	if s, ok := b.Plan.Step(step); ok {
		return s.Title
	}
	return step
}

// spanWords writes a time to the minute: "3 h 20 min", "40 min".
func spanWords(d time.Duration) string {
	minutes := int((d + time.Minute - 1) / time.Minute)
	if minutes < 60 {
		return fmt.Sprintf("%d min", minutes)
	}
	return fmt.Sprintf("%d h %d min", minutes/60, minutes%60)
}
