package pipeline

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"thoud/calc"
	"thoud/calc/quantity"
	"thoud/capture/bench"
	"thoud/capture/plan"
)

// errWaiting means that an input is not there yet: a point not read, a figure of a step that is not closed.
var errWaiting = errors.New("waiting")

func waiting(format string, args ...any) error { return &waitingFor{format, args} }

// waitingFor says what is waited for. Mostly nobody asks, so the words are made when somebody does.
type waitingFor struct {
	format string
	args   []any
}

func (w *waitingFor) Error() string {
	return errWaiting.Error() + " for " + fmt.Sprintf(w.format, w.args...)
}

// Unwrap marks it as waiting.
func (*waitingFor) Unwrap() error { return errWaiting }

// binder turns a plan's bindings into a method's inputs for one run of a step.
type binder struct {
	state   bench.State
	results bench.Results
	build   *bench.Build
	step    plan.Step
	pass    int
	run     plan.Run
	key     string // what {key} stands for: the run's own
	method  calc.Method
	answer  Run // nil: compute

	used   []string // ids of the readings
	setup  bool     // a set-up repeatability is known
	digits float64  // coarsest resolution among the readings, base unit
}

// request builds the whole request. The error wraps errWaiting while something is not there yet.
func (b *binder) request() (calc.Request, error) {
	c := b.run.Compute
	req := calc.Request{Method: c.Method, Inputs: map[string]calc.Val{}, Limits: map[string]calc.Limit{}, Words: c.Words, Told: c.Told, Guard: b.build.Plan.Guard}
	for _, name := range calc.Sorted(c.Inputs) { // always the same one is waited for first
		bind := c.Inputs[name]
		in, ok := inputOf(b.method.Inputs, name)
		if !ok {
			return req, fmt.Errorf("step %s: %s has no input %q", b.step.ID, c.Method, name)
		}
		v, err := b.value(bind, in)
		switch {
		case errors.Is(err, errWaiting) && bind.Optional && !b.stillToCome(bind):
			continue
		case err != nil:
			return req, err
		}
		req.Inputs[name] = v
	}
	for name := range c.Limits {
		if b.pass >= c.LimitFrom[name] {
			req.Limits[name] = b.build.Limit(b.step, b.run.Key, name)
		}
	}
	req.GaugeOnly = !b.setup
	req.Digits, req.Common = b.digits, b.build.Plan.Taken(b.step.ID, b.run.Key)
	if slices.ContainsFunc(b.method.Inputs, func(in calc.Input) bool { return in.Kind == calc.AnyKind }) {
		// A method that serves any kind must be told which, or its figures lose their unit.
		if req.Kind = c.Kind; req.Kind == "" {
			req.Kind = b.step.At(b.key).Capture.Kind
		}
	}
	return req, nil
}

// stillToCome reports whether an optional reference means a point that this very pass asks for: then its reading is
// waited for, rather than computing as if there were none.
func (b *binder) stillToCome(bind plan.Binding) bool {
	return slices.ContainsFunc(b.step.Wanted(b.pass), func(pt plan.Point) bool {
		return slices.ContainsFunc(bind.Refs, func(r plan.Ref) bool { return r.Reads(b.step.ID, pt.ID, b.key) })
	})
}

func inputOf(ins []calc.Input, name string) (calc.Input, bool) {
	for _, in := range ins {
		if in.Name == name {
			return in, true
		}
	}
	return calc.Input{}, false
}

// value gives one input.
func (b *binder) value(bind plan.Binding, in calc.Input) (calc.Val, error) {
	switch {
	case bind.Const != nil:
		return b.constant(*bind.Const, in.Name), nil
	case bind.Rec != nil:
		rec, err := b.record(bind.Rec, in.Fields)
		return calc.Val{Rec: rec}, err
	case bind.Recs != nil:
		var out calc.Val
		for _, r := range bind.Recs {
			rec, err := b.record(r, in.Fields)
			if err != nil {
				return calc.Val{}, err
			}
			out.Recs = append(out.Recs, rec)
		}
		return out, nil
	}
	var all calc.Val
	for _, r := range bind.Refs {
		v, err := b.ref(r.For(b.key))
		if err != nil {
			return calc.Val{}, err
		}
		if v.Num != nil && r.Kind == plan.RefReading && b.run.Compute.UsesTwice(r) {
			v.Num.Us = tied(v.Num.Us, fmt.Sprintf("%s/%d:%s", b.step.ID, b.pass, r.For(b.key).Text))
		}
		if !bind.Many {
			return shaped(v, in), nil
		}
		if v.Num != nil {
			all.List = append(all.List, *v.Num)
		}
		all.List = append(all.List, v.List...)
		all.Grid = append(all.Grid, v.Grid...)
	}
	if bind.Sum {
		return added(all.List), nil
	}
	return shaped(all, in), nil
}

// constant is a value that stands in the plan. What is stated of it is one error wherever the step says the same: the wheel's zero is
// that of both lobes.
func (b *binder) constant(v calc.Val, input string) calc.Val {
	if v.Num == nil || len(v.Num.Us) == 0 {
		return v
	}
	n := calc.Num{X: v.Num.X, Us: slices.Clone(v.Num.Us)}
	for i := range n.Us {
		n.Us[i].Shared = fmt.Sprintf("stated:%s.%s %g", b.step.ID, input, n.X)
	}
	v.Num = &n
	return v
}

