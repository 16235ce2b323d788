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
}

// Left is how much of the time is still to run; 0 once it is over. A clock that was set back makes nothing older: what
// was done before now has run at least no time.
func (c Clock) Left(now int64) time.Duration {
	ran := time.Duration(max(0, now-c.Since.At)) * time.Microsecond
	return max(0, c.Time-ran)
}

// startClocks begins the times of a step that is done: every confirmation is made and, where it reads something, a pass
// is closed. Done once more, they begin again.
func startClocks(b *Build, step plan.Step, st *StepState, mark Mark) {
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
		b.Clocks = append(b.Clocks, Clock{Cure: c, Step: step.ID, Since: mark})
	}
}

// Running lists the times that still run at now, in µs since 1970: those that hold a later step, and open times whose
// step is not done.
func (b *Build) Running(now int64) []Clock {
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
func CureHindrance(b *Build, step plan.Step, now int64) string {
	for _, c := range b.Running(now) {
		if slices.Contains(c.Holds, step.ID) && !b.overridden("cure", c.Name) {
			return fmt.Sprintf("%s of %s is not over: %s to go", c.Name, titleOf(b, c.Step), spanWords(c.Left(now)))
		}
	}
	return ""
}

// OpenTimes says which open time has run out before the step that ends it was done.
func OpenTimes(b *Build, results Results, now int64) []string {
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
			out = append(out, fmt.Sprintf("%s of %s has run out; wipe it off and begin that again", c.Name, titleOf(b, c.Step)))
		}
	}
	return out
}

// hindrance is Hindrance, and what still cures or cools at this moment.
func (sc Scene) hindrance(b *Build, step plan.Step) string {
	if why := Hindrance(b, step, sc.Results); why != "" {
		return why
	}
	return CureHindrance(b, step, sc.Now)
}

// ClockWords lists the times that run, and open times that ran out.
func (b *Build) ClockWords(results Results, now int64) []string {
	var out []string
	for _, c := range b.Running(now) {
		out = append(out, fmt.Sprintf("%s of %s: %s to go", c.Name, titleOf(b, c.Step), spanWords(c.Left(now))))
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
