package bench

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/plan"
)

// Hand is how well a builder seats one kind of step with one gauge: the scatter of repeated seatings, of all builds together.
// It holds the display's counts and the gauge's own repeatability too, so that a little is reckoned twice where it is taken.
type Hand struct {
	Sort     string        // the kind of step: its method, else its id
	Gauge    string        // that read
	Kind     quantity.Kind // of what was read
	Unit     quantity.Unit // as it was read last
	Scatter  calc.Scatter  // standard deviation in base units, with its degrees of freedom
	Seatings int           // how many readings it is of
	Jobs     []string      // whose
}

// SortOf is the kind of a step where its seatings are held against others': steps of one method are set up alike.
func SortOf(step plan.Step) string {
	if step.Compute != nil {
		return step.Compute.Method
	}
	return step.ID
}

// Seating is one point of a closed pass that was seated several times: the scatter of its standing readings.
type Seating struct {
	Step    string        `json:"step"`
	Pass    int           `json:"pass"`
	Sort    string        `json:"sort"` // the kind of step, see SortOf
	Gauge   string        `json:"gauge"`
	Unit    quantity.Unit `json:"unit"`
	Scatter calc.Scatter  `json:"scatter"`
	Times   int           `json:"times"` // it was seated
}

// Seated is the seatings of one build.
type Seated struct {
	Job      string
	Seatings []Seating
}

// SeatingsOf lists the repeated seatings of a build's passes that are closed.
func SeatingsOf(b *Build) []Seating {
	var out []Seating
	for _, step := range b.Plan.Steps {
		for _, p := range b.Step(step.ID).Passes {
			if p.Status == PassIsClosed {
				out = append(out, seatingsOf(step, p)...)
			}
		}
	}
	return out
}

// seatingsOf gives the repeated seatings of a pass: the standing readings of each point that was seated several times, all
// with one gauge.
func seatingsOf(step plan.Step, p *Pass) []Seating {
	if step.Seatings < 2 || p == nil || p.Status == PassIsVoid {
		return nil
	}
	var out []Seating
	for _, pt := range step.Points {
		all := p.StandingAll(pt.ID, step.Seatings)
		if len(all) < 2 {
			continue
		}
		s := Seating{Step: step.ID, Pass: p.Number, Sort: SortOf(step), Gauge: all[0].Gauge, Unit: all[0].Value.Unit, Times: len(all)}
		values := make([]float64, len(all))
		for i, r := range all {
			if r.Gauge != s.Gauge || r.Value.Kind() != all[0].Value.Kind() {
				s.Times = 0
				break
			}
			values[i] = r.Value.Float()
		}
		if s.Times > 1 {
			s.Scatter, _ = calc.ScatterOf(values)
			out = append(out, s)
		}
	}
	return out
}

// HandsOf pools the repeated seatings of builds by kind of step and gauge. The parts differ from build to build and from pass
// to pass; what is pooled is the scatter within a point of a pass.
func HandsOf(builds []Seated) []Hand {
	return handsBut(builds, func(string, Seating) bool { return false })
}

// handsBut pools all seatings but some.
func handsBut(builds []Seated, but func(job string, s Seating) bool) []Hand {
	type key struct {
		sort, gauge string
		kind        quantity.Kind
	}
	samples := map[key][]calc.Scatter{}
	hands := map[key]*Hand{}
	for _, b := range builds {
		for _, s := range b.Seatings {
			if but(b.Job, s) {
				continue
			}
			k := key{s.Sort, s.Gauge, s.Unit.Kind}
			h := hands[k]
			if h == nil {
				h = &Hand{Sort: s.Sort, Gauge: s.Gauge, Kind: s.Unit.Kind}
				hands[k] = h
			}
			h.Unit = s.Unit
			h.Seatings += s.Times
			if !slices.Contains(h.Jobs, b.Job) {
				h.Jobs = append(h.Jobs, b.Job)
			}
			samples[k] = append(samples[k], s.Scatter)
		}
	}
	var out []Hand
	for k, h := range hands {
		h.Scatter, _ = calc.Pool(samples[k])
		out = append(out, *h)
	}
	slices.SortFunc(out, func(a, b Hand) int {
		return cmp.Or(cmp.Compare(a.Sort, b.Sort), cmp.Compare(a.Gauge, b.Gauge), cmp.Compare(a.Kind, b.Kind))
	})
	return out
}

// fewestDof is with how many degrees of freedom the own hands are offered: with fewer, the scatter may be half or twice what
// was found.
const fewestDof = 6

// HandOffer is a step whose stated set-up repeatability could be replaced by that of the builder's own hands.
type HandOffer struct {
	Step   plan.Step
	Hand   Hand
	Stated quantity.Value // what the plan states; not valid where it states nothing
	Taken  bool           // it is in force already
}