// tied makes what a reading is uncertain by one error wherever the computation uses it: twice its effect, not √2 times.
func tied(us []calc.Component, reading string) []calc.Component {
	out := slices.Clone(us)
	for i := range out {
		if out[i].Shared == "" {
			out[i].Shared = "reading:" + reading + ":" + out[i].Name
		}
	}
	return out
}

// added is the sum of several values; what each is uncertain by, it is too.
func added(list []calc.Num) calc.Val {
	var n calc.Num
	for _, x := range list {
		n.X += x.X
		n.Us = append(n.Us, x.Us...)
	}
	return calc.Val{Num: &n}
}

// shaped makes a list of one of a scalar where a list is wanted, and a row of a list where a grid is.
func shaped(v calc.Val, in calc.Input) calc.Val {
	switch {
	case in.Shape == calc.List && v.Num != nil:
		return calc.Val{List: []calc.Num{*v.Num}}
	case in.Shape == calc.Grid && v.Grid == nil && v.List != nil:
		return calc.Val{Grid: [][]calc.Num{v.List}}
	case in.Shape == calc.Scalar && v.Num == nil && len(v.List) == 1:
		return calc.Val{Num: &v.List[0]}
	}
	return v
}

func (b *binder) record(fields map[string]plan.Binding, decl []calc.Input) (map[string]calc.Val, error) {
	out := map[string]calc.Val{}
	for _, name := range calc.Sorted(fields) {
		bind := fields[name]
		in, _ := inputOf(decl, name)
		v, err := b.value(bind, in)
		if errors.Is(err, errWaiting) && bind.Optional {
			continue
		}
		if err != nil {
			return nil, err
		}
		out[name] = v
	}
	return out, nil
}

// ref resolves one reference of this run.
func (b *binder) ref(r plan.Ref) (calc.Val, error) {
	if r.Kind == plan.RefEngine {
		return b.engine(r.Name)
	}
	if r.Kind == plan.RefFigure {
		return b.figure(r)
	}
	step, pass, err := b.whose(r)
	if err != nil {
		return calc.Val{}, err
	}
	switch r.Kind {
	case plan.RefReading, plan.RefPrior:
		point := r.Point
		if point == "" {
			point = b.key
		}
		n, err := b.reading(step, pass, point)
		return calc.Val{Num: &n}, err
	case plan.RefReadings:
		return b.readings(step, pass, r.Point)
	case plan.RefAngles, plan.RefDepths, plan.RefHeights:
		return b.positions(step, r)
	case plan.RefSampleAngle, plan.RefSampleValue:
		return b.samples(step, pass, r)
	}
	return calc.Val{}, fmt.Errorf("step %s: reference %s is not understood", b.step.ID, r.Text)
}

// whose gives the step and the pass a reference means: this one, the one before it, or another step's in force.
func (b *binder) whose(r plan.Ref) (plan.Step, int, error) {
	if r.Step == "" || r.Step == b.step.ID {
		if r.Kind != plan.RefPrior {
			return b.step, b.pass, nil
		}
		for n := b.pass - 1; n >= 1; n-- {
			if p := b.build.Step(b.step.ID).Pass(n); p != nil && p.Status == bench.PassIsClosed {
				return b.step, n, nil
			}
		}
		return b.step, 0, waiting("a pass before this one")
	}
	other, ok := b.build.Plan.Step(r.Step)
	if !ok {
		return other, 0, fmt.Errorf("step %s: there is no step %q", b.step.ID, r.Step)
	}
	p := b.passOfOther(other)
	if p == nil {
		return other, 0, waiting("%s", other.Title)
	}
	return other, p.Number, nil
}

func (b *binder) engine(name string) (calc.Val, error) {
	d, ok := b.build.Datum(name)
	if !ok {
		return calc.Val{}, fmt.Errorf("step %s: there is no engine data %q", b.step.ID, name)
	}
	shared := "engine:" + d.Name // one value, wherever it is taken
	if d.List != nil {
		shared = ""
	}
	num := func(v quantity.Value) calc.Num {
		n := calc.Num{X: v.Float()}
		if d.U.Valid() {
			n.Us = []calc.Component{{Name: "stated for " + d.Name, U: d.U.Float(), Shared: shared}}
		}
		return n
	}
	switch {
	case d.Word != "":
		return calc.Val{Text: d.Word}, nil
	case d.List != nil:
		var v calc.Val
		for _, x := range d.List {
			v.List = append(v.List, num(x))
		}
		return v, nil
	}
	n := num(d.Value)
	return calc.Val{Num: &n}, nil
}

