package view

import (
	"fmt"
	"strings"
	"time"

	"thoud/capture/bench"
)

// Doing says in one line what a bench does now, as its Bench page has it; until is when that changes by itself, because a time
// runs out (µs since 1970), 0 where none runs.
func Doing(sc bench.Scene) (words string, until int64) {
	v := Of(sc, nil)
	b, step := sc.State.Current()
	if b == nil {
		return "no build on the bench", 0
	}
	now := sc.Moment()
	over := func(c bench.Clock) int64 { return sc.Now + c.Left(now).Microseconds() }
	for _, c := range b.Running(now) {
		if until == 0 || over(c) < until {
			until = over(c)
		}
	}
	words = "job " + v.Job
	if v.Engine != "" {
		words += ", " + v.Engine
	}
	if v.Step != "" {
		words += fmt.Sprintf("; step %d of %d, %s", v.StepNo, v.Steps, v.Step)
	}
	said := v.doing()
	if v.Stage == StageBlocked && step != nil {
		if c, held := bench.HeldBy(b, *step, now); held {
			said = fmt.Sprintf("held until %s, %s of %s", moment(over(c), sc.Now), c.Words(), titleOfStep(b, c.Step))
		}
	}
	return words + ": " + said, until
}

// doing is what is done at a stage, in a few words or in those of the page.
func (v *View) doing() string {
	point := ""
	if v.Point != "" {
		point = ", " + v.Point
	}
	switch v.Stage {
	case StageRead, StageDatum:
		return "measuring" + point
	case StageGauge:
		if v.Gauge != nil {
			return fmt.Sprintf("waits for gauge %q, which is not there", v.Gauge.Name)
		}
	case StageZero:
		return "the gauge is to be zeroed" + point
	case StageMove:
		return "measured, and something is to be moved"
	case StageWait:
		return "measured; the result is on its way"
	case StageCaution:
		return "a caution is to be read first"
	case StageSign:
		return "waits to be looked over and signed"
	case StageEnd:
		return "finished: every step is done, and the build is not closed yet"
	case StageConfirm, StageAsk:
		return "asks: " + v.Now
	}
	now := strings.TrimSuffix(v.Now, ".")
	if now == "" {
		return "at work"
	}
	return strings.ToLower(now[:1]) + now[1:]
}

// titleOfStep is how a step of a build is called.
func titleOfStep(b *bench.Build, id string) string {
	if st, ok := b.Plan.Step(id); ok {
		return st.Title
	}
	return id
}

// moment is a time of day, with the day where it is another one than now's.
func moment(at, now int64) string {
	t := time.UnixMicro(at).Local()
	if t.Format(time.DateOnly) == time.UnixMicro(now).Local().Format(time.DateOnly) {
		return t.Format("15:04")
	}
	return t.Format("2006-01-02 15:04")
}