// HandOffers lists the steps of a build for which the own hands are known well enough: those that are seated once and read
// with that gauge. Of several gauges that would do, the one with the most seatings.
func HandOffers(b *Build, hands []Hand) []HandOffer {
	var out []HandOffer
	for _, step := range b.Plan.Steps {
		if step.Seatings > 1 || len(step.Points) == 0 || step.LeftOut != "" {
			continue
		}
		best := Hand{}
		for _, h := range hands {
			if h.Sort == SortOf(step) && h.Kind == step.Capture.Kind && h.Scatter.Dof >= fewestDof && h.Scatter.S > 0 && h.Scatter.Dof > best.Scatter.Dof {
				best = h
			}
		}
		if best.Sort != "" {
			set := b.SetupOf(step)
			out = append(out, HandOffer{Step: step, Hand: best, Stated: step.Setup, Taken: set.Own && math.Abs(set.Value.Float()/best.Scatter.S-1) < 0.011})
		}
	}
	return out
}

// Override is the change that takes the own hands in place of what was stated: it is kept as any other choice.
func (o HandOffer) Override() Override {
	v := roundedUp(o.Hand.Scatter.S, o.Hand.Unit)
	return Override{What: OverSetup, Name: o.Step.ID, Value: &v, Dof: o.Hand.Scatter.Dof}
}

// Words says what is offered.
func (o HandOffer) Words() string {
	v := roundedUp(o.Hand.Scatter.S, o.Hand.Unit)
	stated := "nothing is stated"
	if o.Stated.Valid() {
		stated = "stated is " + o.Stated.String()
	}
	return fmt.Sprintf("%s: your own hands seat it to %s (%.0f repeats, %s); %s", o.Step.Title, v, o.Hand.Scatter.Dof, o.Hand.Gauge, stated)
}

// roundedUp writes a scatter with three digits in a unit, never smaller than it is.
func roundedUp(s float64, unit quantity.Unit) quantity.Value {
	x := unit.FromBase(s)
	places := 0
	if x > 0 {
		places = min(12, max(0, 2-int(math.Floor(math.Log10(x)))))
	}
	for ; places >= 0; places-- {
		if v, err := quantity.Make(int64(math.Ceil(x*math.Pow10(places)-1e-9)), places, unit); err == nil {
			return v
		}
	}
	return quantity.Value{}
}

// Setup is how well a step is seated where it is seated once.
type Setup struct {
	Value quantity.Value // a standard uncertainty; not valid where nothing is known
	Dof   float64        // 0 where it is stated
	Own   bool           // found from the builder's own seatings, and taken
}

// SetupOf is the set-up repeatability of a step in this build: what was taken last, else what the plan states.
func (b *Build) SetupOf(step plan.Step) Setup {
	for i := len(b.Overrides) - 1; i >= 0; i-- {
		if o := b.Overrides[i]; o.What == OverSetup && o.Name == step.ID && o.Value != nil {
			return Setup{Value: *o.Value, Dof: o.Dof, Own: o.Dof > 0}
		}
	}
	return Setup{Value: step.Setup}
}

// scatterLevel is how sure it must be that today's scatter is no chance before it is told.
const scatterLevel = 0.99

// ScatterToday says of which steps of a build the last pass scatters more than the builder's own hands do by chance (F test at
// 99 %): something is loose, worn or dirty, or it was seated otherwise.
func ScatterToday(b *Build, builds []Seated) []string {
	var out []string
	for _, step := range b.Plan.Steps {
		p := b.Step(step.ID).Last()
		var today []calc.Scatter
		var last Seating
		for _, last = range seatingsOf(step, p) {
			today = append(today, last.Scatter)
		}
		now, ok := calc.Pool(today)
		if !ok {
			continue
		}
		own := func(job string, s Seating) bool { return job == b.Job && s.Step == step.ID && s.Pass == p.Number }
		for _, h := range handsBut(builds, own) {
			if h.Sort == last.Sort && h.Gauge == last.Gauge && h.Kind == last.Unit.Kind && h.Scatter.Dof >= fewestDof && h.Scatter.Beyond(now, scatterLevel) {
				out = append(out, fmt.Sprintf("%s: its seatings scatter by %s today, your own hands by %s: that is no chance; look for what is loose, worn or dirty, and seat it again",
					step.Title, roundedUp(now.S, last.Unit), roundedUp(h.Scatter.S, last.Unit)))
			}
		}
	}
	return out
}

// Shown writes the scatter, and between which it lies in truth with 95 % confidence.
func (h Hand) Shown() (scatter, least, most string) {
	low, high := h.Scatter.Between(0.95)
	return roundedUp(h.Scatter.S, h.Unit).String(), roundedUp(low, h.Unit).String(), roundedUp(high, h.Unit).String()
}