func (b *binder) figure(r plan.Ref) (calc.Val, error) {
	step, ok := b.build.Plan.Step(r.Step)
	pass, own := 0, r.Step == b.step.ID // 0: of a step that reads nothing
	switch {
	case own:
		pass = b.pass
	case ok && len(step.Points) > 0:
		p := b.passOfOther(step)
		if p == nil {
			return calc.Val{}, waiting("the figure %s of %s", r.Name, step.Title)
		}
		pass, own = p.Number, p.Status != bench.PassIsClosed
	}
	res, ok := b.results.Get(bench.Slot{Build: b.build.Job, Step: r.Step, Pass: pass, Key: r.Run})
	if !ok || res.Provisional && !own {
		return calc.Val{}, waiting("the figure %s of %s", r.Name, step.Title)
	}
	if res.Refused != "" {
		return calc.Val{}, waiting("%s, which gave no answer (%s)", step.Title, res.Refused)
	}
	f, ok := res.Figure(r.Name)
	if !ok {
		return calc.Val{}, waiting("the figure %s, which these readings of %s do not give", r.Name, step.Title)
	}
	b.setup = b.setup || !res.GaugeOnly
	name := "figure " + r.Step + "." + r.Name
	if f.Value != nil {
		n := f.Carried(name, "figure:"+r.Step+"."+r.Run+"."+r.Name)
		return calc.Val{Num: &n}, nil
	}
	var v calc.Val
	for i, x := range f.List {
		n := calc.Num{X: x}
		if i < len(f.ULists) && f.ULists[i] > 0 && f.K > 0 {
			n.Us = []calc.Component{{Name: name, U: f.ULists[i] / f.K, Dof: f.Dof}}
		}
		v.List = append(v.List, n)
	}
	v.Texts = f.Text
	if len(f.Text) == 1 {
		v.Text = f.Text[0]
	}
	return b.itemOf(v, r, res)
}

func (b *binder) readings(step plan.Step, pass int, pattern string) (calc.Val, error) {
	var v calc.Val
	stars := strings.Count(pattern, "*")
	row := ""
	for _, pt := range step.Points {
		parts, ok := plan.Match(pattern, pt.ID)
		if !ok {
			continue
		}
		n, err := b.reading(step, pass, pt.ID)
		if err != nil {
			return v, err
		}
		if stars < 2 {
			v.List = append(v.List, n)
			continue
		}
		if len(v.Grid) == 0 || parts[0] != row {
			v.Grid = append(v.Grid, nil)
			row = parts[0]
		}
		v.Grid[len(v.Grid)-1] = append(v.Grid[len(v.Grid)-1], n)
	}
	return v, nil
}

// samples gives one side of a trace.
func (b *binder) samples(step plan.Step, pass int, r plan.Ref) (calc.Val, error) {
	pt, _ := step.Point(r.Point)
	taken := b.build.Step(step.ID).StandingAt(pass, pt, 1)
	if len(taken) == 0 || taken[0].Samples == nil {
		return calc.Val{}, waiting("the sweep at %s", r.Point)
	}
	b.used = append(b.used, taken[0].ID)
	s := taken[0].Samples
	var v calc.Val
	if r.Kind == plan.RefSampleAngle {
		us := b.angleUncertainty(step, taken[0])
		for _, a := range s.Angle {
			v.List = append(v.List, calc.Num{X: float64(a) / 1000, Us: us})
		}
		return v, nil
	}
	u, err := quantity.UnitOf(s.Unit)
	if err != nil {
		return v, fmt.Errorf("sweep at %s: %w", r.Point, err)
	}
	v.List = b.swept(step, taken[0], u)
	return v, nil
}

// reading gives a point's standing value with its uncertainty; several seatings give their mean.
func (b *binder) reading(step plan.Step, pass int, point string) (calc.Num, error) {
	pt, _ := step.Point(point)
	st := b.build.Step(step.ID)
	taken := st.StandingAt(pass, pt, step.Seatings)
	if len(taken) == 0 || len(taken) < step.Seatings {
		return calc.Num{}, waiting("%s", point)
	}
	n := calc.Num{Us: b.uncertainty(step, taken[len(taken)-1])}
	for _, t := range taken {
		n.X += t.Value.Float() / float64(len(taken))
		b.used = append(b.used, t.ID)
		b.digits = math.Max(b.digits, b.resolution(step, t))
	}
	if step.Seatings > 1 {
		s, dof := pooled(st, step, pass)
		n.Us = append(n.Us, calc.Component{Name: "set-up repeatability, repeated seatings", U: s / math.Sqrt(float64(len(taken))), Dof: dof})
		b.setup = true
	}
	return n, nil
}

// pooled is the standard deviation of repeated seatings over all points of a pass, with its degrees of freedom.
func pooled(st *bench.StepState, step plan.Step, pass int) (s, dof float64) {
	sum := 0.0
	for _, pt := range step.Points {
		taken := st.StandingAt(pass, pt, step.Seatings)
		if len(taken) < 2 {
			continue
		}
		mean := 0.0
		for _, t := range taken {
			mean += t.Value.Float() / float64(len(taken))
		}
		for _, t := range taken {
			sum += (t.Value.Float() - mean) * (t.Value.Float() - mean)
		}
		dof += float64(len(taken) - 1)
	}
	if dof == 0 {
		return 0, 0
	}
	return math.Sqrt(sum / dof), dof
}
