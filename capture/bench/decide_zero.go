package bench

import (
	"fmt"
	"math"
	"strings"

	"thoud/capture/plan"
)

// oldZero is what setting a zero anew says of the readings taken on the old one. ends is set where it ends their pass.
type oldZero struct {
	Decision
	ends bool
}

// judgeOldZero looks at a zero that is set while a pass of a step that closes on its datum has readings: the datum is
// read against the zero in force by that, and the readings on it are vouched for or not; the rest is kept as a reading of
// the datum. Where every point is read it is the closing one. Where the zero they were taken on is lost, nothing vouches for them: they are withdrawn,
// and their points read again.
func judgeOldZero(sc Scene, v Verb, g GaugeState, now Sample) (oldZero, error) {
	b, step := sc.current()
	if step == nil || step.Datum == nil || !step.Datum.Close || b.Closed || len(step.Gauges) > 0 {
		// With several data in a step a zero is no rest on the one that closes the pass; that one is read at the end.
		return oldZero{}, nil
	}
	p := b.Step(step.ID).Last()
	if p == nil || p.Status == PassIsClosed {
		return oldZero{}, nil
	}
	onIt, onAnother := readingsOn(p, g)
	out := withdrawUnvouched(b, *step, p, v, g, onAnother)
	if len(onIt) == 0 {
		return out, nil
	}
	at := Place{Build: b.Job, Step: step.ID, Pass: p.Number, Point: DatumPoint, Seating: 1}
	r, err := restOn(*step, at, g, now)
	if err != nil {
		return oldZero{}, err
	}
	out.Entries = append(out.Entries, Entry{Kind: ReadingTaken, Place: at, By: v.By, Reading: r})
	rest := Taken{Reading: *r, Point: DatumPoint, Seating: 1}
	verdict := judgeDrift(sc.State, b, *step, rest, Place{Build: b.Job, Step: step.ID, Pass: p.Number})
	switch {
	case verdict.Kind == PassVoid:
		out.Entries, out.ends = append(out.Entries, verdict), true
		out.Words = join(out.Words, fmt.Sprintf("pass %d is void: %s", p.Number, verdict.Reason))
	case p.Status == PassIsFull && len(onAnother) == 0 && !askedInPass(b.Step(step.ID), p.Number):
		out.Entries, out.ends = append(out.Entries, verdict), true
		out.Words = join(out.Words, fmt.Sprintf("pass %d is closed: the datum read %s", p.Number, r.Value))
	}
	return out, nil
}

// restOn is the reading of the datum against the zero in force.
func restOn(step plan.Step, at Place, g GaugeState, now Sample) (*Reading, error) {
	r := &Reading{Gauge: g.Name, Channel: now.Channel, Mode: string(plan.Press), Text: now.Text, Status: now.Status,
		Raw: now.Value, Value: now.Value, Frames: [][]byte{now.Frame}, Rest: true}
	g.Zero = zeroOf(g, at)
	if err := againstZero(step, at, g, r); err != nil {
		return nil, err
	}
	return r, nil
}

// zeroOf is a gauge's zero as of a pass: one that must be set anew in every pass still counts for the readings it has.
func zeroOf(g GaugeState, at Place) *ZeroInForce {
	if g.Zero == nil {
		return nil
	}
	z := *g.Zero
	z.Place.Pass = at.Pass
	return &z
}

// readingsOn parts the standing readings of a gauge in a pass into those on its zero in force and those on another one.
func readingsOn(p *Pass, g GaugeState) (onIt, onAnother []Taken) {
	for _, r := range p.Readings {
		switch {
		case r.Withdrawn || r.Gauge != g.Name || r.Zero == "" || r.Point == DatumPoint:
		case g.Zero != nil && r.Zero == g.Zero.ID:
			onIt = append(onIt, r)
		case !vouched(p, r):
			onAnother = append(onAnother, r)
		}
	}
	return onIt, onAnother
}

// vouched reports whether the datum was read after a reading against the zero that it was taken on.
func vouched(p *Pass, r Taken) bool {
	for _, rest := range p.Readings {
		if rest.Point == DatumPoint && rest.Zero == r.Zero && rest.N > r.N && !rest.Withdrawn {
			return true
		}
	}
	return false
}

// withdrawUnvouched takes back readings that nothing vouches for any more.
func withdrawUnvouched(b *Build, step plan.Step, p *Pass, v Verb, g GaugeState, lost []Taken) oldZero {
	var out oldZero
	var points []string
	for _, r := range lost {
		out.Entries = append(out.Entries, Entry{Kind: Withdrawn, By: v.By, Refers: r.ID,
			Place:  Place{Build: b.Job, Step: step.ID, Pass: p.Number, Point: r.Point, Seating: r.Seating},
			Reason: fmt.Sprintf("the zero it was taken on was lost before the datum was read again (%s)", g.Name)})
		points = append(points, r.Point)
	}
	if len(points) > 0 {
		out.Words = fmt.Sprintf("the zero they were taken on was lost, so read again: %s", strings.Join(points, ", "))
	}
	return out
}

func askedInPass(st *StepState, pass int) bool {
	for _, q := range st.Questions {
		if q.Pass == pass {
			return true
		}
	}
	return false
}

// join puts two sentences after each other.
func join(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// differ reports whether two values differ by more than a standard uncertainty of each allows for (k = 2).
func differ(a, b, u float64) bool { return math.Abs(a-b) > 2*math.Sqrt2*u }
