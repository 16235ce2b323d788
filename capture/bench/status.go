package bench

import (
	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// Status is how the bench stands, for people and for commands.
type Status struct {
	Bench    string        `json:"bench"`
	N        uint64        `json:"n"`
	Place    Place         `json:"place"`
	Job      string        `json:"job,omitempty"`
	Plan     string        `json:"plan,omitempty"`
	Step     string        `json:"step,omitempty"`
	StepNo   int           `json:"step_no,omitempty"`
	Steps    int           `json:"steps,omitempty"`
	Title    string        `json:"title,omitempty"`
	Do       string        `json:"do,omitempty"` // what to do now, one sentence
	Hinders  string        `json:"hinders,omitempty"`
	Progress Progress      `json:"progress,omitempty"`
	Pass     int           `json:"pass,omitempty"`
	PassIs   PassStatus    `json:"pass_is,omitempty"`
	Points   []PointStatus `json:"points,omitempty"`
	Results  []Result      `json:"results,omitempty"`
	Verdict  calc.Verdict  `json:"verdict,omitempty"`
	Clocks   []string      `json:"clocks,omitempty"` // times that run, in words
	Before   []Result      `json:"before,omitempty"` // told before the first reading
	Asked    []Open        `json:"asked,omitempty"`
	Zero     string        `json:"zero,omitempty"`    // which zero is missing, and what to do
	Confirm  []string      `json:"confirm,omitempty"` // still to be confirmed here
	Hand     string        `json:"hand,omitempty"`    // what the hand does now where a wheel is read by eye
	Held     []string      `json:"held,omitempty"`    // cylinders that wait for something, in words
	Inside   []TallyItem   `json:"inside,omitempty"`
	Loose    []LooseThing  `json:"loose,omitempty"`
	Gauges   []GaugeStatus `json:"gauges"`
	Troubles []Notice      `json:"troubles,omitempty"`
	Now      Now           `json:"now,omitempty"`     // what the bench waits for
	Reading  *NextReading  `json:"reading,omitempty"` // the next one
	Offers   []Offer       `json:"offers,omitempty"`  // what would be accepted now, what is waited for first
	Hubs     []HubStatus   `json:"hubs,omitempty"`    // that the bench has joined
}

// HubStatus is how far a hub's copy of the bench's ledger is, as the hub's last question shows. Nothing waits for it.
type HubStatus struct {
	Hub    string `json:"hub"`
	Linked bool   `json:"linked"`        // it has asked within the last minute and a half
	N      uint64 `json:"n"`             // it has every entry up to this
	At     int64  `json:"at,omitempty"`  // when it asked last, µs since 1970, UTC; 0 not since the service began
	Why    string `json:"why,omitempty"` // in words, why its link does not stand, where that is known
}

// NextReading is where the next reading belongs and how it is taken, as SpotOf has it.
type NextReading struct {
	Place Place     `json:"place"`
	Opens bool      `json:"opens,omitempty"` // a new pass
	Mode  plan.Mode `json:"mode"`
	Role  string    `json:"role,omitempty"`
	Gauge string    `json:"gauge,omitempty"`
	Lacks Lack      `json:"lacks,omitempty"`
	Why   string    `json:"why,omitempty"`
}

// PointStatus is one point of the pass at hand.
type PointStatus struct {
	Point   string `json:"point"`
	Seating int    `json:"seating"`
	Value   string `json:"value,omitempty"`
	Current bool   `json:"current,omitempty"`
	Kept    bool   `json:"kept,omitempty"` // from an earlier pass
}

// GaugeStatus is one gauge of the register.
type GaugeStatus struct {
	Gauge
	Open  bool           `json:"open"`
	At    string         `json:"at,omitempty"`
	Zero  string         `json:"zero,omitempty"`
	Lost  string         `json:"zero_lost,omitempty"`
	Live  string         `json:"live,omitempty"`
	Raw   quantity.Value `json:"raw"` // the newest value as sent
	Fault string         `json:"fault,omitempty"`
	Noise int            `json:"noise,omitempty"` // frames that were spoilt on their way since its line was opened
}

// StatusOf gathers a status.
func StatusOf(sc Scene, live []Live, troubles []Notice) Status {
	s, results := sc.State, sc.Results
	out := Status{Bench: s.Bench, N: s.N, Place: s.Place, Gauges: []GaugeStatus{}, Troubles: troubles}
	for _, g := range s.Gauges {
		if !g.Removed {
			out.Gauges = append(out.Gauges, gaugeStatus(g, live))
		}
	}
	sp := SpotOf(sc)
	out.Now, _ = nowAt(sc, sp)
	out.Offers = Offers(sc)
	b, step := s.Current()
	if b == nil {
		return out
	}
	out.Job, out.Plan, out.Steps = b.Job, b.Started.Plan, len(b.Plan.Steps)
	out.Inside, out.Loose = b.Inside(), b.Loose
	if step == nil {
		return out
	}
	st := b.Step(step.ID)
	out.Step, out.Title, out.StepNo = step.ID, step.Title, b.Plan.Index(step.ID)+1
	out.Do = DoNow(*step, sp.Place)
	out.Hand = HandWords(sc, sp)
	out.Hinders = sc.hindrance(b, *step)
	out.Held, _ = heldSides(b, *step, results)
	out.Progress = ProgressOf(b, *step, results)
	out.Asked = b.AskedNow(*step)
	out.Clocks = b.ClockWords(results, sc.Moment())
	out.Before = results.Before(b, *step)
	out.Confirm = ToConfirm(b, *step)
	if sp.Lacks == LacksZero {
		out.Zero = sp.Why
	}
	if sp.Place.Point != "" {
		out.Reading = &NextReading{Place: sp.Place, Opens: sp.Opens, Mode: sp.Mode, Role: sp.Role, Lacks: sp.Lacks, Why: sp.Why}
		if sp.Gauge != nil {
			out.Reading.Gauge = sp.Gauge.Name
		}
	}
	if p := st.Last(); p != nil {
		out.Pass, out.PassIs = p.Number, p.Status
		out.Points = PointsOf(st, *step, p.Number, sp.Place)
		out.Results = results.OfPass(b, *step, p.Number)
		out.Verdict, _ = results.Verdict(b, *step, p.Number)
	} else if len(step.Points) > 0 {
		out.Points = PointsOf(st, *step, 1, sp.Place)
	} else {
		out.Results = results.OfPass(b, *step, 0)
		out.Verdict, _ = results.Verdict(b, *step, 0)
	}
	return out
}

func gaugeStatus(g GaugeState, live []Live) GaugeStatus {
	gs := GaugeStatus{Gauge: g.Gauge, Open: g.Open, At: g.Port, Lost: g.Lost}
	if g.Zero != nil {
		gs.Zero = g.Zero.Raw.String() + " reads " + g.Zero.Shows.String()
	}
	for _, v := range live {
		if v.Gauge != g.Name {
			continue
		}
		gs.Open, gs.Fault, gs.Raw, gs.Noise = v.Open, v.Fault, v.Raw, v.Noise
		switch {
		case v.Value != nil:
			gs.Live = v.Value.String()
		case v.Raw.Valid():
			gs.Live = v.Raw.String() + " (raw)"
		}
	}
	return gs
}

// PointsOf lists the points of a pass with their standing values; the one at hand is marked.
func PointsOf(st *StepState, step plan.Step, pass int, at Place) []PointStatus {
	var out []PointStatus
	for k := 1; k <= max(step.Seatings, 1); k++ {
		for _, pt := range step.Wanted(pass) {
			ps := PointStatus{Point: pt.ID, Seating: k}
			if p := st.Pass(pass); p != nil {
				if r, ok := p.Standing(pt.ID, k); ok {
					ps.Value = r.Value.String()
				}
			}
			if kept := st.StandingAt(pass, pt, step.Seatings); ps.Value == "" && pt.Once && len(kept) >= k {
				ps.Value, ps.Kept = kept[k-1].Value.String(), true
			}
			ps.Current = at.Step == step.ID && (at.Pass == pass || at.Pass == 0) && at.Point == pt.ID && max(at.Seating, 1) == k
			out = append(out, ps)
		}
	}
	return out
}

// DoNow is what to do now, in one sentence: the point's own, or the datum's, or the step's.
func DoNow(step plan.Step, at Place) string {
	if at.Step != step.ID {
		return step.Do
	}
	if at.Point == DatumPoint && step.Datum != nil {
		return step.Datum.Do
	}
	if pt, ok := step.Point(at.Point); ok && pt.Do != "" {
		return pt.Do
	}
	return step.Do
}

// ToConfirm lists what is still to be confirmed in a step: customary values ("engine.NAME") first, then its own.
func ToConfirm(b *Build, step plan.Step) []string {
	var open []string
	for _, d := range Unconfirmed(b, step) {
		open = append(open, "engine."+d.Name)
	}
	for _, c := range step.Confirms {
		if _, ok := b.Step(step.ID).Confirmed[c.ID]; !ok {
			open = append(open, c.ID)
		}
	}
	return open
}
